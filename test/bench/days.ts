import { isoTime } from '../../shared/wire/time.ts';
import { batch } from '../../simulator/batch.ts';
import { type RunItem, run } from '../../simulator/run.ts';
import type { Channel, Scenario } from '../../simulator/scenario.ts';
import { asWritten } from '../../simulator/variation.ts';

const CHANNELS: readonly Channel[] = [
  // Its device sends it more rarely: the last value stands in every second all the same.
  'room-vapour',
  'liquid-temperature',
  'liquid-temperature-2',
  'stirrer-speed',
  'stirrer-current',
  'heater',
];
const DAY_MS = 24 * 3_600_000;
/** Six channels, once a second. */
export const READINGS_A_DAY = (CHANNELS.length * DAY_MS) / 1000;

/** The batch of a day, from cold oil to filtered fuel, with readings every second throughout. */
function dayOfBatch(): Scenario {
  const scenario = batch({
    description: 'a batch that is done within a day',
    reactMinutes: 66,
    settleHours: 20,
    channels: CHANNELS,
    endsAt: () => (DAY_MS - 500) / 60_000,
  })(asWritten);
  return { ...scenario, cues: scenario.cues.filter((cue) => cue.do !== 'reading-every') };
}

/** Such batches in the same vessels, one a day, as the lines of a recorded run. */
export function* daysOfBatches(days: number): Generator<string> {
  const scenario = dayOfBatch();
  for (const { vessel, role } of scenario.vessels) {
    yield JSON.stringify({
      type: 'vessel',
      vessel,
      role,
      site: { pressureHPa: 1013.25 },
      plan: { requiredSettleHours: 20 },
    });
  }
  const startMs = Date.UTC(2026, 2, 2, 8);
  for (let day = 0; day < days; day++) {
    yield* linesOf(run(scenario, { seed: day, startMs: startMs + day * DAY_MS }));
  }
  yield JSON.stringify({ type: 'end', at: isoTime(startMs + days * DAY_MS) });
}

function* linesOf(items: Iterable<RunItem>): Generator<string> {
  let vapourPpm = 0;
  for (const item of items) {
    if (item.kind === 'stage') {
      const { vessel, stage } = item;
      yield JSON.stringify({ type: 'stage', at: isoTime(item.atMs), vessel, stage });
    }
    if (item.kind !== 'reading' || item.vessel !== 'r1') continue;
    const reading = (channel: Channel, value: number): string =>
      JSON.stringify({ type: 'reading', at: isoTime(item.atMs), vessel: 'r1', channel, value });
    if (item.channel === 'room-vapour') vapourPpm = item.value;
    else yield reading(item.channel, item.value);
    if (item.channel === CHANNELS.at(-1)) yield reading('room-vapour', vapourPpm);
  }
}
