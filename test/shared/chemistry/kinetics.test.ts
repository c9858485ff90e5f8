import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { BASE_KINDS } from '../../../shared/chemistry/bases.ts';
import { type Band, extrapolated } from '../../../shared/chemistry/formula.ts';
import {
  conversionPercent,
  type ReactionInputs,
  reactionMinutes,
  reactionRate,
} from '../../../shared/chemistry/kinetics.ts';
import { share } from '../../support/thorough.ts';
import { refusal } from './ranges.ts';
import {
  arrhenius,
  freshPot,
  percentAfter,
  potAfter,
  type Rates,
  reacted,
  type Stretch,
} from './whole-system.ts';

const USUAL: ReactionInputs = {
  methanolToOilMolar: 6,
  catalyst: 'NaOH',
  catalystPercentOfOilMass: 0.5,
  acidNumberMgKOHPerG: 0,
  passSharesPercent: [100],
  temperatureC: 60,
};
const converted = (minutes: number, other: Partial<ReactionInputs> = {}): Band =>
  conversionPercent({ ...USUAL, ...other, minutes: [minutes] });

/** What the integrator may be off, percent: 3e-5 mol of 3. */
const INTEGRATED = 1e-3;
const BOUNDS = ['low', 'value', 'high'] as const;

const isWithin = (percent: number, { low, high }: Band, margin = 0): boolean =>
  low - margin <= percent && percent <= high + margin;

describe('against the series measured by Opara & Oh (60 °C, 0.10 % NaOH)', () => {
  // Open data of “Regularization and concave loss functions for estimation of chemical kinetic models”
  // (Applied Soft Computing), read there: minute, ester mol/L, by 3 TG + 2 DG + MG at the start.
  const series = {
    '12:1': {
      ratio: 12,
      acyl: 3 * 0.6567 + 2 * 0.0481 + 0.0026,
      ester: [0.201, 0.259, 0.533, 0.726, 0.937, 1.538, 1.652, 1.729, 1.717, 1.763],
      // As the formula’s uncertainty says.
      rootMeanSquare: 5,
    },
    '24:1': {
      ratio: 24,
      acyl: 3 * 0.4914 + 2 * 0.036 + 0.0019,
      ester: [0.155, 0.215, 0.289, 0.362, 0.448, 0.756, 1.083, 1.298, 1.47, 1.475],
      rootMeanSquare: 5,
    },
  };
  const MINUTES = [2, 4, 6, 8, 10, 20, 30, 40, 50, 60];

  test.for(Object.entries(series))('%s: point by point', ([, { ratio, acyl, ester, rootMeanSquare }]) => {
    const off = MINUTES.map((minutes, i) => {
      const measured = (100 * ester[i]!) / acyl;
      const band = converted(minutes, { methanolToOilMolar: ratio, catalystPercentOfOilMass: 0.1 });
      expect(isWithin(measured, band)).toBe(true);
      return Math.abs(band.value - measured);
    });
    expect(Math.max(...off)).toBeLessThan(11);
    expect(Math.round(Math.hypot(...off) / Math.sqrt(off.length))).toBe(rootMeanSquare);
    expect(conversionPercent.uncertainty).toContain('Within 11 percentage points');
    expect(conversionPercent.uncertainty).toContain(`${rootMeanSquare} at ${ratio}:1`);
  });

  // Same data, 60 min; ester by the same reckoning. 0.05 % at 12:1 is left out: 0.99 of ester beside 0.11 of
  // the triglyceride cannot be.
  test.for([
    [0.03, 24, 0.043],
    [0.03, 12, 0.064],
    [0.05, 24, 0.404],
  ] as const)(
    'starved of catalyst, %d %% at %d:1, it has %d after an hour',
    ([catalyst, ratio, measured]) => {
      const band = converted(60, { methanolToOilMolar: ratio, catalystPercentOfOilMass: catalyst });
      expect(isWithin(100 * measured, band)).toBe(true);
      if (catalyst === 0.03) expect(band.value).toBeLessThan(10);
    },
  );

  test('with 0.5 % at 24:1 under 0.1 % of triglyceride is left after 4 min: within the bounds', () => {
    // Of this run only the triglyceride can be used: its ester does not add up.
    const told = { ...USUAL, methanolToOilMolar: 24 };
    const left = (bound: 'low' | 'high') =>
      potAfter(told, [[{ minutes: 4, fromC: 60, toC: 60 }]], bound).tri * 100;
    expect(left('high')).toBeLessThan(0.1);
    expect(left('low')).toBeGreaterThan(0.1);
  });
});

