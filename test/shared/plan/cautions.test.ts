import { describe, expect, test } from 'vitest';
import type { Caution } from '../../../shared/plan/answer.ts';
import { CAUTION_CODES, type CautionCode } from '../../../shared/plan/caution-codes.ts';
import { computePlan } from '../../../shared/plan/compute.ts';
import { readPlanRequest } from '../../../shared/plan/read-request.ts';
import type { PlanRequest } from '../../../shared/plan/request.ts';
import { schemaAt } from './requests.ts';

const planOf = (request: PlanRequest) => computePlan(readPlanRequest(request));
const cautionsOf = (request: PlanRequest): Caution[] => planOf(request).cautions;
const codesOf = (request: PlanRequest): CautionCode[] => cautionsOf(request).map(({ code }) => code);

/** Nothing to be said of it. */
const QUIET: PlanRequest = { site: { altitudeM: 340 } };
const titrated = (mL: number | number[], rest: PlanRequest = {}): PlanRequest => ({
  ...QUIET,
  ...rest,
  oil: { ...rest.oil, titration: { mL, titrant: 'NaOH' } },
});
/** Titrant for so much free fatty acid in soybean oil: 282.468 g/mol in 919.479 g/L; 39.997 g/mol, 98 %. */
const mlFor = (percent: number) => ((percent / 100) * 919.479 * 39.997) / 282.468 / 0.98;
const boilingC = planOf(QUIET).methanolBoilingC;
const reactingAt = (temperatureC: number): PlanRequest => ({ ...QUIET, reaction: { temperatureC } });
/** Long enough to react at any of them. */
const slowAt = (temperatureC: number): PlanRequest => ({
  ...reactingAt(temperatureC),
  watch: { requiredReactionMinutes: 1440 },
});
/** Free catalyst, pure, percent of the oil's mass: g/L of oil at 919.479 g/L. */
const baseFor = (percent: number) => (percent / 100) * 919.479;
const percentFor = (ratio: number) =>
  (22 * ratio) / planOf({ ...QUIET, methanol: { percentOfOilVolume: 22 } }).methanolToOilMolar;

test('an ordinary plan has none', () => {
  expect(cautionsOf({ ...QUIET, catalyst: { kind: 'KOH' } })).toEqual([]);
  expect(codesOf(QUIET)).toEqual(['glycerol-sets']);
});

