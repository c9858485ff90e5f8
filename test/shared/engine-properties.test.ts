import fc from 'fast-check';
import { expect, test } from 'vitest';
import type { EngineInput, EngineOutput } from '../../shared/engine/events.ts';
import { emptySiteState, type SiteState } from '../../shared/engine/state.ts';
import { step } from '../../shared/engine/step.ts';
import { resolveWatchPlan } from '../../shared/plan/watch-plan.ts';
import type { AlarmFacts } from '../../shared/wire/api.ts';
import { isGraver } from '../../shared/wire/names.ts';
import { isThorough, share } from '../support/thorough.ts';
import { play, START_MS } from './run.ts';

/** A run as it may come: two vessels of one batch, wild and steady values, gaps, late and early readings. */
const VESSELS = ['r1', 's1'] as const;
const value = {
  'liquid-temperature': fc.oneof(
    { weight: 8, arbitrary: fc.integer({ min: 56 * 16, max: 65 * 16 }).map((sixteenths) => sixteenths / 16) },
    { weight: 2, arbitrary: fc.constantFrom(85, -127, 20, 250, 62, 64.5) },
  ),
  'liquid-temperature-2': fc.integer({ min: 50 * 4, max: 66 * 4 }).map((quarters) => quarters / 4),
  'stirrer-speed': fc.oneof(
    { weight: 3, arbitrary: fc.constant(300) },
    { weight: 3, arbitrary: fc.constantFrom(0, 10, 100, 250) },
  ),
  'stirrer-current': fc.oneof(
    { weight: 3, arbitrary: fc.constant(2) },
    { weight: 2, arbitrary: fc.constantFrom(0.8, 3.5) },
  ),
  pump: fc.constantFrom(0, 1),
  'pump-current': fc.constantFrom(0.5, 2),
  'room-vapour': fc.constantFrom(50, 150, 900, 3500, 7000),
  'condensate-temperature': fc.constantFrom(20, 38, 45),
  heater: fc.constantFrom(0, 1),
  'ambient-pressure': fc.constantFrom(1013, 980, 960, 100),
  'vessel-pressure': fc.constantFrom(1013, 950, 500, 5),
  constructor: fc.constant(1),
} as const;

type Event =
  | { kind: 'reading'; vessel: string; channel: string; value: number; behindS: number; typed: boolean }
  | {
      kind: 'stage';
      vessel: string;
      stage: Extract<EngineInput, { type: 'stage' }>['stage'];
      behindS: number;
    }
  | { kind: 'device'; vessel: string | null; device: string; presence: 'here' | 'gone' }
  | { kind: 'senders'; vessel: string; channel: string; senders: string[] }
  | { kind: 'start' };

const readingEvent: fc.Arbitrary<Event> = fc
  .constantFrom(
    ...(Object.keys(value) as (keyof typeof value)[]),
    'liquid-temperature' as const,
    'stirrer-speed' as const,
  )
  .chain((channel) =>
    fc.record({
      kind: fc.constant('reading' as const),
      vessel: fc.constantFrom('r1', 'r1', 'r1', 's1'),
      channel: fc.constant(channel as string),
      value: value[channel],
      behindS: fc.oneof(
        { weight: 8, arbitrary: fc.constant(0) },
        { weight: 1, arbitrary: fc.integer({ min: 1, max: 200 }) },
      ),
      typed: fc.integer({ min: 0, max: 19 }).map((n) => n === 0),
    }),
  );
const stageEvent: fc.Arbitrary<Event> = fc.record({
  kind: fc.constant('stage' as const),
  vessel: fc.constantFrom('r1', 'r1', 's1'),
  stage: fc.constantFrom(
    'warm',
    'methoxide',
    'prewash',
    'esterify',
    'dose',
    'dose',
    'react',
    'react',
    'react',
    'settle',
    'settle',
    'drain',
    'recover',
    'wash',
    'dry-fuel',
    'rejected',
    'idle',
  ),
  behindS: fc.constantFrom(0, 0, 0, 45),
});
const deviceEvent: fc.Arbitrary<Event> = fc.record({
  kind: fc.constant('device' as const),
  vessel: fc.constantFrom(null, null, 'r1'),
  device: fc.constantFrom('r1-probe', 'r1-probe', 's1', 'box'),
  presence: fc.constantFrom('gone', 'here'),
});
const sendersEvent: fc.Arbitrary<Event> = fc.record({
  kind: fc.constant('senders' as const),
  vessel: fc.constantFrom('r1', 's1'),
  channel: fc.constantFrom('liquid-temperature', 'stirrer-speed'),
  senders: fc.subarray(['kettle', 'plate', 'still']),
});
const startEvent: fc.Arbitrary<Event> = fc.constant({ kind: 'start' });