describe('against Freedman, Pryde & Mounts 1984 (JAOCS 61:1638), 6:1, 1 % NaOH', () => {
  const MUCH = { catalystPercentOfOilMass: 1 };

  test('93 to 98 % at 60 °C after an hour (Ma & Hanna’s review, read in a reprint)', () => {
    const band = converted(60, MUCH);
    expect(band.value).toBeGreaterThan(93);
    expect(band.value).toBeLessThan(98);
    // Whole percents.
    expect(Math.round(band.low)).toBe(93);
    expect(band.high).toBeGreaterThan(98);
  });

  // From memory: soybean, after 0.1 h; 1 min at 60 °C; “99 % in about 4 h”. Whole percents.
  test.for([
    [60, 6, 94, 2],
    [45, 6, 87, 4],
    [32, 6, 64, 12],
    [60, 1, 80, -3],
    [32, 240, 99, -3],
  ] as const)(
    'at %d °C after %d min, %d %% (from memory), lies within the bounds, %d points off',
    ([temperatureC, minutes, percent, off]) => {
      const band = converted(minutes, { ...MUCH, temperatureC });
      expect(isWithin(percent, band, 0.5)).toBe(true);
      expect(Math.round(band.value - percent)).toBe(off);
      expect(conversionPercent.uncertainty).toContain('within 4 points at 45 and 60 °C');
      expect(conversionPercent.uncertainty).toContain('overstated by 12 at 32 °C');
    },
  );

  test('after an hour 45 °C has what 60 °C has; so has 32 °C, where a little less is measured (from memory)', () => {
    const [at60, at45, at32] = [60, 45, 32].map((temperatureC) => converted(60, { ...MUCH, temperatureC }));
    expect(at60!.value - at45!.value).toBeLessThan(0.1);
    expect(at60!.value - at32!.value).toBeLessThan(0.1);
    // The lower bound leaves room for it.
    expect(at60!.low - at32!.low).toBeGreaterThan(5);
  });

  test('6:1 comes to rest at 93, 96 and 99 %, as the constants are chosen to', () => {
    const { low, value, high } = converted(1e6, MUCH);
    expect([low, value, high].map(Math.round)).toEqual([93, 96, 99]);
  });
});

test('palm oil, 10:1, 0.125 mol NaOH a kg, 60 °C: over 99 % is within the bounds (Cheng 2004, JOPR 16(2):19)', () => {
  const band = converted(60, { methanolToOilMolar: 10, catalystPercentOfOilMass: 12.5 * 0.039997 });
  expect(band.high).toBeGreaterThan(99);
  expect(band.value).toBeGreaterThan(99);
});

