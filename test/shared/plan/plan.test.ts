import { describe, expect, test } from 'vitest';
import { planAnswerSchema } from '../../../shared/plan/answer.ts';
import { computePlan } from '../../../shared/plan/compute.ts';
import { readPlanRequest } from '../../../shared/plan/read-request.ts';
import type { PlanRequest } from '../../../shared/plan/request.ts';
import { resolveWatchPlan } from '../../../shared/plan/watch-plan.ts';
import { LIMIT_DEFAULTS } from '../../../shared/rules/limits.ts';
import { parseReplayLine, replayLineSchema } from '../../../shared/wire/replay-line.ts';

/** Numbers beside the checks are worked out by hand from the sources named, not by the code. */

const planOf = (request: unknown) => computePlan(readPlanRequest(request));

/** Of used oil, a drum, every field stated. */
const DRUM = {
  oil: {
    volumeL: 100,
    volumeAtC: 20,
    kind: 'used',
    titration: { mL: 2.4, blankMl: 0, titrant: 'NaOH', gPerL: 1, sampleMl: 1, purityPercent: 98 },
    waterPpm: 400,
    methanolInFeed: false,
  },
  methanol: { percentOfOilVolume: 22, startC: 20 },
  catalyst: { kind: 'NaOH', purityPercent: 98, baseGPerL: 3.5, grams: null },
  passes: [{ sharePercent: 100 }],
  site: { altitudeM: 340 },
  reaction: { temperatureC: 55 },
  vessel: { liquidHeightM: 0.6 },
  watch: {
    requiredReactionMinutes: 60,
    requiredSettleHours: 24,
    lowestStirrerSpeed: 200,
    lowestPumpFlow: null,
    readingEverySeconds: 1,
    mixingStated: false,
    limits: {},
  },
} satisfies PlanRequest;

/** The drum, with parts of it changed. */
function drum(changes: { [part in keyof PlanRequest]?: object } = {}) {
  const parts = Object.entries(changes).map(([part, change]) => [
    part,
    Array.isArray(change) ? change : { ...DRUM[part as keyof typeof DRUM], ...change },
  ]);
  return planOf({ ...DRUM, ...Object.fromEntries(parts) });
}

const titrated = (titration: object, catalyst: object = {}) =>
  drum({ oil: { titration: { ...DRUM.oil.titration, ...titration } }, catalyst });