/** Of each: a request that just has it, the nearest that has not, and the field that it points at. */
const BOTH_SIDES: { [code in CautionCode]: [has: PlanRequest, hasNot: PlanRequest, field: string | null][] } =
  {
    'reaction-above-boiling': [[reactingAt(boilingC), reactingAt(boilingC - 0.001), 'reaction.temperatureC']],
    'reaction-near-boiling': [
      [reactingAt(boilingC - 2.999), reactingAt(boilingC - 3), 'reaction.temperatureC'],
      [reactingAt(boilingC - 0.001), reactingAt(boilingC), 'reaction.temperatureC'],
      [
        { ...reactingAt(boilingC - 7.9), watch: { limits: { nearMarginC: 8 } } },
        { ...reactingAt(boilingC - 8.1), watch: { limits: { nearMarginC: 8 } } },
        'reaction.temperatureC',
      ],
    ],
    'dosing-too-hot': [[reactingAt(boilingC - 4.999), reactingAt(boilingC - 5), 'reaction.temperatureC']],
    'methoxide-near-boiling': [
      // From 20 °C it may rise to 52.74 °C at 340 m, 10 under boiling on a day of low pressure.
      [{ ...QUIET, catalyst: { grams: 1425 } }, { ...QUIET, catalyst: { grams: 1300 } }, 'catalyst'],
      [{ ...QUIET, methanol: { startC: 46 } }, { ...QUIET, methanol: { startC: 42 } }, 'methanol.startC'],
    ],
    'catalyst-high': [
      // 0.7 % and more of free catalyst.
      [
        { ...QUIET, catalyst: { baseGPerL: baseFor(0.701) } },
        { ...QUIET, catalyst: { baseGPerL: baseFor(0.699) } },
        'catalyst.baseGPerL',
      ],
      // A quarter more than what is worked out: 350 g by 0.98.
      [
        { ...QUIET, catalyst: { grams: (350 / 0.98) * 1.2501 } },
        { ...QUIET, catalyst: { grams: (350 / 0.98) * 1.2499 } },
        'catalyst.grams',
      ],
    ],
    'catalyst-low': [
      [
        { ...QUIET, catalyst: { baseGPerL: baseFor(0.2499) } },
        { ...QUIET, catalyst: { baseGPerL: baseFor(0.2501) } },
        'catalyst.baseGPerL',
      ],
      // A fifth less than what is worked out.
      [
        { ...QUIET, catalyst: { grams: (350 / 0.98) * 0.7999 } },
        { ...QUIET, catalyst: { grams: (350 / 0.98) * 0.8001 } },
        'catalyst.grams',
      ],
      [{ ...QUIET, catalyst: { grams: 0 } }, QUIET, 'catalyst.grams'],
      // What would do for good oil does not for acid oil.
      [
        titrated(2, { catalyst: { grams: 350 / 0.98 } }),
        titrated(0, { catalyst: { grams: 350 / 0.98 } }),
        'catalyst.grams',
      ],
    ],
    'not-titrated': [
      [
        { ...QUIET, oil: { kind: 'used' } },
        { ...QUIET, oil: { kind: 'used', titration: { mL: 0, titrant: 'NaOH' } } },
        'oil.titration',
      ],
      [
        { ...QUIET, oil: { kind: 'used', titration: null } },
        { ...QUIET, oil: { kind: 'olive' } },
        'oil.titration',
      ],
      [{ ...QUIET, oil: { kind: 'tallow' } }, { ...QUIET, oil: { kind: 'palm' } }, 'oil.titration'],
      [
        { ...QUIET, oil: { kind: 'lard' } },
        { ...QUIET, oil: { kind: 'lard', titration: { mL: 1, titrant: 'KOH' } } },
        'oil.titration',
      ],
    ],
    'titration-blank': [
      [
        { ...QUIET, oil: { titration: { mL: [1, 2], blankMl: 1.51, titrant: 'NaOH' } } },
        { ...QUIET, oil: { titration: { mL: [1, 2], blankMl: 1.5, titrant: 'NaOH' } } },
        'oil.titration.blankMl',
      ],
    ],
    'purity-low': [
      [
        { ...QUIET, catalyst: { purityPercent: 79.9 } },
        { ...QUIET, catalyst: { purityPercent: 80 } },
        'catalyst.purityPercent',
      ],
      [
        { ...QUIET, oil: { titration: { mL: 1, titrant: 'KOH', purityPercent: 9.8 } } },
        { ...QUIET, oil: { titration: { mL: 1, titrant: 'KOH', purityPercent: 98 } } },
        'oil.titration.purityPercent',
      ],
    ],
    'limits-loosened': [
      [
        { ...QUIET, watch: { limits: { dosingMarginC: 4.9 } } },
        { ...QUIET, watch: { limits: { dosingMarginC: 5.1 } } },
        'watch.limits',
      ],
      [
        { ...QUIET, watch: { limits: { stoppedSeconds: 11 } } },
        { ...QUIET, watch: { limits: { stoppedSeconds: 9 } } },
        'watch.limits',
      ],
      [
        { ...QUIET, watch: { limits: { shortPercent: 0 } } },
        { ...QUIET, watch: { limits: { shortPercent: 95, methoxideMinutes: 5 } } },
        'watch.limits',
      ],
    ],
    'pressure-unchecked': [
      // What a weather report gives for sea level.
      [{ site: { pressureHPa: 980 } }, { site: { pressureHPa: 979.9 } }, 'site.pressureHPa'],
      [{ site: { pressureHPa: 1050 } }, { site: { pressureHPa: 1050.1 } }, 'site.pressureHPa'],
      [{ site: { pressureHPa: 1013 } }, { site: { pressureHPa: 1013, altitudeM: 10 } }, 'site.pressureHPa'],
      // Lower than on any mountain that people live on.
      [{ site: { pressureHPa: 449.9 } }, { site: { pressureHPa: 450 } }, 'site.pressureHPa'],
    ],
    // From memory: what the fats melt at.
    'fat-set': [
      [
        { ...QUIET, oil: { kind: 'palm', volumeAtC: 34.9 } },
        { ...QUIET, oil: { kind: 'palm', volumeAtC: 35 } },
        'oil.volumeAtC',
      ],
      [{ ...QUIET, oil: { kind: 'tallow' } }, { ...QUIET, oil: { kind: 'olive' } }, 'oil.volumeAtC'],
    ],
    'time-short': [
      [
        { ...QUIET, watch: { requiredReactionMinutes: planOf(QUIET).reactionMinutes - 0.01 } },
        { ...QUIET, watch: { requiredReactionMinutes: planOf(QUIET).reactionMinutes + 0.01 } },
        'watch.requiredReactionMinutes',
      ],
      [
        { ...QUIET, watch: { requiredSettleHours: planOf(QUIET).settleHours - 0.01 } },
        { ...QUIET, watch: { requiredSettleHours: planOf(QUIET).settleHours + 0.01 } },
        'watch.requiredSettleHours',
      ],
    ],
    'glycerol-sets': [[QUIET, { ...QUIET, catalyst: { kind: 'KOH' } }, 'catalyst.kind']],
    'titration-spread': [
      // Both over 0.2 mL and over a tenth of the mean.
      [titrated([0.9, 1.11]), titrated([0.9, 1.09]), 'oil.titration.mL'],
      [titrated([2.88, 3.19]), titrated([2.88, 3.16]), 'oil.titration.mL'],
    ],
    'free-fatty-acid': [
      [titrated(mlFor(1.0001)), titrated(mlFor(0.9999)), 'oil.titration'],
      [titrated(mlFor(2.9999)), titrated(mlFor(3.0001)), 'oil.titration'],
    ],
    'free-fatty-acid-high': [[titrated(mlFor(3.0001)), titrated(mlFor(2.9999)), 'oil.titration']],
    // 0.06 %: Ma, Clements & Hanna 1998 (Trans. ASAE 41:1261), read in a reprint.
    'water-high': [
      [{ ...QUIET, oil: { waterPpm: 601 } }, { ...QUIET, oil: { waterPpm: 600 } }, 'oil.waterPpm'],
      [{ ...QUIET, oil: { waterPpm: 1_000_000 } }, { ...QUIET, oil: { waterPpm: null } }, 'oil.waterPpm'],
    ],
    'methanol-low': [
      [
        { ...QUIET, methanol: { percentOfOilVolume: percentFor(4.499) } },
        { ...QUIET, methanol: { percentOfOilVolume: percentFor(4.501) } },
        'methanol.percentOfOilVolume',
      ],
      // 20 % by volume is in use, and 12.5 % is what the reaction alone takes.
      [
        { ...QUIET, methanol: { percentOfOilVolume: 12.5 } },
        { ...QUIET, methanol: { percentOfOilVolume: 20 } },
        'methanol.percentOfOilVolume',
      ],
    ],
    'methanol-high': [
      [
        { ...QUIET, methanol: { percentOfOilVolume: percentFor(9.001) } },
        { ...QUIET, methanol: { percentOfOilVolume: percentFor(8.999) } },
        'methanol.percentOfOilVolume',
      ],
    ],
    'reaction-incomplete': [
      [
        { ...QUIET, watch: { requiredReactionMinutes: 5 } },
        { ...QUIET, watch: { requiredReactionMinutes: 60 } },
        null,
      ],
      [{ ...QUIET, catalyst: { grams: 0 } }, QUIET, null],
    ],
    'altitude-not-set': [
      [{}, { site: { altitudeM: 0 } }, 'site'],
      [{ oil: {} }, { site: { pressureHPa: 1013.25 } }, 'site'],
    ],
    'pressure-not-station': [
      // 834.276 hPa at 1,609.344 m (U.S. Standard Atmosphere 1976); over 30 hPa away from it.
      [
        { site: { altitudeM: 1609.344, pressureHPa: 864.29 } },
        { site: { altitudeM: 1609.344, pressureHPa: 864.26 } },
        'site.pressureHPa',
      ],
      [
        { site: { altitudeM: 1609.344, pressureHPa: 804.26 } },
        { site: { altitudeM: 1609.344, pressureHPa: 804.29 } },
        'site.pressureHPa',
      ],
      [
        { site: { altitudeM: 1609.344, pressureHPa: 1013.25 } },
        { site: { pressureHPa: 1013.25 } },
        'site.pressureHPa',
      ],
    ],
    'outside-validity': [
      // The oils' density lines run from 15 to 110 °C.
      [{ ...QUIET, oil: { volumeAtC: 14.9 } }, { ...QUIET, oil: { volumeAtC: 15 } }, null],
      [{ ...QUIET, oil: { volumeAtC: 110.1 } }, { ...QUIET, oil: { volumeAtC: 110 } }, null],
      // Kinetics measured from 30 to 70 °C.
      [slowAt(29.9), slowAt(30), null],
    ],
  };