describe('against published rate constants, integrated by ODEX', () => {
  // L/(mol min), read in the supplement of Opara & Oh; Noureddini & Zhu at 60 °C from their activation energies.
  // 6:1, but where another ratio is given. A litre as the model has it: neat, at 20 °C.
  type Row = readonly [source: string, temperatureC: number, percent: number, Rates];
  const NZ: readonly Row[] = [
    ['Noureddini & Zhu 1997', 50, 0.2, [0.05, 0.11, 0.215, 1.228, 0.242, 0.007]],
    ['Noureddini & Zhu 1997', 60, 0.2, [0.09337, 0.17612, 0.55112, 2.44383, 0.32824, 0.01103]],
  ];
  const VICENTE: readonly Row[] = [
    ['Vicente 2005', 55, 0.5, [0.8, 5.95, 10.5, 15.9, 0.34, 0.0035]],
    ['Vicente 2005', 55, 1, [1.55, 8.5, 20.5, 22.5, 0.61, 0.0012]],
    ['Vicente 2005', 55, 1.5, [2.05, 10.9, 30.1, 29.5, 0.83, 0.0001]],
    ['Vicente 2005', 65, 0.5, [1.5, 13.7, 23, 41.4, 0.4, 0.0026]],
    ['Vicente 2005', 65, 1, [3.06, 23.9, 32.5, 57.5, 0.54, 0.0009]],
    ['Vicente 2005', 65, 1.5, [4, 27, 55, 65.5, 0.91, 0.0001]],
  ];
  const KLOFUTAR: readonly Row[] = [
    ['Klofutar 2010, sunflower', 40, 1, [0.0247, 0.0558, 0.0703, 0.0015, 0.0394, 0.0042]],
    ['Klofutar 2010, sunflower', 50, 1, [0.0772, 0.168, 0.0972, 0.0265, 0.067, 0.0088]],
    ['Klofutar 2010, rapeseed', 40, 1, [0.0443, 0.2334, 0.0645, 0.0699, 0.2681, 0.0047]],
    ['Klofutar 2010, rapeseed', 50, 1, [0.0879, 0.4777, 0.1555, 0.1396, 0.7478, 0.0061]],
  ];
  const JANSRI: readonly Row[] = [
    ['Jansri 2011', 55, 0.6, [2.579, 0.02, 0.6, 0.101, 0.9, 0.021]],
    // biome-ignore lint/suspicious/noApproximativeNumericConstant: 2.303 is the rate they print
    ['Jansri 2011', 60, 0.6, [2.6, 0.248, 1.186, 0.227, 2.303, 0.022]],
    ['Jansri 2011', 65, 0.6, [2.62, 0.7, 1.21, 0.4, 2.36, 0.028]],
  ];
  const LEEVIJIT: Row = ['Leevijit 2004', 60, 1, [0.01057, 0, 0.1184, 0.08187, 0.131, 0.00201]];
  const KARMEE: Row = ['Karmee 2006', 60, 1, [0.0286, 0.0144, 0.0058, 0.0213, 0.0111, 0.0005]];
  const OKULLO: Row = ['Okullo 2011', 60, 0.5, [0.103, 0.031, 0.063, 0.01, 0.016, 0.175]];

  const MINUTES = [1, 2, 5, 10, 20, 30, 45, 60];
  const theirs = ([, , , rates]: Row, minutes: number, ratio = 6): number => {
    const litres = 0.954 + 0.0405 * ratio;
    const each = rates.map((rate) => rate / litres) as unknown as Rates;
    return (reacted(freshPot(ratio), each, minutes).ester * 100) / 3;
  };
  const ours = ([source, temperatureC, catalystPercentOfOilMass]: Row, minutes: number, ratio = 6): Band =>
    converted(minutes, {
      methanolToOilMolar: ratio,
      catalyst: /Noureddini|Jansri|Leevijit|Okullo/.test(source) ? 'NaOH' : 'KOH',
      catalystPercentOfOilMass,
      temperatureC,
    });

  const [SUNFLOWER, RAPESEED] = [KLOFUTAR.slice(0, 2), KLOFUTAR.slice(2)];

  test.for([...NZ, ...VICENTE, ...RAPESEED])(
    '%s, %d °C, %d %%: the first hour lies within the bounds, to a percentage point',
    (row) => {
      for (const minutes of MINUTES) expect(isWithin(theirs(row, minutes), ours(row, minutes), 1)).toBe(true);
    },
  );

  test('Klofutar 2010 for sunflower is up to 5 points below the lower bound at 40 °C, and 1 at 50 °C', () => {
    const below = SUNFLOWER.map((row) =>
      Math.max(...MINUTES.map((minutes) => ours(row, minutes).low - theirs(row, minutes))),
    );
    expect(below.map(Math.round)).toEqual([5, 1]);
    expect(conversionPercent.disagreement).toContain('up to 5 points below them at 40 °C and 1 at 50 °C');
  });

  test('Jansri 2011 is up to 2 points above the upper bound at 60 °C, and within one at 55 and 65 °C', () => {
    const above = JANSRI.map((row) =>
      Math.max(...MINUTES.map((minutes) => theirs(row, minutes) - ours(row, minutes).high)),
    );
    expect(above.map(Math.round)).toEqual([0, 2, 0]);
    expect(conversionPercent.disagreement).toContain('up to 2 above at 60 °C and within one at 55 and 65 °C');
    for (const row of JANSRI)
      for (const minutes of MINUTES) expect(theirs(row, minutes)).toBeGreaterThan(ours(row, minutes).low);
  });

  test.for([LEEVIJIT, KARMEE])('%s is below the lower bound for all of the first hour', (row) => {
    const ratio = row === KARMEE ? 10 : 6;
    for (const minutes of MINUTES)
      expect(theirs(row, minutes, ratio)).toBeLessThan(ours(row, minutes, ratio).low);
  });

  test('Okullo 2011 comes to rest at 68 %, far under the lower bound at rest', () => {
    expect(Math.round(theirs(OKULLO, 5000))).toBe(68);
    expect(ours(OKULLO, 5000).low).toBeGreaterThan(90);
  });

  test.for(NZ)('%s at %d °C comes to rest at 84 to 85 %%, which is never taken for the end', (row) => {
    const ceiling = theirs(row, 2000);
    expect([84, 85]).toContain(Math.round(ceiling));
    expect(ours(row, 60).value).toBeGreaterThan(ceiling);
    expect(ours(row, 1e6).low).toBeGreaterThan(ceiling + 5);
  });

  test('those of 1 % KOH by Vicente 2005 come to rest at 98 and 99 %, between our value and our upper bound', () => {
    const rows = VICENTE.filter(([, , percent]) => percent === 1);
    const atRest = rows.map((row) => theirs(row, 1000));
    expect(atRest.map(Math.round)).toEqual([99, 98]);
    rows.forEach((row, i) => {
      expect(ours(row, 1e6).value).toBeLessThan(atRest[i]!);
      expect(ours(row, 1e6).high).toBeGreaterThan(atRest[i]!);
    });
  });

  test('differ from each other by the factors that are stated', () => {
    const rates = [...NZ, ...VICENTE, ...KLOFUTAR, ...JANSRI, LEEVIJIT, KARMEE, OKULLO].map(([, , , k]) => k);
    const factors = ([0, 2, 4] as const).map((step) => {
      const forward = rates.map((k) => k[step]);
      return Math.max(...forward) / Math.min(...forward);
    });
    expect(Math.round(Math.min(...factors) / 100) * 100).toBe(200);
    expect(Math.floor(Math.max(...factors) / 1000) * 1000).toBe(9000);
    expect(conversionPercent.disagreement).toContain('factors of 200 to 9,000');
  });
});