describe('catalyst', () => {
  test('as weighed: the base dose by its purity, the titration flake for flake', () => {
    // 2.4 mL of 1 g/L took 2.4 mg of flake for a millilitre of oil, whatever its purity.
    const grams = 100 * (3.5 / 0.98 + 2.4 * 1);
    const plan = drum();
    expect(plan.catalystG).toBeCloseTo(grams, 9);
    expect(plan.catalystNeededG).toBe(plan.catalystG);
    expect(plan.catalystPercentOfOilMass).toBeCloseTo((grams * 0.98) / plan.oilKg / 10, 12);
  });

  test('the titrant’s purity is the catalyst’s where both are of a kind, and nobody says otherwise', () => {
    const { purityPercent: _, ...titration } = DRUM.oil.titration;
    expect(drum({ oil: { titration } }).catalystG).toBeCloseTo(100 * (3.5 / 0.98 + 2.4), 9);
    expect(drum({ oil: { titration }, catalyst: { purityPercent: 90 } }).catalystG).toBeCloseTo(
      100 * (3.5 / 0.9 + 2.4),
      9,
    );
    // Pure KOH in the titrant: moles, by the IUPAC molar masses.
    expect(drum({ oil: { titration: { ...titration, titrant: 'KOH' } } }).catalystG).toBeCloseTo(
      (100 * (3.5 + (2.4 * 39.997) / 56.105)) / 0.98,
      9,
    );
  });

  test('a titrant of another purity than the catalyst: the moles count', () => {
    expect(titrated({ purityPercent: 100 }).catalystG).toBeCloseTo((100 * (3.5 + 2.4)) / 0.98, 9);
    expect(titrated({ purityPercent: 49 }).catalystG).toBeCloseTo((100 * (3.5 + 1.176)) / 0.98, 9);
  });

  test('a titrant of another base: the moles count', () => {
    const extra = (0.98 * 2.4 * 39.997) / 56.105;
    expect(titrated({ titrant: 'KOH' }).catalystG).toBeCloseTo((100 * (3.5 + extra)) / 0.98, 9);
    expect(titrated({}, { kind: 'KOH', baseGPerL: 4.9 }).catalystG).toBeCloseTo(
      (100 * (4.9 + (0.98 * 2.4 * 56.105) / 39.997)) / 0.98,
      9,
    );
  });

  test('strength, sample and blank of the titration', () => {
    const needed = (titration: object) => titrated(titration).catalystG;
    expect(needed({ mL: 1.2, gPerL: 2 })).toBeCloseTo(needed({}), 9);
    expect(needed({ mL: 24, sampleMl: 10 })).toBeCloseTo(needed({}), 9);
    expect(needed({ mL: 2.7, blankMl: 0.3 })).toBeCloseTo(needed({}), 9);
    // No less than the base dose: a run under the blank is within what can be read.
    expect(needed({ mL: 0.2, blankMl: 0.3 })).toBeCloseTo(350 / 0.98, 9);
  });

  test('left out is what the oil was titrated with, and else NaOH', () => {
    const catalyst = (request: object) => planOf(request).catalyst;
    const oil = (titrant: string) => ({ titration: { mL: 2, titrant } });
    expect(catalyst({})).toBe('NaOH');
    expect(catalyst({ oil: { titration: null } })).toBe('NaOH');
    expect(catalyst({ oil: oil('KOH') })).toBe('KOH');
    expect(catalyst({ oil: oil('NaOH') })).toBe('NaOH');
    expect(catalyst({ oil: oil('KOH'), catalyst: { kind: 'NaOH' } })).toBe('NaOH');
    // With its own purity, and its own dose.
    expect(planOf({ oil: oil('KOH'), catalyst: { purityPercent: 85 } }).catalystG).toBeCloseTo(
      100 * ((3.5 * 56.105) / 39.997 / 0.85 + 2),
      9,
    );
  });

  test('what the titration adds is told apart', () => {
    expect(drum().catalystForAcidG).toBeCloseTo(240, 9);
    expect(titrated({ mL: 0 }).catalystForAcidG).toBeCloseTo(0, 9);
    // Whatever is weighed in its stead.
    expect(drum({ catalyst: { grams: 700 } }).catalystForAcidG).toBeCloseTo(240, 9);
  });

  test('of several runs the mean counts, and the spread is shown', () => {
    const plan = titrated({ mL: [2.2, 2.4, 2.6] });
    expect(plan.catalystG).toBeCloseTo(100 * (3.5 / 0.98 + 2.4), 9);
    expect(plan.titration).toEqual({
      meanMl: expect.closeTo(2.4, 12),
      spreadMl: expect.closeTo(0.4, 12),
      runs: 3,
      molPerL: expect.closeTo((2.4 * 0.98) / 39.997, 12),
    });
    expect(drum({ oil: { titration: null } }).titration).toBeNull();
  });

  test('an amount given is checked, not computed', () => {
    const plan = drum({ catalyst: { grams: 700 } });
    expect(plan.catalystG).toBe(700);
    expect(plan.catalystNeededG).toBeCloseTo(100 * (3.5 / 0.98 + 2.4), 9);
    expect(plan.catalystPercentOfOilMass).toBeCloseTo((700 * 0.98) / plan.oilKg / 10, 12);
    expect(plan.watch.chemistry.catalystPercentOfOilMass).toBe(plan.catalystPercentOfOilMass);
    expect(plan.methoxidePeakC).toBeGreaterThan(drum().methoxidePeakC);
  });

  test('more than the mass of the oil is refused, by however little', () => {
    const oil = { volumeL: 312.28723993319255, kind: 'olive' };
    const catalyst = { purityPercent: 97.83149594983969, grams: 291374.25513473945 };
    expect(() => planOf({ oil, catalyst })).toThrow(
      expect.objectContaining({ code: 'out-of-range', field: 'catalyst.grams', value: catalyst.grams }),
    );
    const { catalystPercentOfOilMass } = planOf({ oil, catalyst: { ...catalyst, grams: 291374 } });
    expect(catalystPercentOfOilMass).toBeCloseTo(100, 3);
  });

  test('the base dose left out: 3.5 g/L for fresh oil, 5 for used, of KOH the same in moles', () => {
    // Common practice, no source.
    const dose = (kind: string, catalyst: string) =>
      planOf({ oil: { kind }, catalyst: { kind: catalyst, purityPercent: 100 } }).catalystG / 100;
    expect(dose('rapeseed', 'NaOH')).toBeCloseTo(3.5, 12);
    expect(dose('used', 'NaOH')).toBeCloseTo(5, 12);
    // × 1.4027: IUPAC molar masses.
    expect(dose('rapeseed', 'KOH')).toBeCloseTo(3.5 * 1.4027, 3);
    expect(dose('used', 'KOH')).toBeCloseTo(5 * 1.4027, 3);
  });
});