/** Some seconds of one state after another, most channels once a second: what lasts has to last to be met. */
const stretch: fc.Arbitrary<Event[]> = fc
  .array(
    fc.record({
      speed: fc.constantFrom(0, 100, 300, 300),
      amperes: fc.constantFrom(0.8, 2, 2, 3.5),
      seconds: fc.integer({ min: 5, max: 40 }),
      ppm: value['room-vapour'],
      secondC: fc.constantFrom(null, 57.5, 62),
    }),
    { minLength: 1, maxLength: 4 },
  )
  .map((states) => states.flatMap(({ seconds, ...one }) => Array.from({ length: seconds }, () => one)))
  .map((seconds) =>
    seconds.flatMap(({ speed, amperes, ppm, secondC }, i): Event[] => {
      const reading = { kind: 'reading' as const, vessel: 'r1', behindS: 0, typed: false };
      return [
        { ...reading, channel: 'stirrer-speed', value: speed },
        { ...reading, channel: 'stirrer-current', value: amperes },
        { ...reading, channel: 'liquid-temperature', value: 57 + (i % 2) / 16 },
        ...(i % 5 === 0 ? [{ ...reading, channel: 'room-vapour', value: ppm }] : []),
        // A slow probe beside the fast one.
        ...(i % 10 === 0 && secondC !== null
          ? [{ ...reading, channel: 'liquid-temperature-2', value: secondC }]
          : []),
      ];
    }),
  );
const run: fc.Arbitrary<EngineInput[]> = fc
  .array(
    fc.record({
      afterS: fc.oneof(
        { weight: 8, arbitrary: fc.constantFrom(1, 1, 2, 3) },
        { weight: 1, arbitrary: fc.integer({ min: 0, max: 90 }) },
      ),
      events: fc.oneof(
        { weight: 60, arbitrary: readingEvent.map((event) => [event]) },
        { weight: 5, arbitrary: stageEvent.map((event) => [event]) },
        { weight: 5, arbitrary: deviceEvent.map((event) => [event]) },
        { weight: 2, arbitrary: sendersEvent.map((event) => [event]) },
        { weight: 1, arbitrary: startEvent.map((event) => [event]) },
        { weight: 4, arbitrary: stretch },
      ),
    }),
    { minLength: 5, maxLength: 120 },
  )
  .map((events) => {
    const inputs: EngineInput[] = VESSELS.map((vessel) => ({
      type: 'vessel',
      arrivedMs: START_MS,
      vessel,
      role: null,
      batch: {
        id: 'b1',
        plan: resolveWatchPlan({ requiredReactionMinutes: 1, requiredSettleHours: 0.05 }),
        site: { pressureHPa: 1013.25 },
      },
    }));
    inputs.push({
      type: 'stage',
      arrivedMs: START_MS,
      atMs: START_MS,
      vessel: 'r1',
      stage: 'dose',
      batch: 'b1',
    });
    let arrivedMs = START_MS;
    for (const { afterS, events: some } of events) {
      for (const event of some) {
        // Of a stretch, the readings of one moment come a third of a second apart.
        arrivedMs += some.length === 1 ? afterS * 1000 : 300;
        inputs.push(inputOf(event, arrivedMs));
      }
    }
    return inputs;
  });

function inputOf(event: Event, arrivedMs: number): EngineInput {
  switch (event.kind) {
    case 'stage': {
      const atMs = arrivedMs - event.behindS * 1000;
      return { type: 'stage', arrivedMs, atMs, vessel: event.vessel, stage: event.stage, batch: 'b1' };
    }
    case 'device':
      return { type: 'device', arrivedMs, ...withoutKind(event) };
    case 'senders':
      return { type: 'senders', arrivedMs, ...withoutKind(event) };
    case 'start':
      return { type: 'start', arrivedMs, downSinceMs: arrivedMs - 500 };
    case 'reading': {
      const { behindS, ...reading } = withoutKind(event);
      return { type: 'reading', arrivedMs, atMs: arrivedMs - behindS * 1000, ...reading, stamped: false };
    }
  }
}

function withoutKind<E extends Event>({ kind: _, ...event }: E): Omit<E, 'kind'> {
  return event;
}

const through = (
  inputs: readonly EngineInput[],
  between: (state: SiteState) => SiteState = (state) => state,
) => {
  let state = emptySiteState();
  const outputs: EngineOutput[] = [];
  for (const input of inputs) {
    const [next, out] = step(between(state), input);
    state = next;
    // What is kept in the state may change later: the outputs are looked at as they were.
    outputs.push(...structuredClone(out));
  }
  return { state, outputs };
};
const alarmsOf = (outputs: readonly EngineOutput[]) => outputs.filter(({ type }) => type === 'alarm');
const runs = { numRuns: share(300) };

