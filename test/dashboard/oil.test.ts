import { describe, expect, test } from 'vitest';
import { LIMITS, readTyped, type Typed } from '../../dashboard/pages/oil/oil.ts';
import { formOf, readForm } from '../../dashboard/pages/recipe/form.ts';
import { readPlanRequest } from '../../shared/plan/read-request.ts';

const jar = (entries: Typed['entries'], titrant: Typed['titrant'] = 'NaOH') =>
  readTyped({ titrant, kind: 'used', entries });
const judge = (entries: Typed['entries'], titrant?: Typed['titrant']) => jar(entries, titrant).judged!;
/** mL of NaOH titrant (1 g/L, 98 %) for so much free fatty acid: 282.468 g/mol in 919.479 g/L; 39.997 g/mol: six figures. */
const mlFor = (percent: number): string => String(((percent / 100) * 919.479 * 39.997) / 282.468 / 0.98);

describe('the verdict', () => {
  test.each([
    [0, 'take'],
    [LIMITS.soap - 0.001, 'take'],
    [LIMITS.soap + 0.001, 'more-soap'],
    [LIMITS.acid - 0.001, 'more-soap'],
    [LIMITS.acid + 0.001, 'acid-first'],
    [LIMITS.leave - 0.001, 'acid-first'],
    [LIMITS.leave + 0.001, 'leave'],
  ] as const)('of %d %% free fatty acid is %s', (percent, verdict) => {
    const judged = judge({ run1: mlFor(percent) });
    expect(judged.plans.NaOH.freeFattyAcidPercent).toBeCloseTo(percent, 4);
    expect(judged.verdict).toBe(verdict);
  });

  test('is the same whichever base the same acid is titrated with', () => {
    // 1 mol of each: 2.4 mL of NaOH of 98 % are 3.666 mL of KOH of 90 %.
    const [naoh, koh] = [
      judge({ run1: '2.4' }),
      judge({ run1: String((2.4 * 0.98 * 56.105) / 39.997 / 0.9) }, 'KOH'),
    ];
    for (const lye of ['NaOH', 'KOH'] as const) {
      expect(koh.plans[lye].freeFattyAcidPercent).toBeCloseTo(naoh.plans[lye].freeFattyAcidPercent, 9);
      expect(koh.plans[lye].catalystG).toBeCloseTo(naoh.plans[lye].catalystG, 6);
    }
    // And the same number of the other base is another oil.
    expect(judge({ run1: '2.4' }, 'KOH').plans.KOH.freeFattyAcidPercent).toBeLessThan(
      0.8 * naoh.plans.NaOH.freeFattyAcidPercent,
    );
  });

  test('waits for a run and its titrant', () => {
    expect(jar({})).toMatchObject({ judged: undefined });
    const unnamed = jar({ run1: '2.4' }, '');
    expect(unnamed.judged).toBeUndefined();
    expect(unnamed.wrong.get('titrant')).toEqual({ kind: 'titrant' });
  });

  test('goes on without what cannot be used', () => {
    const { wrong, judged } = jar({ run1: '2.4', run2: 'x', blank: '-1', water: '2000000' });
    expect([...wrong.keys()].sort()).toEqual(['blank', 'run2', 'water']);
    expect(judged?.plans.NaOH.titration).toMatchObject({ runs: 1, meanMl: 2.4 });
  });

  test('is none where no oil can be so acid', () => {
    const { wrong, judged } = jar({ run1: '900', gPerL: '100' });
    expect(judged).toBeUndefined();
    expect(wrong.get('run1')).toEqual({ kind: 'too-much' });
  });

  test('says how much oil without acid to mix in', () => {
    expect(judge({ run1: mlFor(9) }).mixWithL).toBeCloseTo(2, 4);
    expect(judge({ run1: mlFor(2) }).mixWithL).toBeUndefined();
  });
});

describe('runs', () => {
  test('that lie apart are said, and whether they tell what the oil is', () => {
    expect(judge({ run1: '2.4', run2: '2.5' })).toMatchObject({ isSpread: false, isTorn: false });
    expect(judge({ run1: '2.1', run2: '2.9' })).toMatchObject({ isSpread: true, isTorn: false });
    const torn = judge({ run1: mlFor(2.9), run2: mlFor(3.1) });
    expect(torn.isTorn).toBe(true);
    expect(torn.ends!.least.freeFattyAcidPercent).toBeCloseTo(2.9, 4);
    expect(torn.ends!.most.freeFattyAcidPercent).toBeCloseTo(3.1, 4);
  });
  test('with a blank over them are said', () => {
    expect(judge({ run1: '0.2', blank: '0.5' })).toMatchObject({ isBlankHigh: true, verdict: 'take' });
  });
});

test('water over the limit is wet, less is not, and none is not known', () => {
  expect(judge({ run1: '1', water: '600' })).toMatchObject({ isWet: false, waterPpm: 600 });
  expect(judge({ run1: '1', water: '601' }).isWet).toBe(true);
  expect(judge({ run1: '1' }).waterPpm).toBeUndefined();
});

test('leads into a recipe that says the same of the oil', () => {
  const judged = judge({ run1: '2.1', run2: '2.2', blank: '0.1', sample: '2', water: '300' });
  const linked = readPlanRequest(JSON.parse(JSON.stringify(judged.request)));
  const recipe = readForm(formOf(linked), []);
  expect(recipe.wrong.size).toBe(0);
  expect(recipe.request).toEqual(judged.request);
  expect(recipe.answer.freeFattyAcidPercent).toBe(judged.plans.NaOH.freeFattyAcidPercent);
});