describe('the oil', () => {
  test('acid number and free fatty acid', () => {
    // For a millilitre of 1 g/L of pure NaOH on a millilitre of oil at 0.92 kg/L: 1.5247 mg KOH/g and
    // 0.7676 % (definition of the acid value, EN 14104, section 10; IUPAC atomic weights).
    const plan = drum();
    const millilitres = (2.4 * 0.98 * 920) / plan.oilDensityKgPerM3;
    expect(plan.acidNumberMgKOHPerG).toBeCloseTo(1.5247 * millilitres, 3);
    expect(plan.freeFattyAcidPercent).toBeCloseTo(0.7676 * millilitres, 3);
    const koh = titrated({ titrant: 'KOH' });
    expect(koh.acidNumberMgKOHPerG).toBeCloseTo(1.087 * millilitres, 3);
    expect(koh.freeFattyAcidPercent).toBeCloseTo(0.5472 * millilitres, 3);
  });

  test('soap and water of the acid, mole for mole', () => {
    // 2.4 · 0.98 / 39.997 mol for a litre; sodium oleate 304.45 g/mol, water 18.015 (IUPAC).
    const mol = (100 * 2.4 * 0.98) / 39.997;
    const plan = drum();
    expect(plan.soapG).toBeCloseTo(mol * 304.45, 6);
    expect(plan.soapWaterG).toBeCloseTo(mol * 18.015, 6);
    // The soap is that of the catalyst, whatever it was titrated with.
    const koh = titrated({}, { kind: 'KOH' });
    expect(koh.soapG).toBeCloseTo(mol * 320.558, 6);
    // No less than that, and no more than all of the catalyst makes: 597.143 g of 98 %, 39.997 g/mol.
    expect(plan.soapGLow).toBe(plan.soapG);
    expect(plan.soapGHigh).toBeCloseTo(((597.142857 * 0.98) / 39.997) * 304.45, 3);
    // Where the acid takes all of it that is the same: no free catalyst is left.
    const spent = titrated({ mL: 7 }, { grams: 700 });
    expect(spent.soapGHigh).toBeCloseTo(spent.soapG, 6);
  });

  test('measured at 55 °C weighs 2.4 % less than the same litres at 20 °C', () => {
    // −0.00064 g/cm³ per °C of some 0.92 g/cm³ (Rodenbush et al. 1999, JAOCS 76:1415).
    for (const kind of ['soybean', 'rapeseed', 'sunflower', 'used']) {
      const kg = (volumeAtC: number) => drum({ oil: { kind, volumeAtC } }).oilKg;
      expect(100 * (1 - kg(55) / kg(20)), kind).toBeCloseTo(2.4, 1);
    }
  });

  test('verdict and esterification', () => {
    expect(titrated({ mL: 1 }).oilVerdict).toBe('good');
    const unknown = drum({ oil: { titration: null } });
    expect([unknown.oilVerdict, unknown.esterification]).toEqual(['not-titrated', null]);
    expect(titrated({ mL: 0 }).oilVerdict).toBe('good');
    const soapy = titrated({ mL: 2.4 });
    expect([soapy.oilVerdict, soapy.esterification]).toEqual(['more-soap', null]);
    const acid = titrated({ mL: 8 });
    expect(acid.oilVerdict).toBe('too-acid');
    // 20 mol of methanol for each of acid, 5 % of its mass as sulphuric acid of 96 % (Canakci & Van Gerpen
    // 2001, amounts from memory); one water for each.
    const mol = (100 * 8 * 0.98) / 39.997;
    expect(acid.esterification).toMatchObject({
      methanolKg: expect.closeTo((20 * mol * 32.042) / 1000, 9),
      sulphuricAcidKg: expect.closeTo((0.05 * mol * 282.468) / 1000 / 0.96, 9),
      waterKg: expect.closeTo((mol * 18.015) / 1000, 9),
      // Two bases for one sulphuric acid, 98.079 g/mol.
      baseForSulphuricAcidMol: expect.closeTo((2 * 0.05 * mol * 282.468) / 98.079, 9),
      baseForSulphuricAcidG: expect.closeTo((2 * 0.05 * mol * 282.468 * 39.997) / 98.079 / 0.98, 6),
    });
    // 791.35 kg/m³ at 20 °C: reference equation of state, computed with its published ancillary equation.
    const { methanolL, methanolKg } = acid.esterification!;
    expect(methanolKg / methanolL).toBeCloseTo(0.79135, 5);
  });
});