describe('the speed of the reaction', () => {
  test('is that of Noureddini & Zhu’s printed constants of the first step, 30 to 70 °C', () => {
    // 3.92e7 · exp(−6614.83 / T), L/(mol min), as three reprints have it.
    for (const [temperatureC, rate] of [
      [30, 0.01309],
      [40, 0.02627],
      [60, 0.09337],
      [65, 0.12523],
      [70, 0.16653],
    ] as const) {
      expect(reactionRate({ temperatureC, plannedC: 50 }) / (rate / 0.05051)).toBeCloseTo(1, 3);
    }
  });

  test('is about that measured for triglycerides of palm oil (Darnoko & Cheryan 2000, from memory)', () => {
    // 0.018, 0.024, 0.036, 0.048 1/(wt% min) at 50 to 65 °C; 14.7 kcal/mol, published, is 12 % more than ours.
    for (const [temperatureC, rate] of [
      [55, 0.024],
      [60, 0.036],
      [65, 0.048],
    ] as const) {
      expect(Math.abs(reactionRate({ temperatureC, plannedC: 50 }) / (rate / 0.018) - 1)).toBeLessThan(0.15);
    }
    expect(reactionRate.disagreement).toContain(String(Math.round(14.7 * 4.184)));
  });

  const temperature = fc.double({ min: -100, max: 300, noNaN: true });
  test('is 1 at the planned temperature, rises with it, and goes there and back', () => {
    fc.assert(
      fc.property(temperature, temperature, temperature, (a, b, c) => {
        expect(reactionRate({ temperatureC: a, plannedC: a })).toBe(1);
        const there = reactionRate({ temperatureC: a, plannedC: b });
        expect(there).toBeGreaterThan(0);
        if (Math.abs(a - b) > 1e-6) expect(there < 1).toBe(a < b);
        expect(there * reactionRate({ temperatureC: b, plannedC: a })).toBeCloseTo(1, 9);
        const byWay =
          reactionRate({ temperatureC: c, plannedC: b }) * reactionRate({ temperatureC: a, plannedC: c });
        expect(byWay / there).toBeCloseTo(1, 9);
      }),
    );
  });

  test('is refused beyond −100 to 300 °C', () => {
    for (const field of ['temperatureC', 'plannedC'] as const) {
      for (const value of [-100.1, 300.1, Number.NaN, Number.POSITIVE_INFINITY]) {
        const error = refusal(() => reactionRate({ temperatureC: 55, plannedC: 55, [field]: value }));
        expect(error).toMatchObject({ code: 'out-of-range', field, value, allowed: '-100 to 300 °C' });
      }
    }
  });
});

