import { expect, test } from 'vitest';
import { beganMs, comparedBatch, missedOf } from '../../../shared/batch/comparison.ts';
import type { Batch } from '../../../shared/wire/batch.ts';
import type { ComparedBatch } from '../../../shared/wire/comparison.ts';
import type { BatchRecord } from '../../../shared/wire/record.ts';
import { batchOf, hour, START_MS, wash } from './noted.ts';

const side = (batch: Batch, of: Partial<BatchRecord> = {}): ComparedBatch =>
  comparedBatch({ batch, vessels: [], deviations: [], alarms: [], ...of }, [], START_MS);

const figures = (minutes: number, hours: number) =>
  ({
    vessels: [{ creditedReactionMinutes: minutes, creditedSettleHours: hours }],
  }) as Partial<BatchRecord>;

const shaken = (partsClean: boolean) => ({
  ...batchOf([], [{ kind: 'test', test: 'shake', partsClean }]).entries[0]!,
  result: { passed: partsClean, says: '' },
});
/** Shaken so often, each time with that outcome. */
const shakenBatch = (...outcomes: boolean[]): Batch => ({
  ...batchOf(['wash'], []),
  entries: outcomes.map((clean, i) => ({ ...shaken(clean), id: `b1-${i + 1}` })),
});

const early = (stage: 'settle' | 'wash', what: string): Partial<BatchRecord> => ({
  deviations: [{ stage, at: hour(1), by: 'Ida', reason: 'supper', missing: [{ what, has: 1, needs: 2 }] }],
});

const missed = (a: ComparedBatch, b: ComparedBatch) =>
  missedOf(a, b).map(({ of, what, says }) => [of, what, says]);

test('a batch lacks nothing that it has itself', () => {
  const full = side(shakenBatch(true, false), { ...figures(60, 24), ...early('settle', 'reaction-minutes') });
  expect(missedOf(full, full)).toEqual([]);
});

test('how it ended is no stage that is lacking, and one that came twice is said once', () => {
  const a = side(batchOf(['react', 'wash', 'wash', 'finished'], [wash(30)]));
  const b = side(batchOf(['react', 'rejected'], []));
  expect(missed(a, b)).toEqual([
    ['b', 'stage', 'no wash'],
    ['b', 'washes', 'washed 0×, the other 1×'],
  ]);
});

test('of a test that was repeated the last counts', () => {
  expect(missed(side(shakenBatch(false, true)), side(shakenBatch(true)))).toEqual([]);
  expect(missed(side(shakenBatch(true, false)), side(shakenBatch(true)))).toEqual([
    ['a', 'test-passed', 'shake test not passed'],
  ]);
});

test('a minute of reaction and half an hour of settling are the least that is said', () => {
  const of = (minutes: number, hours: number) => side(batchOf(['react'], []), figures(minutes, hours));
  expect(missed(of(60, 24), of(59.1, 23.6))).toEqual([]);
  expect(missed(of(60, 24), of(59, 23.5))).toEqual([
    ['b', 'reaction-minutes', 'reacted 1 min less'],
    ['b', 'settle-hours', 'settled 0.5 h less'],
  ]);
});

test('a condition that both went on without is lacking in neither', () => {
  const batch = batchOf(['react', 'settle', 'wash'], []);
  const without = (of: Partial<BatchRecord>) => side(batch, of);
  const reaction = without(early('settle', 'reaction-minutes'));
  expect(missed(reaction, reaction)).toEqual([]);
  expect(missed(reaction, without(early('wash', 'settle-hours')))).toEqual([
    ['a', 'condition', 'went on to settle with reaction-minutes 1 of 2'],
    ['b', 'condition', 'went on to wash with settle-hours 1 of 2'],
  ]);
});

test('a stage began when it first did, whenever that was noted', () => {
  const { stages, ...batch } = batchOf(['warm', 'react', 'settle', 'react'], []);
  expect(beganMs({ ...batch, stages: stages.toReversed() }, 'react')).toBe(Date.parse(hour(1)));
  expect(beganMs({ stages }, 'wash')).toBeNull();
});