test.runIf(isThorough)('the runs made here set off the rules', () => {
  const met = new Set<string>();
  for (const inputs of fc.sample(run, { numRuns: 900, seed: 1 })) {
    for (const output of through(inputs).outputs)
      if (output.type === 'alarm') met.add(`${output.alarm} ${output.event}`);
  }
  for (const alarm of [
    'boiling-reached',
    'boiling-near',
    'too-hot-to-dose',
    'mixing-stopped',
    'reading-late',
    'probe-jump',
    'probe-out-of-range',
    'mixing-slow',
    'coupling-lost',
    'motor-stalled',
    'settling-disturbed',
    'probes-disagree',
    'two-devices',
    'device-gone',
    'vapour-high',
    'condenser-warm',
    'restart-hot',
    'methoxide-hot',
    'boiling-ahead',
    'rising-fast',
    'heater-on-draining',
  ]) {
    expect([...met]).toEqual(expect.arrayContaining([`${alarm} raised`, `${alarm} cleared`]));
  }
  // These end when somebody acknowledges them.
  for (const alarm of ['reaction-short', 'settling-short', 'methoxide-short', 'not-watching']) {
    expect([...met]).toContain(`${alarm} raised`);
  }
  expect([...met].some((line) => line.endsWith('unexplained'))).toBe(true);
});

test('the state is plain JSON: written out and read in at any point, the rest goes on alike', () => {
  fc.assert(
    fc.property(run, (inputs) => {
      const straight = through(inputs);
      const stored = through(inputs, (state) => JSON.parse(JSON.stringify(state)));
      expect(stored.outputs).toEqual(straight.outputs);
      expect(stored.state).toEqual(straight.state);
    }),
    runs,
  );
});

test('a clock that ticks more often changes no alarm and no time of one', () => {
  fc.assert(
    fc.property(
      run,
      fc.array(fc.double({ min: 0, max: 1, noNaN: true }), { minLength: 20, maxLength: 20 }),
      (inputs, parts) => {
        const ticking = inputs.flatMap((input, i): EngineInput[] => {
          const next = inputs[i + 1];
          if (next === undefined) return [input];
          const ms = next.arrivedMs - input.arrivedMs;
          const some = [parts[i % 20]! * ms, parts[(i * 7 + 3) % 20]! * ms].sort((a, b) => a - b);
          return [
            input,
            ...some.map((after) => ({
              type: 'tick' as const,
              arrivedMs: input.arrivedMs + Math.floor(after),
            })),
          ];
        });
        expect(alarmsOf(through(ticking).outputs)).toEqual(alarmsOf(through(inputs).outputs));
      },
    ),
    runs,
  );
});

test('what waits for the clock is found in time: looking at every input finds nothing more', () => {
  fc.assert(
    fc.property(run, (inputs) => {
      const looking = through(inputs, (state) => ({ ...state, nothingDueBeforeMs: 0 }));
      expect(looking.outputs).toEqual(through(inputs).outputs);
    }),
    runs,
  );
});

test('nobody is kept from an alarm by one that is over, or that is less grave', () => {
  fc.assert(
    fc.property(run, (inputs) => {
      through([...inputs, { type: 'tick', arrivedMs: inputs.at(-1)!.arrivedMs + 15_000 }], (state) => {
        for (const { alarms } of Object.values(state.vessels)) {
          for (const alarm of Object.values(alarms)) {
            if (alarm.explainedBy === null) continue;
            const cause = alarms[alarm.explainedBy];
            if (cause === undefined) expect(alarm.speaksFromMs! - state.nowMs).toBeGreaterThan(0);
            else if (alarm.speaksFromMs === null)
              expect(isGraver(alarm.priority, cause.priority)).toBe(false);
          }
        }
        return state;
      });
    }),
    runs,
  );
});

/** Facts say moments as well, of the clock as it was when the alarm was raised: before the step or after it. */
const withoutMoments = (facts: AlarmFacts): AlarmFacts =>
  Object.fromEntries(Object.entries(facts).filter(([name]) => !name.endsWith('Ms')));