describe('a temperature that changes', () => {
  // To the temperature, away, a cold stretch, back, and hot at the end.
  const HISTORY: readonly Stretch[] = [
    { minutes: 6, fromC: 38, toC: 57 },
    { minutes: 9, fromC: 57, toC: 52 },
    { minutes: 5, fromC: 52, toC: 29 },
    { minutes: 12, fromC: 29, toC: 31 },
    { minutes: 4, fromC: 31, toC: 55 },
    { minutes: 20, fromC: 55, toC: 61 },
  ];
  /** Time weighted by the speed, by Simpson’s rule in pieces of a hundredth of a stretch. */
  const weighted = (history: readonly Stretch[], plannedC: number): number =>
    history.reduce((sum, { minutes, fromC, toC }) => {
      const rate = (part: number) => reactionRate({ temperatureC: fromC + (toC - fromC) * part, plannedC });
      let area = 0;
      for (let i = 0; i < 100; i++) area += rate(i / 100) + 4 * rate((i + 0.5) / 100) + rate((i + 1) / 100);
      return sum + (minutes * area) / 600;
    }, 0);

  test.for([
    ['usual', {}],
    ['little catalyst', { catalystPercentOfOilMass: 0.1, methanolToOilMolar: 12 }],
    ['an acid oil, KOH', { catalyst: 'KOH', catalystPercentOfOilMass: 1.2, acidNumberMgKOHPerG: 3 }],
    ['little methanol', { methanolToOilMolar: 3 }],
  ] as const)('%s: the weighted minutes give what the whole system, integrated, gives', ([, other]) => {
    for (const plannedC of [45, 55, 60]) {
      const told = { ...USUAL, ...other, temperatureC: plannedC };
      const band = conversionPercent({ ...told, minutes: [weighted(HISTORY, plannedC)] });
      for (const bound of BOUNDS)
        expect(Math.abs(band[bound] - percentAfter(told, [HISTORY], bound))).toBeLessThan(INTEGRATED);
    }
  });

  test('in two passes, each with its own history', () => {
    const told = { ...USUAL, passSharesPercent: [80, 20], acidNumberMgKOHPerG: 0.5, temperatureC: 55 };
    const second = [
      { minutes: 10, fromC: 40, toC: 58 },
      { minutes: 15, fromC: 58, toC: 50 },
    ];
    const band = conversionPercent({ ...told, minutes: [weighted(HISTORY, 55), weighted(second, 55)] });
    for (const bound of BOUNDS)
      expect(Math.abs(band[bound] - percentAfter(told, [HISTORY, second], bound))).toBeLessThan(
        2 * INTEGRATED,
      );
  });

  test('the speed that weights it is Arrhenius’ with 55 kJ/mol', () => {
    expect(reactionRate({ temperatureC: 41, plannedC: 57 })).toBeCloseTo(arrhenius(41, 57), 9);
  });
});

describe('passes', () => {
  const two = (minutes: number[], other: Partial<ReactionInputs> = {}) =>
    conversionPercent({ ...USUAL, ...other, passSharesPercent: [80, 20], minutes });

  test('a second pass brings more than the first, and more than all at once', () => {
    for (const bound of BOUNDS) expect(two([60, 60])[bound]).toBeGreaterThan(two([60])[bound] + 1);
    expect(two([60, 60]).value).toBeGreaterThan(converted(120).value);
  });

  test('a last pass that has not begun changes nothing', () => {
    expect(two([60, 0])).toEqual(two([60]));
    expect(conversionPercent({ ...USUAL, minutes: [60, 0] })).toEqual(converted(60));
  });

  test('a first pass of next to no time takes next to none of the methanol with it', () => {
    expect(two([1e-6, 60]).value).toBeCloseTo(two([0, 60]).value, 4);
    expect(two([0.1, 60]).value).toBeGreaterThan(two([0, 60]).value - 1);
  });

  test('minutes beyond the passes’ shares bring no methanol and no catalyst', () => {
    expect(conversionPercent({ ...USUAL, minutes: [60, 60] })).toEqual(converted(60));
  });

  test('the oil’s acid is taken from the first pass’s catalyst, and only once', () => {
    // 0.5 % NaOH is 0.125 mol/kg: 80 % of it 0.100, all of which acid number 5.3 (0.0945) and the loss take.
    const acid = { acidNumberMgKOHPerG: 5.3 };
    expect(two([600], acid)).toEqual({ low: 0, value: 0, high: 0 });
    expect(two([600, 600], acid).value).toBeGreaterThan(50);
  });
});