describe('methanol', () => {
  test('22 % by volume', () => {
    const plan = drum();
    expect(plan.methanolL).toBe(22);
    // 791.35 kg/m³ at 20 °C (reference equation of state).
    expect(plan.methanolKg).toBeCloseTo(22 * 0.79135, 3);
    expect(drum({ methanol: { startC: 0 } }).methanolKg).toBeCloseTo(22 * 0.81006, 3);
  });

  test.for([
    ['soybean', 25.5],
    ['rapeseed', 24.8],
    ['sunflower', 25.3],
  ] as const)('6:1 with %s is %d % of its volume', ([kind, percentOfOilVolume]) => {
    // Worked out from saponification value and density at 20 °C; printed to 0.1 %, and within 1 % as far as
    // the saponification values taken differ.
    const { methanolToOilMolar } = planOf({ oil: { kind }, methanol: { percentOfOilVolume } });
    expect(Math.abs(methanolToOilMolar / 6 - 1)).toBeLessThan(0.01);
  });

  test('moles of methanol by moles of oil', () => {
    const plan = drum();
    // 192 mg KOH/g is soybean’s saponification value, that is 3 · 56.1 · 1000 / 192 g/mol; used oil is taken so.
    expect(plan.oilMolarMassGPerMol).toBeCloseTo(876.6, 1);
    expect(plan.methanolToOilMolar).toBeCloseTo(plan.methanolKg / 32.042 / (plan.oilKg / 876.5625), 9);
    expect(plan.watch.chemistry.methanolToOilMolar).toBe(plan.methanolToOilMolar);
  });
});