test('a step of the wall clock moves what was stamped here along, and changes no alarm', () => {
  fc.assert(
    fc.property(
      run,
      fc.nat(),
      fc.integer({ min: -7_200_000, max: 7_200_000 }).filter((ms) => ms !== 0),
      (inputs, where, stepMs) => {
        const stamped = inputs.map(
          (input): EngineInput =>
            input.type === 'reading'
              ? { ...input, atMs: input.arrivedMs, stamped: true }
              : input.type === 'stage'
                ? { ...input, atMs: input.arrivedMs }
                : input,
        );
        const at = VESSELS.length + (where % (stamped.length - VESSELS.length));
        const moved = (input: EngineInput): EngineInput => ({
          ...input,
          arrivedMs: input.arrivedMs + stepMs,
          ...('atMs' in input && { atMs: input.atMs + stepMs }),
          ...('downSinceMs' in input && { downSinceMs: input.downSinceMs! + stepMs }),
        });
        const { arrivedMs } = stamped[at - 1]!;
        // What is due at that very moment is said by the clock as it was: a start does not look that far.
        const first: EngineInput[] = [...stamped.slice(0, at), { type: 'tick', arrivedMs }];
        const before = through(first);
        const after = through([...first, ...stamped.slice(at)]).outputs.slice(before.outputs.length);
        const stepped: EngineInput[] = [
          ...first,
          { type: 'clock-step', arrivedMs: arrivedMs + stepMs, stepMs },
          ...stamped.slice(at).map(moved),
        ];
        // What was raised before keeps its time; an alarm is cleared at the time of what clears it.
        const back = through(stepped)
          .outputs.slice(before.outputs.length)
          .map((output) => ('atMs' in output ? { ...output, atMs: output.atMs - stepMs } : output));
        const plain = (outputs: readonly EngineOutput[]) =>
          outputs.map((output) =>
            'facts' in output ? { ...output, facts: withoutMoments(output.facts) } : output,
          );
        expect(plain(back)).toEqual(plain(after));
      },
    ),
    runs,
  );
});

test('what comes twice gives the same alarms as what comes once', () => {
  fc.assert(
    fc.property(run, fc.array(fc.boolean(), { minLength: 13, maxLength: 13 }), (inputs, twice) => {
      const doubled = inputs.flatMap((input, i) => (twice[i % 13] ? [input, input] : [input]));
      expect(alarmsOf(through(doubled).outputs)).toEqual(alarmsOf(through(inputs).outputs));
    }),
    runs,
  );
});

test('an alarm is raised, perhaps raised again as graver, and cleared, each under one number', () => {
  fc.assert(
    fc.property(run, (inputs) => {
      const standing = new Map<string, { number: number; priority: Parameters<typeof isGraver>[0] }>();
      const numbers = new Map<string, number>();
      for (const output of through(inputs).outputs) {
        if (output.type !== 'alarm') continue;
        const key = `${output.vessel} ${output.alarm}`;
        const before = standing.get(key);
        if (output.event === 'explained' || output.event === 'unexplained') {
          expect(before).toEqual({ number: output.number, priority: output.priority });
          expect(output.explainedBy !== null).toBe(output.event === 'explained');
          continue;
        }
        if (output.event === 'cleared') {
          expect(before).toEqual({ number: output.number, priority: output.priority });
          standing.delete(key);
          continue;
        }
        if (before === undefined) {
          expect(output.number).toBe((numbers.get(output.vessel) ?? 0) + 1);
          numbers.set(output.vessel, output.number);
        } else {
          expect(output.number).toBe(before.number);
          expect(isGraver(output.priority, before.priority)).toBe(true);
        }
        standing.set(key, { number: output.number, priority: output.priority });
      }
    }),
    runs,
  );
});

test('what a device kept while offline earns what it would have earned in time', () => {
  const at = (seconds: number) => new Date(START_MS + seconds * 1000).toISOString();
  const vessel = { type: 'vessel', vessel: 'r1', plan: { reactionTemperatureC: 55 } };
  const react = { type: 'stage', at: at(0), vessel: 'r1', stage: 'react' };
  const settle = { type: 'stage', at: at(401), vessel: 'r1', stage: 'settle' };
  fc.assert(
    fc.property(
      fc.integer({ min: 30, max: 200 }),
      fc.integer({ min: 1, max: 150 }),
      fc.integer({ min: 0, max: 40 }),
      (from, length, stopsAt) => {
        const readings = (s: number) => [
          {
            type: 'reading',
            at: at(s),
            vessel: 'r1',
            channel: 'liquid-temperature',
            value: 50 + (s % 16) / 16,
          },
          {
            type: 'reading',
            at: at(s),
            vessel: 'r1',
            channel: 'stirrer-speed',
            value: s % 50 === stopsAt ? 0 : 300,
          },
        ];
        const seconds = Array.from({ length: 400 }, (_, s) => s);
        const offline = (s: number) => s >= from && s < from + length;
        const inTime = play(vessel, react, ...seconds.flatMap(readings), settle);
        const kept = play(
          vessel,
          react,
          ...seconds.filter((s) => !offline(s)).flatMap(readings),
          ...seconds
            .filter(offline)
            .flatMap(readings)
            .map((line) => ({ ...line, arrived: at(400) })),
          settle,
        );
        expect(kept.summaries.r1?.creditedReactionMinutes).toBeCloseTo(
          inTime.summaries.r1!.creditedReactionMinutes,
          9,
        );
      },
    ),
    { numRuns: share(60) },
  );
});