describe.for(CAUTION_CODES)('%s', (code) => {
  test.for(BOTH_SIDES[code].map((sides, i) => [i, ...sides] as const))(
    'comes on the one side of its limit, and not on the other (%d)',
    ([, has, hasNot, field]) => {
      expect(codesOf(has)).toContain(code);
      expect(codesOf(hasNot)).not.toContain(code);
      expect(cautionsOf(has).find((caution) => caution.code === code)!.field).toBe(field);
    },
  );
});

test('every caution has a text, a source, and a field that a request can have', () => {
  const seen = new Set<CautionCode>();
  for (const [has, hasNot] of Object.values(BOTH_SIDES).flat()) {
    for (const { code, text, source, field } of [...cautionsOf(has), ...cautionsOf(hasNot)]) {
      seen.add(code);
      expect(text, code).toMatch(/^\S.{20,}\S$/s);
      expect(text, code).not.toMatch(/undefined|NaN|null|Infinity|\[object/);
      expect(source, code).toMatch(/\S.{10,}/);
      if (field !== null) expect(schemaAt(field), `${code}: ${field}`).toBeDefined();
    }
  }
  expect([...seen].sort()).toEqual([...CAUTION_CODES].sort());
});

test('the gravest comes first', () => {
  const everything: PlanRequest = {
    oil: { kind: 'used', volumeAtC: 5, waterPpm: 5000, titration: { mL: [1, 9], titrant: 'KOH' } },
    methanol: { percentOfOilVolume: 80, startC: 45 },
    catalyst: { grams: 9000 },
    site: { altitudeM: 1609, pressureHPa: 1013 },
    reaction: { temperatureC: 65 },
    watch: { requiredReactionMinutes: 0 },
  };
  const codes = codesOf(everything);
  expect(codes.slice(0, 4)).toEqual([
    'reaction-above-boiling',
    'dosing-too-hot',
    'catalyst-high',
    'methoxide-near-boiling',
  ]);
  for (const requests of [[everything, {}], ...Object.values(BOTH_SIDES).flat()]) {
    for (const request of requests.slice(0, 2) as PlanRequest[]) {
      const places = codesOf(request).map((code) => CAUTION_CODES.indexOf(code));
      expect(places).toEqual(places.toSorted((a, b) => a - b));
    }
  }
  // Hurtful before dear: what boils, before what is only lost.
  const place = (code: CautionCode) => CAUTION_CODES.indexOf(code);
  expect(place('catalyst-high')).toBeLessThan(place('water-high'));
  expect(place('catalyst-low')).toBeLessThan(place('outside-validity'));
  expect(place('free-fatty-acid-high')).toBeLessThan(place('free-fatty-acid'));
});

describe('a jar', () => {
  // 0.2 L of oil and 50 mL of methanol in a class; the right amount is 0.2 · 3.5 g of NaOH, or as many moles.
  const right = { NaOH: 0.2 * 3.5, KOH: 0.2 * 3.5 * 1.4027 };
  const jar = (kind: 'NaOH' | 'KOH', times: number, altitudeM: number): PlanRequest => ({
    oil: { volumeL: 0.2 },
    methanol: { percentOfOilVolume: 25 },
    catalyst: { kind, purityPercent: 100, grams: times * right[kind] },
    site: { altitudeM },
    reaction: { temperatureC: 50 },
  });

  describe.for(['NaOH', 'KOH'] as const)('%s', (kind) => {
    test.for([0, 1609])('five times too much at %d m: catalyst, and heat of the methoxide', (altitudeM) => {
      const plan = planOf(jar(kind, 5, altitudeM));
      const codes = plan.cautions.map(({ code }) => code);
      expect(codes).toContain('catalyst-high');
      expect(codes).toContain('methoxide-near-boiling');
      expect(plan.catalystNeededG).toBeCloseTo(right[kind], 4);
    });

    test.for([0, 1609])('the right amount at %d m: nothing', (altitudeM) => {
      expect(codesOf(jar(kind, 1, altitudeM))).toEqual(kind === 'NaOH' ? ['glycerol-sets'] : []);
    });
  });

  test('a jar is warned of as a tank is', () => {
    const scaled = (volumeL: number): PlanRequest => ({
      ...jar('NaOH', 5, 0),
      oil: { volumeL },
      catalyst: { grams: 17.5 * volumeL },
    });
    expect(codesOf(scaled(1000))).toEqual(codesOf(scaled(0.2)));
  });
});

describe('where it boils', () => {
  test('60 °C at 1,609 m is above boiling, at sea level it is not', () => {
    const at = (altitudeM: number) => codesOf({ site: { altitudeM }, reaction: { temperatureC: 60 } });
    expect(at(1609)).toContain('reaction-above-boiling');
    expect(at(1609)).not.toContain('reaction-near-boiling');
    expect(at(0)).not.toContain('reaction-above-boiling');
    expect(at(0)).not.toContain('reaction-near-boiling');
    // 59.69 °C at 1,609.344 m (Ambrose & Sprake 1970 at the standard atmosphere's pressure).
    expect(codesOf({ site: { altitudeM: 1609 }, reaction: { temperatureC: 59.6 } })).toContain(
      'reaction-near-boiling',
    );
  });

  test('a pressure reduced to sea level: it is said, and the lower counts', () => {
    const plan = planOf({ site: { altitudeM: 1609.344, pressureHPa: 1013 }, reaction: { temperatureC: 60 } });
    expect(plan.pressureHPa).toBeCloseTo(834.276, 2);
    expect(plan.methanolBoilingC).toBeCloseTo(59.689, 2);
    expect(plan.methanolBoilingCLow).toBeLessThan(plan.methanolBoilingC);
    expect(plan.cautions.map(({ code }) => code)).toEqual([
      'reaction-above-boiling',
      'dosing-too-hot',
      'pressure-not-station',
      'glycerol-sets',
    ]);
    expect(plan.cautions[2]!.text).toMatch(/sea level/);
  });

  test('a pressure far too low for the altitude counts, and is not taken for one reduced to sea level', () => {
    const plan = planOf({ site: { altitudeM: 0, pressureHPa: 600 } });
    expect(plan.pressureHPa).toBe(600);
    expect(plan.methanolBoilingC).toBeCloseTo(51.791, 2);
    const said = plan.cautions.find(({ code }) => code === 'pressure-not-station')!;
    expect(said.text).not.toMatch(/sea level/);
  });

  test('a pressure that goes with the altitude counts, on either side of the standard', () => {
    for (const pressureHPa of [810, 860]) {
      const plan = planOf({ site: { altitudeM: 1609.344, pressureHPa } });
      expect(plan.pressureHPa).toBe(pressureHPa);
      expect(plan.cautions.map(({ code }) => code)).not.toContain('pressure-not-station');
    }
  });
});

describe('what is said', () => {
  const said = (request: PlanRequest, code: CautionCode) =>
    cautionsOf(request).find((caution) => caution.code === code)!.text;

  test('methoxide that gets too hot: portions, but none of a catalyst that is too much', () => {
    const right = said({ ...QUIET, methanol: { startC: 46 } }, 'methoxide-near-boiling');
    expect(right).toMatch(/portions or more/);
    const wrong = said({ ...QUIET, catalyst: { grams: 2000 } }, 'methoxide-near-boiling');
    expect(wrong).not.toMatch(/portion/);
    for (const text of [right, wrong]) expect(text).toMatch(/vent open/);
  });

  test('which limits are loosened, and what is usual', () => {
    const limits = { dosingMarginC: 2, stoppedSeconds: 5, vapourPpm: 400, methoxideMinutes: 3 };
    const text = said({ ...QUIET, watch: { limits } }, 'limits-loosened');
    expect(text).toMatch(/dosingMarginC 2 \(usual 5\), vapourPpm 400 \(usual 200\)$/);
  });

  test('the purity of catalyst and titrant, each by its name', () => {
    const request: PlanRequest = {
      ...QUIET,
      oil: { titration: { mL: 1, titrant: 'NaOH' } },
      catalyst: { purityPercent: 50 },
    };
    const texts = cautionsOf(request).filter(({ code }) => code === 'purity-low');
    expect(texts.map(({ field }) => field)).toEqual([
      'catalyst.purityPercent',
      'oil.titration.purityPercent',
    ]);
  });

  test('fats are set under 25 °C (coconut), 35 (palm), 40 (lard) and 45 (tallow), from memory', () => {
    for (const [kind, setsC] of [
      ['coconut', 25],
      ['palm', 35],
      ['lard', 40],
      ['tallow', 45],
    ] as const) {
      expect(codesOf({ ...QUIET, oil: { kind, volumeAtC: setsC - 0.1 } })).toContain('fat-set');
      expect(codesOf({ ...QUIET, oil: { kind, volumeAtC: setsC } })).not.toContain('fat-set');
    }
  });

  test('a pressure 30 to 40 hPa off is cautioned and counts; further off the lower counts', () => {
    // 973.07 hPa at 340 m (U.S. Standard Atmosphere 1976).
    for (const [pressureHPa, counts] of [
      [1004, 1004],
      [1012, 1012],
      [1014, 973.07],
      [942, 942],
      [930, 930],
    ] as const) {
      const plan = planOf({ site: { altitudeM: 340, pressureHPa } });
      expect(plan.cautions.map(({ code }) => code)).toContain('pressure-not-station');
      expect(plan.pressureHPa).toBeCloseTo(counts, 1);
    }
  });
});

test('what lies beyond the sources is said once for each quantity, with what is less sure for it', () => {
  const said = cautionsOf({ ...slowAt(20), oil: { volumeAtC: 5 } }).filter(
    ({ code }) => code === 'outside-validity',
  );
  expect(said).toHaveLength(2);
  expect(said[0]!.text).toMatch(/5 °C is beyond the 15 to 110 °C/);
  expect(said[1]!.text).toMatch(/20 °C is beyond the 30 to 70 °C/);
});

test('the water that methanol brings counts with the oil’s, and its pure part is what reacts', () => {
  const wet = (purityPercent: number, waterPpm?: number) =>
    planOf({ ...QUIET, methanol: { purityPercent }, oil: { ...QUIET.oil, ...(waterPpm && { waterPpm }) } });
  const brings = (plan: ReturnType<typeof planOf>) =>
    plan.cautions.filter(({ code, field }) => code === 'water-high' && field === 'methanol.purityPercent');
  // 17.4 kg of methanol to 92 kg of oil: 0.3 % of it are some 570 ppm, 0.4 % some 760.
  expect(brings(wet(99.7))).toHaveLength(0);
  expect(brings(wet(99.6))).toHaveLength(1);
  expect(brings(wet(99.7, 100))).toHaveLength(1);
  const [pure, half] = [wet(100), wet(50)];
  expect(half.methanolKg).toBe(pure.methanolKg);
  expect(half.methanolToOilMolar).toBeCloseTo(pure.methanolToOilMolar / 2, 9);
  expect(half.methanolLeftKg).toBeLessThan(pure.methanolLeftKg);
});

test('the sentences are in the reader’s unit, differences without the 32', () => {
  const near = { site: { altitudeM: 1609 }, reaction: { temperatureC: 57 } };
  const textOf = (unit: 'C' | 'F') =>
    computePlan(near, unit).cautions.find(({ code }) => code === 'reaction-near-boiling')?.text;
  expect(textOf('C')).toContain('57.0 °C is 2.7 °C below');
  expect(textOf('F')).toContain('134.6 °F is 4.8 °F below');
});