describe('the place', () => {
  test('340 m', () => {
    const plan = drum();
    expect(plan.pressureHPa).toBeCloseTo(973.1, 1);
    expect(plan.methanolBoilingC).toBeCloseTo(63.5, 1);
    expect(plan.highestDosingC).toBeCloseTo(plan.methanolBoilingC - 5, 12);
    expect(plan.nearBoilingC).toBeCloseTo(plan.methanolBoilingC - 3, 12);
  });

  // U.S. Standard Atmosphere 1976 and the Antoine equation of Ambrose & Sprake 1970, computed apart; water by
  // IAPWS-IF97. ±0.25 K is how far published normal boiling points of methanol differ.
  test.for([
    [-300, 1049.812, 65.453, 100.971],
    [0, 1013.25, 64.549, 99.974],
    [1000, 898.746, 61.532, 96.649],
    [1609.344, 834.276, 59.689, 94.618],
    [3000, 701.085, 55.469, 89.972],
    [4000, 616.402, 52.421, 86.619],
  ] as const)('%d m', ([altitudeM, pressureHPa, methanolC, waterC]) => {
    const plan = drum({ site: { altitudeM } });
    expect(plan.pressureHPa).toBeCloseTo(pressureHPa, 2);
    expect(plan.methanolBoilingC).toBeCloseTo(methanolC, 2);
    expect(plan.waterBoilingC).toBeCloseTo(waterC, 2);
    // The weather: ±30 hPa are about ±0.8 K at sea level, and more higher up.
    expect(plan.methanolBoilingCHigh - plan.methanolBoilingC).toBeGreaterThan(0.7);
    expect(plan.methanolBoilingC - plan.methanolBoilingCLow).toBeLessThan(1.5);
  });

  test('a pressure that was read is the day’s: no spread', () => {
    const plan = planOf({ site: { pressureHPa: 900 } });
    expect(plan.pressureHPa).toBe(900);
    expect(plan.methanolBoilingC).toBeCloseTo(61.567, 2);
    expect([plan.methanolBoilingCLow, plan.methanolBoilingCHigh]).toEqual([
      plan.methanolBoilingC,
      plan.methanolBoilingC,
    ]);
  });

  test('under vacuum: 47.6 °C at 500 hPa, 36.5 °C at 300 hPa', () => {
    // The Antoine equation of Ambrose & Sprake 1970, computed apart.
    expect(planOf({ site: { pressureHPa: 500 } }).methanolBoilingC).toBeCloseTo(47.6, 1);
    expect(planOf({ site: { pressureHPa: 300 } }).methanolBoilingC).toBeCloseTo(36.5, 1);
  });

  test('margins are the plan’s limits', () => {
    const plan = drum({ watch: { limits: { dosingMarginC: 8, nearMarginC: 4 } } });
    expect(plan.highestDosingC).toBeCloseTo(plan.methanolBoilingC - 8, 12);
    expect(plan.nearBoilingC).toBeCloseTo(plan.methanolBoilingC - 4, 12);
  });

  test('sea level is assumed where nobody says', () => {
    expect(planOf({})).toMatchObject({ pressureHPa: 1013.25, pressureAssumed: true });
    expect(planOf({ site: { altitudeM: 0 } }).pressureAssumed).toBe(false);
    expect(planOf({ site: { pressureHPa: 1013.25 } }).pressureAssumed).toBe(false);
  });
});

