import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { EngineInput } from '../../shared/engine/events.ts';
import { creditedMs, passReactionTime } from '../../shared/engine/reaction-time.ts';
import { emptySiteState, type SiteState } from '../../shared/engine/state.ts';
import { step } from '../../shared/engine/step.ts';
import { resolveWatchPlan } from '../../shared/plan/watch-plan.ts';
import type { Stage } from '../../shared/wire/names.ts';
import { share } from '../support/thorough.ts';
import { START_MS } from './run.ts';

const SECOND_MS = 1000;

/** A vessel in a stage of a batch since the start; without a stage, one in no batch. */
function vesselIn(stage: Stage | null): SiteState {
  const plan = resolveWatchPlan({ reactionTemperatureC: 55, lowestStirrerSpeed: 200 });
  const batch = stage === null ? null : { id: 'b1', plan, site: { pressureHPa: 1013.25 } };
  const start = { arrivedMs: START_MS, vessel: 'r1' };
  const state = fed(emptySiteState(), [{ ...start, type: 'vessel', role: null, batch }]);
  return stage === null
    ? state
    : fed(state, [{ ...start, type: 'stage', atMs: START_MS, stage, batch: 'b1' }]);
}

function fed(state: SiteState, inputs: Iterable<EngineInput>): SiteState {
  let now = state;
  for (const input of inputs) [now] = step(now, input);
  return now;
}

const reading = (channel: string, atMs: number, value: number, arrivedMs: number): EngineInput => ({
  type: 'reading',
  arrivedMs,
  vessel: 'r1',
  channel,
  atMs,
  value,
  typed: false,
  stamped: false,
});

const creditOf = (state: SiteState): number =>
  creditedMs(passReactionTime(state, state.batches.b1!.pass, state.nowMs));

describe('readings that come out of order', () => {
  /** Thirty messages of 5,000 readings each, the newest first, of the hour before. */
  const COUNT = 150_000;
  const EVERY_MS = 24;
  /** What they took where each was looked for from the end on: 80 s and more. */
  const MOST_PROCESSOR_MS = 10_000;

  test.each([
    [null, 'liquid-temperature'],
    ['react', 'liquid-temperature'],
    ['react', 'stirrer-speed'],
    ['settle', 'stirrer-speed'],
  ] as const)('take no longer the more there are: stage %s, %s', { timeout: 300_000 }, (stage, channel) => {
    const newestMs = START_MS + COUNT * EVERY_MS;
    const value = channel === 'stirrer-speed' ? 300 : 55;
    const from = process.cpuUsage();
    const state = fed(
      vesselIn(stage),
      (function* () {
        for (let i = 0; i < COUNT; i++) yield reading(channel, newestMs - i * EVERY_MS, value, newestMs);
      })(),
    );
    const { user, system } = process.cpuUsage(from);
    expect(state.vessels.r1!.channels[channel]!.newestAtMs).toBe(newestMs);
    expect((user + system) / 1000).toBeLessThan(MOST_PROCESSOR_MS);
  });

  test('earn the same in whatever order, twice as well, written out and read in between', () => {
    /** More than are put in their places one by one. */
    const seconds = Array.from({ length: 4000 }, (_, s) => s + 1);
    const lastMs = START_MS + 4001 * SECOND_MS;
    const both = (s: number, arrivedMs: number): EngineInput[] => [
      reading('liquid-temperature', START_MS + s * SECOND_MS, 50 + (s % 64) / 64, arrivedMs),
      reading('stirrer-speed', START_MS + s * SECOND_MS, s % 50 === 7 ? 0 : 300, arrivedMs),
    ];
    /** These come in time, so that the channels are known at their pace. */
    const inTime = seconds.slice(-20).flatMap((s) => both(s, START_MS + s * SECOND_MS));
    fc.assert(
      fc.property(
        fc.integer({ min: 0, max: 100 }),
        fc.integer({ min: 1, max: 3979 }),
        fc.constantFrom<'newest first' | 'oldest first' | 'mixed'>('newest first', 'oldest first', 'mixed'),
        fc.integer({ min: 1, max: 3979 }),
        (percentMissing, stride, order, cut) => {
          const kept = seconds.slice(0, -20).filter((s) => (s * 37) % 101 >= percentMissing);
          const lateInOrder = kept.flatMap((s) => both(s, lastMs));
          // Oldest first, each belongs near the end.
          const reference = fed(fed(vesselIn('react'), inTime), lateInOrder);
          const places = new Map(kept.map((s) => [s, (s * stride) % 3989]));
          const sorted = kept.toSorted((a, b) =>
            order === 'oldest first'
              ? a - b
              : order === 'newest first'
                ? b - a
                : places.get(a)! - places.get(b)!,
          );
          const late = [...sorted, ...sorted.slice(0, cut)].flatMap((s) => both(s, lastMs));
          const until = fed(fed(vesselIn('react'), inTime), late.slice(0, cut));
          const outOfOrder = fed(JSON.parse(JSON.stringify(until)), late.slice(cut));
          expect(creditOf(outOfOrder)).toBe(creditOf(reference));
        },
      ),
      { numRuns: share(50) },
    );
  });
});
