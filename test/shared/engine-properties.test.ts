import fc from 'fast-check';
import { expect, test } from 'vitest';
import type { EngineInput, EngineOutput } from '../../shared/engine/events.ts';
import { emptySiteState, type SiteState } from '../../shared/engine/state.ts';
import { step } from '../../shared/engine/step.ts';
import { resolveWatchPlan } from '../../shared/plan/watch-plan.ts';
import { isGraver } from '../../shared/wire/names.ts';
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
    { weight: 2, arbitrary: fc.constant(300) },
    { weight: 3, arbitrary: fc.constantFrom(0, 10, 100) },
  ),
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
    };

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
    'dose',
    'dose',
    'react',
    'react',
    'settle',
    'drain',
    'recover',
    'wash',
    'rejected',
    'idle',
  ),
  behindS: fc.constantFrom(0, 0, 0, 45),
});
const run: fc.Arbitrary<EngineInput[]> = fc
  .array(
    fc.record({
      afterS: fc.oneof(
        { weight: 8, arbitrary: fc.constantFrom(1, 1, 2, 3) },
        { weight: 1, arbitrary: fc.integer({ min: 0, max: 90 }) },
      ),
      event: fc.oneof({ weight: 12, arbitrary: readingEvent }, { weight: 1, arbitrary: stageEvent }),
    }),
    { minLength: 5, maxLength: 150 },
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
    for (const { afterS, event } of events) {
      arrivedMs += afterS * 1000;
      const atMs = arrivedMs - event.behindS * 1000;
      inputs.push(
        event.kind === 'stage'
          ? { type: 'stage', arrivedMs, atMs, vessel: event.vessel, stage: event.stage, batch: 'b1' }
          : {
              type: 'reading',
              arrivedMs,
              atMs,
              vessel: event.vessel,
              channel: event.channel,
              value: event.value,
              typed: event.typed,
              stamped: false,
            },
      );
    }
    return inputs;
  });

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
const runs = { numRuns: 300 };

test('the runs made here set off the rules', () => {
  const met = new Set<string>();
  for (const inputs of fc.sample(run, { numRuns: 300, seed: 1 })) {
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
  ]) {
    expect([...met]).toEqual(expect.arrayContaining([`${alarm} raised`, `${alarm} cleared`]));
  }
  expect([...met]).toEqual(expect.arrayContaining(['reaction-short raised', 'settling-short raised']));
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
    { numRuns: 60 },
  );
});