describe('methoxide', () => {
  // Adiabatic rise of 158.3 g of methanol (cp 2.53 kJ/kg K, that is 25 °C) by the heat of solution in water
  // (enthalpies of formation of the CRC Handbook), printed to 0.1 K.
  test.for([
    ['NaOH', 3.5, 9.6],
    ['NaOH', 5, 13.6],
    ['NaOH', 9, 24.1],
    ['KOH', 4.9, 12.4],
    ['KOH', 9, 22.5],
  ] as const)('%s, %d g in 158.3 g rises by %d K', ([kind, grams, rise]) => {
    // 786.64 kg/m³ at 25 °C: reference equation of state.
    const percentOfOilVolume = (100 * 0.1583) / 0.78664;
    const plan = planOf({
      oil: { volumeL: 1 },
      methanol: { percentOfOilVolume, startC: 25 },
      catalyst: { kind, purityPercent: 100, grams },
    });
    expect(plan.methanolKg).toBeCloseTo(0.1583, 5);
    expect(Math.abs(plan.methoxidePeakC - 25 - rise)).toBeLessThan(0.06);
  });

  test('pure catalyst counts, and of several passes the peak is the same', () => {
    // 597.143 g of 98 % are 14.6309 mol · 44.3 kJ; 17.4098 kg · 2.503 kJ/(kg K) and 14.63 mol · 59.5 J/(mol K).
    const rise = (14.6309 * 44.3) / (17.4098 * 2.503 + 14.6309 * 0.0595);
    const plan = drum();
    expect(plan.methoxidePeakC - 20).toBeCloseTo(rise, 1);
    const twice = drum({ passes: [{ sharePercent: 80 }, { sharePercent: 20 }] });
    expect(twice.methoxidePeakC).toBe(plan.methoxidePeakC);
  });

  test('in portions that keep the margin on a day of low pressure', () => {
    const plan = drum({ catalyst: { grams: 2500 } });
    expect(plan.methoxideAllowedC).toBeCloseTo(plan.methanolBoilingCLow - 10, 12);
    // Common practice, no source.
    expect(plan.methoxideNextBelowC).toBe(35);
    expect(plan.methoxidePortionG).toBeCloseTo(plan.methoxidePurePortionG / 0.98, 9);
    expect(plan.methoxidePortions).toBe(Math.ceil(2500 / plan.methoxidePortionG));
    expect(plan.methoxidePortions).toBeGreaterThan(1);
    // A portion at 35 °C takes it to the margin and no further.
    const portion = drum({ catalyst: { grams: plan.methoxidePortionG }, methanol: { startC: 35 } });
    // The same litres are 1.8 % lighter when warm.
    expect(portion.methoxidePeakC - 35).toBeCloseTo((plan.methoxideAllowedC - 35) * 1.018, 0);
  });

  test('all at once where that keeps the margin, though a portion at 35 °C could not', () => {
    // 1,300 g into 20 °C stay under 52.7 °C; from 35 °C they would not.
    const plan = drum({ catalyst: { grams: 1300 } });
    expect(plan.methoxidePeakC).toBeLessThanOrEqual(plan.methoxideAllowedC);
    expect(plan.methoxidePurePortionG / 0.98).toBeLessThan(1300);
    expect([plan.methoxidePortions, plan.methoxidePortionG]).toEqual([1, 1300]);
    const passes = [{ sharePercent: 80 }, { sharePercent: 20 }];
    expect(drum({ catalyst: { grams: 1300 }, passes }).methoxidePortionG).toBeCloseTo(1040, 9);
  });

  test('no portion is larger than what there is, and with no room there is none', () => {
    const small = drum();
    expect([small.methoxidePortionG, small.methoxidePortions]).toEqual([small.catalystG, 1]);
    const none = drum({ watch: { limits: { methoxideMarginC: 200 } } });
    expect([none.methoxidePortionG, none.methoxidePortions]).toEqual([0, null]);
  });

  test('no margin at the highest pressure', () => {
    const plan = drum({
      site: { altitudeM: undefined, pressureHPa: 1100 },
      watch: { limits: { methoxideMarginC: 0 } },
    });
    expect(plan.methanolBoilingC).toBeGreaterThan(65);
    expect(plan.methoxideAllowedC).toBe(65);
  });
});