// ---- over the whole range ----

const spread = (most: number) =>
  fc.oneof(
    fc.double({ min: 0, max: most, noNaN: true }),
    fc.double({ min: -6, max: Math.log10(most), noNaN: true }).map((exponent) => 10 ** exponent),
  );
const anyReaction = fc.record({
  methanolToOilMolar: spread(1000),
  catalyst: fc.constantFrom(...BASE_KINDS),
  catalystPercentOfOilMass: spread(100),
  acidNumberMgKOHPerG: spread(600),
  passSharesPercent: fc.array(spread(100), { minLength: 1, maxLength: 4 }),
  temperatureC: fc.double({ min: 0, max: 150, noNaN: true }),
});
const onePass = anyReaction.map((reaction) => ({ ...reaction, passSharesPercent: [100] }));
/** As people make it. */
const usualReaction = fc.record({
  methanolToOilMolar: fc.double({ min: 3, max: 24, noNaN: true }),
  catalyst: fc.constantFrom(...BASE_KINDS),
  catalystPercentOfOilMass: fc.double({ min: 0.1, max: 1.5, noNaN: true }),
  acidNumberMgKOHPerG: fc.double({ min: 0, max: 3, noNaN: true }),
  passSharesPercent: fc.constant([100]),
  temperatureC: fc.double({ min: 30, max: 70, noNaN: true }),
});
const minutes = spread(1e9);

const isEstimate = ({ low, value, high }: Band, most: number): boolean =>
  0 <= low && low <= value && value <= high && high <= most;

