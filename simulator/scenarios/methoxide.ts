import { batch } from '../batch.ts';
import { METHOXIDE_STIRRER, METHOXIDE_VESSEL } from '../gear.ts';
import { goesToBoiling, headroomUnder, since } from '../hazards.ts';
import type { Cue } from '../scenario.ts';
import { type SingleCourse, single } from '../single.ts';

/** Catalyst that makes methanol hot; stages that begin too early. */

const REACTS = { reactMinutes: 66, settleHours: 24.2 };

const MIXES: Omit<SingleCourse, 'description' | 'temperatureC' | 'truth'> = {
  role: 'methoxide',
  stage: 'methoxide',
  contents: { methanolKg: 17.5 },
  mixed: true,
  equipment: METHOXIDE_VESSEL,
  mixer: METHOXIDE_STIRRER,
  minutes: 20,
};

const flakes = (atMinutes: number, kg: number, minutes: number): Cue => ({
  atMinutes,
  do: 'add-catalyst',
  vessel: 'r1',
  kg,
  minutes,
});

export const METHOXIDE = {
  'methoxide-gets-hot': single({
    ...MIXES,
    description: 'twice the catalyst into methanol from a hot yard, over a quarter of an hour: 57 °C',
    temperatureC: 34,
    minutes: 32,
    events: ({ shifted }) => [flakes(shifted + 1, 1.25, 15)],
    truth: ({ shifted }) => ({
      expects: [headroomUnder('methoxide-hot', 10, { after: shifted })],
      allows: ['boiling-ahead', 'boiling-near'],
    }),
  }),
  'methoxide-all-at-once': single({
    ...MIXES,
    description: 'all of the catalyst falls into warm methanol in half a minute',
    temperatureC: 32,
    minutes: 15,
    events: ({ shifted }) => [flakes(shifted + 1, 1.35, 0.5)],
    truth: ({ shifted }) => ({
      expects: [headroomUnder('methoxide-hot', 10, { after: shifted })],
      // It would not boil, but for minutes it looks like it.
      allows: ['rising-fast', 'boiling-ahead', 'boiling-near', 'boiling-reached'],
    }),
  }),
  'methoxide-boils': single({
    ...MIXES,
    description: 'three times the catalyst at once: the methanol boils',
    temperatureC: 36,
    minutes: 12,
    events: ({ shifted }) => [flakes(shifted + 1, 1.9, 1)],
    truth: ({ shifted }) => ({
      expects: [
        // Near enough to boiling to count, and half a minute of it seen.
        { ...headroomUnder('rising-fast', 25, { after: shifted }), withinSeconds: 60 },
        headroomUnder('methoxide-hot', 10, { after: shifted }),
        ...goesToBoiling({ after: shifted }),
      ],
      allows: [],
    }),
  }),
  'methoxide-warm-into-oil': batch({
    ...REACTS,
    description: 'the methoxide is at 46 °C when it goes in: it does not hold the mix down',
    methoxide: { startC: 35 },
    endsAt: ({ react }) => react + 20,
    truth: ({ dose }) => ({ expects: [since('methoxide-warm-to-dose', dose, 1)], allows: [] }),
  }),
  'methoxide-short': batch({
    ...REACTS,
    description: 'the methoxide is mixed for 6 minutes only when it goes in',
    methoxide: { mixedMinutes: 6 },
    endsAt: ({ react }) => react + 20,
    truth: ({ dose }) => ({ expects: [since('methoxide-short', dose, 1)], allows: [] }),
  }),
  'cut-short': batch({
    description: 'settling begins after 35 minutes of reaction, and the fuel goes on after 6 hours',
    reactMinutes: 35,
    // The glycerol takes 20 minutes to drain, which still counts as settling.
    settleHours: 6 - 20 / 60,
    truth: ({ settle, filter }) => ({
      expects: [since('reaction-short', settle, 1), since('settling-short', filter, 1)],
      allows: [],
    }),
  }),
  'settling-short': batch({
    ...REACTS,
    description: 'the fuel goes on after 14 hours of settling',
    settleHours: 14,
    endsAt: ({ filter }) => filter + 10,
    truth: ({ filter }) => ({ expects: [since('settling-short', filter, 1)], allows: [] }),
  }),
};