describe('what comes out', () => {
  test('two passes share methanol and catalyst', () => {
    const plan = drum({ passes: [{ sharePercent: 80 }, { sharePercent: 20 }] });
    expect(plan.passes).toEqual([
      {
        sharePercent: 80,
        methanolL: expect.closeTo(17.6, 9),
        methanolKg: expect.closeTo(plan.methanolKg * 0.8, 9),
        catalystG: expect.closeTo(plan.catalystG * 0.8, 9),
      },
      {
        sharePercent: 20,
        methanolL: expect.closeTo(4.4, 9),
        methanolKg: expect.closeTo(plan.methanolKg * 0.2, 9),
        catalystG: expect.closeTo(plan.catalystG * 0.2, 9),
      },
    ]);
    expect(plan.watch.chemistry.passSharesPercent).toEqual([80, 20]);
  });

  test('mixed: the heat of the oil and of cold methanol', () => {
    // 91.95 kg at 55 °C and 17.41 kg at 20 °C; oil about 2.0 to 2.1 kJ/(kg K), methanol 2.50.
    const { mixedC } = drum();
    expect(mixedC).toBeGreaterThan(20 + (35 * 91.95 * 1.95) / (91.95 * 1.95 + 17.41 * 2.5));
    expect(mixedC).toBeLessThan(20 + (35 * 91.95 * 2.15) / (91.95 * 2.15 + 17.41 * 2.5));
    // Of two passes the first goes in first.
    const half = drum({ passes: [{ sharePercent: 50 }, { sharePercent: 50 }] });
    expect(half.mixedC).toBeGreaterThan(mixedC);
    // Oil that is planned hotter has to cool first.
    const hot = drum({ reaction: { temperatureC: 62 } });
    expect(hot.highestDosingC).toBeLessThan(62);
    expect(hot.mixedC).toBe(drum({ reaction: { temperatureC: hot.highestDosingC } }).mixedC);
  });

  test('washed and dry: ester and what did not react, at 20 °C', () => {
    const plan = planOf({ oil: { kind: 'soybean' }, site: { altitudeM: 340 } });
    // 0.86 to 0.90 kg/L at 15 °C (EN 14214), some 0.4 % lighter at 20 °C.
    const kg = plan.fuelKg * (1 - plan.fuelMethanolPercent / 100 - plan.fuelSoapPpm / 1e6);
    expect(kg / plan.washedFuelL).toBeGreaterThan(0.856);
    expect(kg / plan.washedFuelL).toBeLessThan(0.9);
    expect(plan.washedFuelL).toBeLessThan(plan.fuelL);
  });

  test('soap that nobody titrated: less fuel in the bounds, not in what is expected', () => {
    const usual = drum();
    const much = drum({ catalyst: { grams: 2000 } });
    expect(much.soapG).toBe(usual.soapG);
    expect(much.soapGHigh / usual.soapGHigh).toBeCloseTo(2000 / usual.catalystG, 9);
    expect(much.washedFuelLLow).toBeLessThan(usual.washedFuelLLow - 5);
    expect(much.yieldPercentLow).toBeLessThan(usual.yieldPercentLow);
    expect(much.fuelSoapPpmHigh).toBeGreaterThan(2 * usual.fuelSoapPpmHigh);
  });

  test('about as much fuel as oil, a tenth of its mass as glycerol', () => {
    // 100 lb of oil and 10 lb of alcohol give 100 lb of fuel and 10 lb of glycerol: the trade’s round rule, for
    // pure oil. The fuel layer holds some methanol, the glycerol layer much of it.
    const plan = planOf({ oil: { kind: 'soybean' }, site: { altitudeM: 340 } });
    const { oilKg, fuelKg, glycerolKg } = plan;
    expect(Math.abs(fuelKg / oilKg - 1)).toBeLessThan(0.05);
    expect(Math.abs(glycerolKg / oilKg - 0.1)).toBeLessThan(0.02);
    expect(plan.fuelL).toBeGreaterThan(100);
    expect(plan.glycerolLayerL).toBeGreaterThan(10);
  });

  test('an answer is what its schema says, and survives JSON', () => {
    const plan = drum();
    expect(planAnswerSchema.parse(plan)).toEqual(plan);
    expect(JSON.parse(JSON.stringify(plan))).toEqual(plan);
  });
});