describe('over the whole range', () => {
  test('a conversion is 0 to 100 % and between its bounds', () => {
    fc.assert(
      fc.property(anyReaction, fc.array(minutes, { minLength: 1, maxLength: 5 }), (reaction, lasted) => {
        expect(isEstimate(conversionPercent({ ...reaction, minutes: lasted }), 100)).toBe(true);
      }),
      { numRuns: share(1000) },
    );
  });

  test('a time is 0 min to a day and between its bounds', () => {
    fc.assert(
      fc.property(anyReaction, (reaction) => {
        expect(isEstimate(reactionMinutes(reaction), 1440)).toBe(true);
      }),
      { numRuns: share(500) },
    );
  });

  test('a conversion is no more than whole with very much of all, in several passes', () => {
    const told = { ...USUAL, methanolToOilMolar: 880, catalystPercentOfOilMass: 12, temperatureC: 30 };
    const passes = { passSharesPercent: [61, 0.75, 0.04], minutes: [468, 159, 0.05] };
    expect(isEstimate(conversionPercent({ ...told, ...passes }), 100)).toBe(true);
    fc.assert(
      fc.property(
        fc.double({ min: 100, max: 1000, noNaN: true }),
        fc.double({ min: 5, max: 100, noNaN: true }),
        fc.array(fc.double({ min: 0.01, max: 60, noNaN: true }), { minLength: 2, maxLength: 4 }),
        fc.array(fc.double({ min: 0.01, max: 1000, noNaN: true }), { minLength: 2, maxLength: 4 }),
        (methanolToOilMolar, catalystPercentOfOilMass, passSharesPercent, lasted) => {
          const much = { ...told, methanolToOilMolar, catalystPercentOfOilMass, passSharesPercent };
          expect(isEstimate(conversionPercent({ ...much, minutes: lasted }), 100)).toBe(true);
        },
      ),
    );
  });

  test('every corner of it gives a number', () => {
    const corners = <T>(...lists: T[][]): T[][] =>
      lists.reduce<T[][]>((all, list) => all.flatMap((some) => list.map((one) => [...some, one])), [[]]);
    const least = Number.MIN_VALUE;
    for (const [ratio, percent, acid, temperatureC, share, lasted] of corners(
      [0, least, 1e-300, 1e-9, 1000],
      [0, least, 100],
      [0, least, 600],
      [0, 150],
      [0, least, 100],
      [0, least, 1e-100, 1e9],
    ) as [number, number, number, number, number, number][]) {
      const reaction = {
        methanolToOilMolar: ratio,
        catalyst: 'KOH' as const,
        catalystPercentOfOilMass: percent,
        acidNumberMgKOHPerG: acid,
        passSharesPercent: [share, share],
        temperatureC,
      };
      expect(isEstimate(conversionPercent({ ...reaction, minutes: [lasted, lasted] }), 100)).toBe(true);
      expect(isEstimate(reactionMinutes(reaction), 1440)).toBe(true);
    }
  });

  test('no time, no methanol or no catalyst is no ester', () => {
    const none = { low: 0, value: 0, high: 0 };
    fc.assert(
      fc.property(anyReaction, minutes, (reaction, lasted) => {
        expect(conversionPercent({ ...reaction, minutes: [0] })).toEqual(none);
        expect(conversionPercent({ ...reaction, methanolToOilMolar: 0, minutes: [lasted] })).toEqual(none);
        expect(conversionPercent({ ...reaction, catalystPercentOfOilMass: 0, minutes: [lasted] })).toEqual(
          none,
        );
      }),
    );
  });

  // In one pass. Of several, an earlier one that goes further takes more methanol with its glycerol.
  test('a conversion never falls with time, catalyst or temperature, nor rises with acid', () => {
    const smaller = (a: Band, b: Band) => {
      for (const bound of BOUNDS) expect(a[bound]).toBeLessThanOrEqual(b[bound] + INTEGRATED);
    };
    const pair = (of: fc.Arbitrary<number>) =>
      fc.tuple(of, of).map(([a, b]) => [Math.min(a, b), Math.max(a, b)] as const);
    const celsius = fc.double({ min: 0, max: 150, noNaN: true });
    fc.assert(
      fc.property(
        fc.oneof(onePass, usualReaction),
        minutes,
        pair(minutes),
        pair(spread(100)),
        pair(celsius),
        pair(spread(600)),
        (reaction, lasted, times, percents, temperatures, acids) => {
          const give = (other: Partial<ReactionInputs>, for_ = lasted) =>
            conversionPercent({ ...reaction, ...other, minutes: [for_] });
          smaller(give({}, times[0]), give({}, times[1]));
          smaller(
            give({ catalystPercentOfOilMass: percents[0] }),
            give({ catalystPercentOfOilMass: percents[1] }),
          );
          smaller(give({ temperatureC: temperatures[0] }), give({ temperatureC: temperatures[1] }));
          smaller(give({ acidNumberMgKOHPerG: acids[1] }), give({ acidNumberMgKOHPerG: acids[0] }));
        },
      ),
      { numRuns: share(300) },
    );
  });

  test('a conversion never falls with the time of the last pass', () => {
    fc.assert(
      fc.property(
        anyReaction,
        fc.array(minutes, { maxLength: 3 }),
        minutes,
        minutes,
        (reaction, earlier, a, b) => {
          const give = (last: number) =>
            conversionPercent({ ...reaction, minutes: [...earlier, last] }).value;
          expect(give(Math.min(a, b))).toBeLessThanOrEqual(give(Math.max(a, b)) + INTEGRATED);
        },
      ),
    );
  });

  test('the same moles of either base give the same', () => {
    fc.assert(
      fc.property(usualReaction, fc.double({ min: 0, max: 600, noNaN: true }), (reaction, lasted) => {
        const sodium = { ...reaction, catalyst: 'NaOH' as const, minutes: [lasted] };
        const potassium = {
          ...sodium,
          catalyst: 'KOH' as const,
          catalystPercentOfOilMass: (sodium.catalystPercentOfOilMass * 56.105) / 39.997,
        };
        expect(conversionPercent(potassium).value).toBeCloseTo(conversionPercent(sodium).value, 3);
      }),
    );
  });

  test('what it gives is what its printed formula gives, integrated by ODEX', () => {
    fc.assert(
      fc.property(usualReaction, fc.double({ min: 0, max: 120, noNaN: true }), (reaction, lasted) => {
        const { temperatureC: t } = reaction;
        const band = conversionPercent({ ...reaction, minutes: [lasted] });
        for (const bound of BOUNDS) {
          const whole = percentAfter(reaction, [[{ minutes: lasted, fromC: t, toC: t }]], bound);
          expect(Math.abs(band[bound] - whole)).toBeLessThan(INTEGRATED);
        }
      }),
      { numRuns: share(25) },
    );
  });
});

