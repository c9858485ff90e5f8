import { expect, test } from 'vitest';
import { LIMIT_DEFAULTS } from '../../../shared/rules/limits.ts';
import { type Stood, stirringAgain } from '../../../shared/rules/stirring-again.ts';
import { START_MS } from '../run.ts';

const stood = (what: Partial<Stood> = {}): Stood => ({
  stage: 'react',
  stillFromMs: START_MS,
  isMoving: null,
  headroomC: 20,
  risingCPerMin: null,
  countedMinutes: 0,
  restartMarginC: LIMIT_DEFAULTS.restartMarginC,
  ...what,
});
const after = (minutes: number, what?: Partial<Stood>) =>
  stirringAgain(stood(what), START_MS + minutes * 60_000);

test('still for under two minutes it may go on at once, from two on it has lain', () => {
  expect(after(1.999)).toMatchObject({ may: 'yes-at-once' });
  expect(after(2)).toEqual({ may: 'in-bursts', isMostlyReacted: false });
});

test('not as long as the liquid is nearer to boiling than the limit of a hot restart', () => {
  expect(after(30, { headroomC: 11.99 })).toMatchObject({ may: 'not-yet', coolMinutes: null });
  expect(after(30, { headroomC: 12 })).toMatchObject({ may: 'in-bursts' });
  expect(after(30, { headroomC: 10, restartMarginC: 8 })).toMatchObject({ may: 'in-bursts' });
  expect(after(30, { headroomC: null })).toEqual({ may: 'measure-first' });
});

test('nobody says that it may while the margin that decides is not known', () => {
  expect(after(30, { restartMarginC: null })).toEqual({ may: 'margin-unknown' });
  expect(after(30, { restartMarginC: null, headroomC: null })).toEqual({ may: 'margin-unknown' });
  expect(after(1, { restartMarginC: null })).toMatchObject({ may: 'yes-at-once' });
});

test('how long it has to cool follows from how fast it falls, and is not said while it does not', () => {
  expect(after(30, { headroomC: 9, risingCPerMin: -0.5 })).toEqual({
    may: 'not-yet',
    coolByC: 3,
    coolMinutes: 6,
  });
  expect(after(30, { headroomC: 9, risingCPerMin: 0.4 })).toMatchObject({ coolMinutes: null });
  expect(after(30, { headroomC: 9, risingCPerMin: -0.04 })).toMatchObject({ coolMinutes: null });
});

test('once ten minutes are counted little is left to react at once', () => {
  expect(after(30, { countedMinutes: 9.99 })).toMatchObject({ isMostlyReacted: false });
  expect(after(30, { countedMinutes: 10 })).toMatchObject({ isMostlyReacted: true });
});

test('what moves already, what carries no methoxide, and what is not stirred at all', () => {
  expect(after(30, { isMoving: true, headroomC: 2 })).toEqual({ may: 'moving' });
  expect(after(30, { isMoving: false, headroomC: 2 })).toMatchObject({ may: 'not-yet' });
  expect(after(30, { stage: 'methoxide', headroomC: 2 })).toEqual({ may: 'yes' });
  for (const stage of ['warm', 'settle', 'recover', 'wash'] as const)
    expect(after(30, { stage, isMoving: true })).toEqual({ may: 'not-stirred' });
});