describe('what the rules watch by', () => {
  test('is the plan of a recorded run’s vessel line, unchanged', () => {
    for (const watch of [planOf({}).watch, drum().watch]) {
      const line = { type: 'vessel', vessel: 'r1', plan: watch };
      expect(replayLineSchema.parse(line)).toEqual(line);
      expect(parseReplayLine(JSON.stringify(line))).toMatchObject({ type: 'vessel', plan: watch });
      expect(resolveWatchPlan(watch)).toEqual(watch);
    }
  });

  test('a recorded run’s vessel line takes shares of passes that sum to 100 %, and no others', () => {
    const line = (passSharesPercent: number[]) => ({
      type: 'vessel',
      vessel: 'r1',
      plan: { ...planOf({}).watch, chemistry: { passSharesPercent } },
    });
    for (const shares of [[100], [80, 20], [33.3, 33.3, 33.4]])
      expect(replayLineSchema.safeParse(line(shares)).success, String(shares)).toBe(true);
    for (const shares of [[99], [80, 21], [80, 19.99], [100, 100]])
      expect(replayLineSchema.safeParse(line(shares)).success, String(shares)).toBe(false);
  });

  test('every field of the request’s watch, and what the plan computes', () => {
    const watch = {
      requiredReactionMinutes: 90,
      requiredSettleHours: 12,
      lowestStirrerSpeed: null,
      lowestPumpFlow: 30,
      readingEverySeconds: 5,
      mixingStated: true,
    };
    const plan = drum({
      oil: { methanolInFeed: true },
      reaction: { temperatureC: 50 },
      watch: { ...watch, limits: { nearMarginC: 4 } },
    });
    expect(plan.watch).toEqual({
      ...watch,
      reactionTemperatureC: 50,
      methanolInFeed: true,
      chemistry: {
        methanolToOilMolar: plan.methanolToOilMolar,
        catalyst: 'NaOH',
        catalystPercentOfOilMass: plan.catalystPercentOfOilMass,
        acidNumberMgKOHPerG: plan.acidNumberMgKOHPerG,
        passSharesPercent: [100],
      },
      limits: { ...LIMIT_DEFAULTS, methoxideMinutes: 20, nearMarginC: 4 },
    });
  });

  test('everything left out', () => {
    const plan = planOf({});
    // Common practice, no source, but for 100 L of soybean oil, which are an assumption.
    expect(plan.watch).toEqual({
      reactionTemperatureC: 55,
      requiredReactionMinutes: 60,
      requiredSettleHours: 24,
      lowestStirrerSpeed: 200,
      lowestPumpFlow: null,
      readingEverySeconds: 1,
      mixingStated: false,
      methanolInFeed: false,
      chemistry: {
        methanolToOilMolar: plan.methanolToOilMolar,
        catalyst: 'NaOH',
        catalystPercentOfOilMass: plan.catalystPercentOfOilMass,
        acidNumberMgKOHPerG: 0,
        passSharesPercent: [100],
      },
      limits: { ...LIMIT_DEFAULTS, methoxideMinutes: 20 },
    });
    const { workings: _, ...stated } = planOf({
      oil: {
        volumeL: 100,
        volumeAtC: 20,
        kind: 'soybean',
        titration: null,
        waterPpm: null,
        methanolInFeed: false,
      },
      methanol: { percentOfOilVolume: 22, startC: 20 },
      catalyst: { kind: 'NaOH', purityPercent: 98, baseGPerL: 3.5, grams: null },
      passes: [{ sharePercent: 100 }],
      reaction: { temperatureC: 55 },
      watch: DRUM.watch,
    });
    expect(plan).toMatchObject(stated);
    const koh = (request: object) => planOf({ catalyst: { kind: 'KOH', ...request } }).catalystG;
    expect(koh({})).toBe(koh({ purityPercent: 90 }));
    const { catalystG } = planOf({ oil: { titration: { mL: 2, titrant: 'NaOH' } } });
    expect(catalystG).toBeCloseTo(100 * (3.5 / 0.98 + 2), 9);
    for (const part of ['oil', 'methanol', 'catalyst', 'reaction', 'vessel', 'watch']) {
      expect(planOf({ [part]: {} }), part).toEqual(plan);
    }
  });

  // Common practice, no source.
  test.for([
    ['NaOH', 100, 20],
    ['KOH', 100, 10],
    ['NaOH', 4.55, 20],
    ['NaOH', 4.54, 3],
    ['KOH', 4.55, 10],
    ['KOH', 4.54, 3],
  ] as const)('%s for %d L of oil: methoxide is mixed for %d min', ([kind, volumeL, minutes]) => {
    expect(planOf({ oil: { volumeL }, catalyst: { kind } }).watch.limits.methoxideMinutes).toBe(minutes);
    const own = planOf({ oil: { volumeL }, catalyst: { kind }, watch: { limits: { methoxideMinutes: 42 } } });
    expect(own.watch.limits.methoxideMinutes).toBe(42);
  });

  test('the height of the liquid: as measured, or that of a usual vessel', () => {
    expect(drum().liquidHeightM).toBe(0.6);
    // A cylinder half as high again as wide: 122 L are 0.7044 m, since π/4 · (h/1.5)² · h is 0.122 m³.
    expect(planOf({}).liquidHeightM).toBeCloseTo(0.7044, 4);
    const settle = (liquidHeightM: number) => drum({ vessel: { liquidHeightM } }).settleHours;
    expect(settle(1.2)).toBeCloseTo(2 * settle(0.6), 9);
  });
});