describe('the time that the reaction takes', () => {
  test('is when 98 % of the conversion at rest is reached', () => {
    fc.assert(
      fc.property(usualReaction, (reaction) => {
        const time = reactionMinutes(reaction);
        // The fast run has the high conversion and the low time.
        for (const [of, bound] of [
          ['value', 'value'],
          ['low', 'high'],
          ['high', 'low'],
        ] as const) {
          if (time[of] === 1440 || time[of] === 0) continue;
          const atThatTime = conversionPercent({ ...reaction, minutes: [time[of]] })[bound];
          const atRest = conversionPercent({ ...reaction, minutes: [1e7] })[bound];
          // Bisected to a ten-thousandth of the last step; all of the pot may be slow.
          expect(Math.abs(atThatTime / atRest - 0.98)).toBeLessThan(1e-4);
        }
      }),
    );
  });

  test.for([
    // 3.5 g/L of NaOH and 22 % of methanol: brackets the hour of common practice (no source).
    [0.38, 5.18, 7, 92],
    [0.5, 6, 3, 58],
  ] as const)('with %d %% of NaOH and %d:1 at 55 °C is %d to %d min', ([percent, ratio, least, most]) => {
    const { low, high } = reactionMinutes({
      ...USUAL,
      methanolToOilMolar: ratio,
      catalystPercentOfOilMass: percent,
      temperatureC: 55,
    });
    expect([low, high].map(Math.round)).toEqual([least, most]);
    expect(reactionMinutes.disagreement).toContain(`(${least} to ${most} min)`);
  });

  test('is a day where the acid takes all the catalyst: not within a day', () => {
    expect(reactionMinutes({ ...USUAL, acidNumberMgKOHPerG: 10 })).toEqual({
      low: 1440,
      value: 1440,
      high: 1440,
    });
  });
});

describe('what is out of range is refused by name', () => {
  test.for([
    ['methanolToOilMolar', -0.001, '0 to 1000'],
    ['methanolToOilMolar', 1000.1, '0 to 1000'],
    ['methanolToOilMolar', Number.NaN, '0 to 1000'],
    ['catalyst', 'LiOH', 'NaOH or KOH'],
    ['catalystPercentOfOilMass', -0.1, '0 to 100 %'],
    ['catalystPercentOfOilMass', 100.1, '0 to 100 %'],
    ['acidNumberMgKOHPerG', -1, '0 to 600 mg KOH/g'],
    ['acidNumberMgKOHPerG', 601, '0 to 600 mg KOH/g'],
    ['passSharesPercent', [], '0 to 100 %'],
    ['passSharesPercent', [80, -20], '0 to 100 %'],
    ['passSharesPercent', [101], '0 to 100 %'],
    ['passSharesPercent', 100, '0 to 100 %'],
    ['temperatureC', -0.1, '0 to 150 °C'],
    ['temperatureC', 150.1, '0 to 150 °C'],
    ['temperatureC', undefined, '0 to 150 °C'],
    ['minutes', [], '0 to 1000000000 min'],
    ['minutes', [60, -1], '0 to 1000000000 min'],
    ['minutes', [Number.NaN], '0 to 1000000000 min'],
    ['minutes', [1.1e9], '0 to 1000000000 min'],
  ] as const)('%s: %j', ([field, value, allowed]) => {
    const told = { ...USUAL, minutes: [60], [field]: value };
    const expected = { code: 'out-of-range', field, value, allowed };
    expect(refusal(() => conversionPercent(told as never))).toMatchObject(expected);
    if (field !== 'minutes') expect(refusal(() => reactionMinutes(told as never))).toMatchObject(expected);
  });

  test('and what no source vouches for is named', () => {
    expect(extrapolated(conversionPercent, { ...USUAL, minutes: [60] })).toEqual([]);
    expect(
      extrapolated(conversionPercent, {
        ...USUAL,
        methanolToOilMolar: 2,
        catalystPercentOfOilMass: 2,
        temperatureC: 20,
        minutes: [60, 1441],
      }),
    ).toEqual(['methanolToOilMolar', 'catalystPercentOfOilMass', 'temperatureC', 'minutes']);
  });
});
