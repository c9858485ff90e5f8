import type { Batch } from '../wire/batch.ts';
import type { ComparedBatch, ComparedSeries, Missed } from '../wire/comparison.ts';
import { ENDED_STAGES, type Stage } from '../wire/names.ts';
import type { BatchRecord } from '../wire/record.ts';
import { isoTime } from '../wire/time.ts';
import { standing } from './standing.ts';

/** Two batches laid over each other, and what one of them lacks. */

const MINUTE_MS = 60_000;
/** Less of a difference is none between two runs by hand: common practice, no source. */
const LEAST_MINUTES = 1;
const LEAST_HOURS = 0.5;

/** When a stage first began, epoch ms; null where it never did. */
export function beganMs({ stages }: Pick<Batch, 'stages'>, stage: Stage): number | null {
  const times = stages.filter((one) => one.stage === stage).map(({ at }) => Date.parse(at));
  return times.length === 0 ? null : Math.min(...times);
}

/** A batch as one side of a comparison, its times in minutes from a moment, epoch ms. */
export function comparedBatch(
  { batch, vessels, deviations, alarms }: Pick<BatchRecord, 'batch' | 'vessels' | 'deviations' | 'alarms'>,
  series: ComparedSeries[],
  alignedMs: number,
): ComparedBatch {
  const minutesAt = (ms: number): number => (ms - alignedMs) / MINUTE_MS;
  const minutesOf = ({ at }: { at: string }): number => minutesAt(Date.parse(at));
  // What is earned is the batch's, and said of each of its vessels.
  const [figures] = vessels;
  const counts = new Map<string, number>();
  for (const { alarm } of alarms) counts.set(alarm, (counts.get(alarm) ?? 0) + 1);
  return {
    batch: batch.id,
    name: batch.name,
    site: batch.site,
    stage: batch.stage,
    alignedAt: isoTime(alignedMs),
    stages: batch.stages
      .map((one) => ({ stage: one.stage, vessel: one.vessel, minutes: minutesOf(one) }))
      .sort((a, b) => a.minutes - b.minutes),
    series,
    creditedReactionMinutes: figures?.creditedReactionMinutes ?? 0,
    creditedSettleHours: figures?.creditedSettleHours ?? 0,
    washes: standing(batch.entries, 'wash').length,
    tests: standing(batch.entries, 'test')
      .map((entry) => ({
        test: entry.what.test,
        passed: entry.result?.passed ?? null,
        says: entry.result?.says ?? null,
        minutes: minutesOf(entry),
      }))
      .sort((a, b) => a.minutes - b.minutes),
    deviations: deviations.map((one) => ({
      stage: one.stage,
      minutes: minutesOf(one),
      by: one.by,
      reason: one.reason,
      missing: one.missing,
    })),
    alarms: [...counts].map(([alarm, count]) => ({ alarm, count })),
  };
}

/** What either lacks that the other had. How a batch ended is no stage that can be missed. */
export function missedOf(a: ComparedBatch, b: ComparedBatch): Missed[] {
  return [...missedBy('a', a, b), ...missedBy('b', b, a)];
}

function missedBy(of: 'a' | 'b', own: ComparedBatch, other: ComparedBatch): Missed[] {
  const missed = (what: Missed['what'], says: string, facts: Missed['facts'] = {}): Missed => ({
    of,
    what,
    says,
    facts,
  });
  const has = new Set(own.stages.map(({ stage }) => stage));
  const stages = new Set(
    other.stages
      .map(({ stage }) => stage)
      .filter((stage) => !has.has(stage) && !ENDED_STAGES.includes(stage)),
  );
  const [ownTests, otherTests] = [lastTests(own), lastTests(other)];
  const reactionLess = other.creditedReactionMinutes - own.creditedReactionMinutes;
  const settledLess = other.creditedSettleHours - own.creditedSettleHours;
  // Gone on in spite of a condition that the other met.
  const otherLacked = new Set(other.deviations.flatMap(lacked));
  const conditions = own.deviations
    .flatMap(({ stage, missing }) => missing.map((one) => ({ stage, ...one })))
    .filter(({ stage, what }) => !otherLacked.has(`${stage} ${what}`));
  return [
    ...[...stages].map((stage) => missed('stage', `no ${stage}`, { stage })),
    ...(own.washes < other.washes
      ? [
          missed('washes', `washed ${own.washes}×, the other ${other.washes}×`, {
            has: own.washes,
            needs: other.washes,
          }),
        ]
      : []),
    ...[...otherTests.keys()]
      .filter((test) => !ownTests.has(test))
      .map((test) => missed('test', `no ${test} test`, { test })),
    ...[...otherTests]
      .filter(([test, passed]) => passed === true && ownTests.get(test) === false)
      .map(([test]) => missed('test-passed', `${test} test not passed`, { test })),
    ...(reactionLess >= LEAST_MINUTES
      ? [
          missed('reaction-minutes', `reacted ${round(reactionLess)} min less`, {
            has: own.creditedReactionMinutes,
            needs: other.creditedReactionMinutes,
          }),
        ]
      : []),
    ...(settledLess >= LEAST_HOURS
      ? [
          missed('settle-hours', `settled ${round(settledLess)} h less`, {
            has: own.creditedSettleHours,
            needs: other.creditedSettleHours,
          }),
        ]
      : []),
    ...conditions.map(({ stage, what, has: had, needs }) =>
      missed('condition', `went on to ${stage} with ${what} ${round(had)} of ${round(needs)}`, {
        stage,
        condition: what,
        has: had,
        needs,
      }),
    ),
  ];
}

const lacked = ({ stage, missing }: ComparedBatch['deviations'][number]): string[] =>
  missing.map(({ what }) => `${stage} ${what}`);

/** Whether the last of each test was passed. */
const lastTests = ({ tests }: ComparedBatch): Map<string, boolean | null> =>
  new Map(tests.map(({ test, passed }) => [test, passed]));

const round = (value: number): string => String(Number(value.toFixed(1)));
