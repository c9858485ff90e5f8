import { readdirSync } from 'node:fs';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { Arguments, Band, Formula, Inputs } from '../../../shared/chemistry/formula.ts';
import { OutOfRange } from '../../../shared/chemistry/formula.ts';
import type { SettledLayers } from '../../../shared/chemistry/layers.ts';
import { type PlanAnswer, planAnswerSchema, type Working } from '../../../shared/plan/answer.ts';
import { CAUTION_CODES } from '../../../shared/plan/caution-codes.ts';
import { computePlan } from '../../../shared/plan/compute.ts';
import { readPlanRequest } from '../../../shared/plan/read-request.ts';
import type { PlanRequest } from '../../../shared/plan/request.ts';
import { replayLineSchema } from '../../../shared/wire/replay-line.ts';
import { share } from '../../support/thorough.ts';
import { anyRequest, schemaAt, usualRequest } from './requests.ts';

const RUNS = { numRuns: share(600) };

const planOf = (request: unknown): PlanAnswer => computePlan(readPlanRequest(request));

/** The plan, or null where fields contradict each other: then a field of the request is named. */
function planOrRefusal(request: PlanRequest): PlanAnswer | null {
  try {
    return planOf(request);
  } catch (error) {
    if (!(error instanceof OutOfRange)) throw error;
    expect(['oil.titration.mL', 'catalyst.grams'], error.message).toContain(error.field);
    expect(error.allowed).toMatch(/\d/);
    return null;
  }
}

/** Every number of a JSON value, by its path. */
function* numbersOf(value: unknown, path = ''): Generator<[path: string, number: number]> {
  if (typeof value === 'number') yield [path, value];
  else if (typeof value === 'object' && value !== null)
    for (const [key, inside] of Object.entries(value)) yield* numbersOf(inside, `${path}.${key}`);
}

/** Names of an answer's estimates: those that come with bounds. */
const estimatesOf = (object: object): string[] =>
  Object.keys(object).filter((name) => `${name}Low` in object && `${name}High` in object);

/** Any request, and what people send, and the plan of each. */
function forAnyPlan(check: (plan: PlanAnswer, request: PlanRequest) => void): void {
  let planned = 0;
  fc.assert(
    fc.property(fc.oneof(anyRequest, usualRequest), (request) => {
      const plan = planOrRefusal(request);
      if (plan === null) return;
      planned += 1;
      check(plan, request);
    }),
    RUNS,
  );
  expect(planned).toBeGreaterThan(RUNS.numRuns / 2);
}

const forUsualPlans = (check: (request: Usual) => void): void =>
  fc.assert(fc.property(usualRequest, check), { numRuns: share(200) });
type Usual = typeof usualRequest extends fc.Arbitrary<infer T> ? T : never;

describe('any request that the schema takes', () => {
  test('has numbers throughout, of its schema’s form and no others', () => {
    forAnyPlan((plan) => {
      for (const [path, number] of numbersOf(plan)) expect(Number.isFinite(number), path).toBe(true);
      expect(planAnswerSchema.parse(plan)).toEqual(plan);
    });
  });

  test('has estimates within their bounds, and shares that are shares', () => {
    forAnyPlan((plan) => {
      const answer = plan as unknown as Record<string, number>;
      const names = estimatesOf(plan);
      expect(names).toEqual(
        expect.arrayContaining([
          'reactionMinutes',
          'settleHours',
          'expectedConversionPercent',
          'fuelL',
          'glycerolLayerL',
        ]),
      );
      for (const name of names) {
        expect(answer[`${name}Low`], name).toBeLessThanOrEqual(answer[name]!);
        expect(answer[`${name}High`], name).toBeGreaterThanOrEqual(answer[name]!);
        if (!name.endsWith('BoilingC')) expect(answer[`${name}Low`], name).toBeGreaterThanOrEqual(0);
      }
      for (const name of names.filter((one) => one.endsWith('Percent') && one !== 'yieldPercent'))
        expect(answer[`${name}High`], name).toBeLessThanOrEqual(100);
      if (plan.esterification !== null) {
        const { acidNumberLeftMgKOHPerG: left, ...acid } = plan.esterification;
        expect(acid.acidNumberLeftMgKOHPerGLow).toBeLessThanOrEqual(left);
        expect(acid.acidNumberLeftMgKOHPerGHigh).toBeGreaterThanOrEqual(left);
        expect(acid.acidNumberLeftMgKOHPerGHigh).toBeLessThan(plan.acidNumberMgKOHPerG);
      }
    });
  });

  test('gives out what goes in', () => {
    forAnyPlan((plan, request) => {
      // The water in it is left out of the layers.
      const methanolKg = (plan.methanolKg * (request.methanol?.purityPercent ?? 100)) / 100;
      const pureBaseKg = (plan.catalystPercentOfOilMass / 100) * plan.oilKg;
      const goesIn = plan.oilKg + methanolKg + pureBaseKg;
      expect(Math.abs((plan.fuelKg + plan.glycerolLayerKg) / goesIn - 1)).toBeLessThan(1e-9);
      expect(plan.methanolLeftKg).toBeLessThanOrEqual(methanolKg * (1 + 1e-12));
      const inLayers =
        (plan.fuelKg * plan.fuelMethanolPercent + plan.glycerolLayerKg * plan.glycerolLayerMethanolPercent) /
        100;
      expect(Math.abs(inLayers - plan.methanolLeftKg)).toBeLessThan(1e-9 * methanolKg);
      expect(plan.recoveredFromFuelKg + plan.recoveredFromGlycerolKg).toBeLessThanOrEqual(
        plan.methanolLeftKg * (1 + 1e-9),
      );
      const sum = (pick: (pass: PlanAnswer['passes'][number]) => number) =>
        plan.passes.reduce((total, pass) => total + pick(pass), 0);
      expect(sum((pass) => pass.methanolKg) / plan.methanolKg).toBeCloseTo(1, 6);
      expect(sum(({ methanolL }) => methanolL) / plan.methanolL).toBeCloseTo(1, 6);
      // Not for a catalyst of next to nothing, whose shares are beyond what a number resolves.
      if (plan.catalystG > 1e-300)
        expect(sum(({ catalystG }) => catalystG) / plan.catalystG).toBeCloseTo(1, 6);
      // Reacted methanol: three for each mol of oil that became ester, one mol of glycerol for the three.
      const usedMol = (methanolKg - plan.methanolLeftKg) / 32.042;
      expect(Math.abs(usedMol - (3 * plan.glycerolKg) / 92.094)).toBeLessThan(1e-9 * (methanolKg / 32.042));
    });
  });

  test('is the same each time, and is not changed', () => {
    forAnyPlan((plan, request) => {
      const before = structuredClone(request);
      expect(computePlan(request)).toEqual(plan);
      expect(request).toEqual(before);
      const frozen = deepFreeze(structuredClone(request));
      expect(computePlan(frozen)).toEqual(plan);
    });
  });

  test('has a watch that a recorded run’s vessel line takes unchanged', () => {
    forAnyPlan(({ watch }) => {
      const line = { type: 'vessel', vessel: 'r1', plan: watch };
      expect(replayLineSchema.parse(line)).toEqual(line);
    });
  });

  test('has cautions of known codes, the gravest first, with text, source and a field of the request', () => {
    forAnyPlan(({ cautions }) => {
      const places = cautions.map(({ code }) => CAUTION_CODES.indexOf(code));
      expect(places).toEqual(places.toSorted((a, b) => a - b));
      for (const { code, text, source, field } of cautions) {
        expect(text, code).not.toMatch(/undefined|NaN|null|Infinity|\[object/);
        expect([text.length > 20, source.length > 10], code).toEqual([true, true]);
        if (field !== null) expect(schemaAt(field), field).toBeDefined();
      }
      // Each thing is said once.
      expect(new Set(cautions.map(({ text }) => text)).size).toBe(cautions.length);
    });
  });
});

describe('more of one thing', () => {
  test('altitude: lower boiling, in every number that comes of it', () => {
    fc.assert(
      fc.property(
        usualRequest,
        fc.double({ min: -500, max: 5999, noNaN: true }),
        fc.double({ min: 1, max: 1000, noNaN: true }),
        (request, altitudeM, more) => {
          const low = planOf({ ...request, site: { altitudeM } });
          const high = planOf({ ...request, site: { altitudeM: Math.min(6000, altitudeM + more) } });
          for (const name of [
            'pressureHPa',
            'methanolBoilingC',
            'waterBoilingC',
            'highestDosingC',
            'nearBoilingC',
          ] as const)
            expect(high[name], name).toBeLessThan(low[name]);
          expect(high.methoxideAllowedC).toBeLessThan(low.methoxideAllowedC);
          expect(high.methoxidePurePortionG).toBeLessThan(low.methoxidePurePortionG);
        },
      ),
      { numRuns: share(200) },
    );
  });

  test('titration: more catalyst, soap, acid and heat', () => {
    fc.assert(
      fc.property(usualRequest, fc.double({ min: 0.01, max: 4, noNaN: true }), (request, more) => {
        const { titration } = request.oil;
        const plan = planOf(request);
        const acid = planOf({
          ...request,
          oil: { ...request.oil, titration: { ...titration, mL: titration.mL + more } },
        });
        for (const name of [
          'catalystG',
          'catalystPercentOfOilMass',
          'catalystForAcidG',
          'soapG',
          'soapWaterG',
          'acidNumberMgKOHPerG',
          'freeFattyAcidPercent',
          'methoxidePeakC',
        ] as const)
          expect(acid[name], name).toBeGreaterThan(plan[name]);
      }),
      { numRuns: share(200) },
    );
  });

  test('methanol: a higher ratio and cooler methoxide; purity: less to weigh out', () => {
    forUsualPlans((request) => {
      const plan = planOf(request);
      const { percentOfOilVolume } = request.methanol;
      const more = planOf({
        ...request,
        methanol: { ...request.methanol, percentOfOilVolume: percentOfOilVolume + 1 },
      });
      expect(more.methanolToOilMolar).toBeGreaterThan(plan.methanolToOilMolar);
      expect(more.methoxidePeakC).toBeLessThan(plan.methoxidePeakC);
      const flake = (purityPercent: number) =>
        planOf({ ...request, catalyst: { ...request.catalyst, purityPercent } }).catalystG;
      expect(flake(99)).toBeLessThan(flake(85));
    });
  });
});

/** What grows with the batch, and takes nothing else from its size. */
const AMOUNTS = [
  'oilKg',
  'methanolL',
  'methanolKg',
  'soapWaterG',
  'catalystG',
  'catalystNeededG',
  'catalystForAcidG',
  'methoxidePurePortionG',
  'methoxidePortionG',
  ...['fuelL', 'fuelKg', 'glycerolLayerL', 'glycerolLayerKg', 'glycerolKg', 'methanolLeftKg'].flatMap(bounds),
  ...['recoveredFromGlycerolKg', 'recoveredFromFuelKg', 'soapG', 'washedFuelL'].flatMap(bounds),
];
/** What is the same in a jar and in a tank. */
const SAME = [
  'oilDensityKgPerM3',
  'methanolToOilMolar',
  'catalystPercentOfOilMass',
  'acidNumberMgKOHPerG',
  'freeFattyAcidPercent',
  'methanolBoilingC',
  'highestDosingC',
  'nearBoilingC',
  'methoxidePeakC',
  'methoxideAllowedC',
  'mixedC',
  ...[
    'reactionMinutes',
    'expectedConversionPercent',
    'fuelMethanolPercent',
    'glycerolLayerMethanolPercent',
  ].flatMap(bounds),
  ...['yieldPercent', 'fuelSoapPpm'].flatMap(bounds),
];

function bounds(name: string): string[] {
  return [name, `${name}Low`, `${name}High`];
}

test('from a jar to 1,000 L: amounts grow with the oil, and nothing else changes', () => {
  fc.assert(
    fc.property(usualRequest, fc.double({ min: 0.2, max: 1000, noNaN: true }), (request, volumeL) => {
      const jar = planOf({ ...request, oil: { ...request.oil, volumeL: 0.2 } });
      const tank = planOf({ ...request, oil: { ...request.oil, volumeL } });
      const numbers = (plan: PlanAnswer) => plan as unknown as Record<string, number>;
      for (const name of AMOUNTS) {
        const [small, large] = [numbers(jar)[name]!, numbers(tank)[name]!];
        expect(Number.isFinite(small), name).toBe(true);
        expect(Math.abs(large - small * (volumeL / 0.2)), name).toBeLessThanOrEqual(1e-9 * Math.abs(large));
      }
      for (const name of SAME) {
        const [small, large] = [numbers(jar)[name]!, numbers(tank)[name]!];
        expect(Number.isFinite(small), name).toBe(true);
        expect(Math.abs(large - small), name).toBeLessThanOrEqual(1e-9 * Math.abs(small));
      }
      expect(tank.oilVerdict).toBe(jar.oilVerdict);
      expect(tank.cautions.map(({ code }) => code)).toEqual(jar.cautions.map(({ code }) => code));
    }),
    { numRuns: share(200) },
  );
});

test('the same oil said in other measures is the same plan', () => {
  forUsualPlans((request) => {
    const { titration } = request.oil;
    const plan = planOf(request);
    // Half the titrant of twice the strength; ten times the sample; in two runs.
    for (const same of [
      { mL: titration.mL / 2, gPerL: 2 },
      { mL: titration.mL * 10, sampleMl: 10 },
      { mL: [titration.mL, titration.mL] },
      { mL: titration.mL + 0.5, blankMl: 0.5 },
    ]) {
      const other = planOf({ ...request, oil: { ...request.oil, titration: { ...titration, ...same } } });
      expect(Math.abs(other.catalystG / plan.catalystG - 1)).toBeLessThan(1e-9);
      expect(Math.abs(other.soapG - plan.soapG)).toBeLessThanOrEqual(1e-9 * Math.max(1, plan.soapG));
    }
    // The amount worked out, given back, is the same plan.
    const given = planOf({ ...request, catalyst: { ...request.catalyst, grams: plan.catalystG } });
    expect(given.catalystPercentOfOilMass).toBe(plan.catalystPercentOfOilMass);
    expect(given.methoxidePeakC).toBe(plan.methoxidePeakC);
    expect(given.watch).toEqual(plan.watch);
    // The pressure worked out from the altitude, given back, boils at the same temperature.
    const read = planOf({ ...request, site: { pressureHPa: plan.pressureHPa } });
    expect(read.methanolBoilingC).toBe(plan.methanolBoilingC);
  });
});

type AnyFormula = Formula<Inputs, number | Band | SettledLayers>;

/** Every formula of the chemistry, by what it gives. */
const FORMULAS = new Map<string, AnyFormula>();
const CHEMISTRY = new URL('../../../shared/chemistry/', import.meta.url);
for (const file of readdirSync(CHEMISTRY)) {
  const module: Record<string, unknown> = await import(new URL(file, CHEMISTRY).href);
  for (const exported of Object.values(module)) {
    if (typeof exported !== 'function' || !('gives' in exported)) continue;
    const one = exported as AnyFormula;
    if (FORMULAS.has(one.gives)) throw new Error(`two formulas give '${one.gives}'`);
    FORMULAS.set(one.gives, one);
  }
}

const fieldAt = (plan: PlanAnswer, path: string): number | undefined =>
  path
    .split('.')
    .reduce<unknown>((object, key) => (object as Record<string, unknown> | undefined)?.[key], plan) as number;

/** What the balance of the layers gives for a field of the answer. */
const LAYER_FIELDS: Record<string, (layers: SettledLayers) => number | Band> = {
  fuelL: ({ fuel }) => fuel.litres,
  fuelKg: ({ fuel }) => fuel.kg,
  washedFuelL: ({ washedL }) => washedL,
  fuelMethanolPercent: ({ fuel }) => fuel.methanolPercent,
  glycerolLayerL: ({ glycerol }) => glycerol.litres,
  glycerolLayerKg: ({ glycerol }) => glycerol.kg,
  glycerolLayerMethanolPercent: ({ glycerol }) => glycerol.methanolPercent,
  glycerolKg: ({ glycerolKg }) => glycerolKg,
  methanolLeftKg: ({ methanolLeftKg }) => methanolLeftKg,
  yieldPercent: ({ yieldPercent }) => yieldPercent,
  fuelSoapPpm: ({ fuel: { soapKg, kg } }) => (soapKg.value / kg.value) * 1e6,
};

function expectTrue(working: Working, plan: PlanAnswer): void {
  const formula = FORMULAS.get(working.gives);
  if (formula === undefined) throw new Error(`no formula gives '${working.gives}'`);
  const { formula: text, unit, source, uncertainty, constants = {}, disagreement = null } = formula;
  expect(working).toMatchObject({ formula: text, unit, source, uncertainty, constants, disagreement });
  expect(Object.keys(working.inputs)).toEqual(Object.keys(formula.inputs));
  const args = Object.fromEntries(Object.entries(working.inputs).map(([name, { value }]) => [name, value]));
  const result = formula(args as Arguments<Inputs>);
  expect(working.fields.length).toBeGreaterThan(0);
  for (const path of working.fields) {
    const value = fieldAt(plan, path);
    expect(value, path).toBeTypeOf('number');
    if (typeof result === 'number') {
      expect(value, path).toBe(result);
    } else if ('low' in result) {
      const band = { low: fieldAt(plan, `${path}Low`), value, high: fieldAt(plan, `${path}High`) };
      if (path.startsWith('recovered')) {
        // The bounds are those of the layers as well.
        expect(value, path).toBe(result.value);
        expect(band.low, path).toBeLessThanOrEqual(result.low);
        expect(band.high, path).toBeGreaterThanOrEqual(result.high);
      } else expect(band, path).toEqual(result);
    } else {
      const pick = LAYER_FIELDS[path];
      if (pick === undefined) throw new Error(`the layers give no ${path}`);
      const picked = pick(result);
      const band = typeof picked === 'number' ? { low: picked, value: picked, high: picked } : picked;
      expect(value, path).toBe(band.value);
      // The bounds are those of the conversion as well.
      expect(fieldAt(plan, `${path}Low`), path).toBeLessThanOrEqual(band.low);
      expect(fieldAt(plan, `${path}High`), path).toBeGreaterThanOrEqual(band.high);
    }
  }
}

describe('workings', () => {
  test('every one of them gives the number that it stands by, worked out anew', () => {
    forAnyPlan((plan) => {
      for (const working of plan.workings) expectTrue(working, plan);
    });
  });

  test('every field has one at most, and says so where an input lies beyond its source', () => {
    forAnyPlan((plan) => {
      const fields = plan.workings.flatMap((working) => working.fields);
      expect(fields.length).toBe(new Set(fields).size);
      const beyond = plan.workings.flatMap(({ inputs }) =>
        Object.values(inputs).filter(({ extrapolated }) => extrapolated),
      );
      const said = plan.cautions.filter(({ code }) => code === 'outside-validity');
      expect(said.length > 0).toBe(beyond.length > 0);
    });
  });

  test('what a usual plan computes by a formula can be opened', () => {
    const { workings } = planOf({ site: { altitudeM: 340 }, oil: { titration: { mL: 9, titrant: 'NaOH' } } });
    expect(workings.flatMap(({ fields }) => fields)).toEqual(
      expect.arrayContaining([
        'pressureHPa',
        'methanolBoilingC',
        'waterBoilingC',
        'highestDosingC',
        'nearBoilingC',
        'oilDensityKgPerM3',
        'oilKg',
        'oilMolarMassGPerMol',
        'methanolL',
        'methanolDensityKgPerM3',
        'methanolKg',
        'methanolToOilMolar',
        'titration.molPerL',
        'acidNumberMgKOHPerG',
        'freeFattyAcidPercent',
        'soapG',
        'soapWaterG',
        'esterification.methanolKg',
        'esterification.sulphuricAcidKg',
        'esterification.waterKg',
        'esterification.acidNumberLeftMgKOHPerG',
        'catalystG',
        'catalystNeededG',
        'catalystPercentOfOilMass',
        'methoxidePeakC',
        'methoxidePurePortionG',
        'mixedC',
        'reactionMinutes',
        'expectedConversionPercent',
        'liquidHeightM',
        'settleHours',
        ...Object.keys(LAYER_FIELDS),
        'recoveredFromGlycerolKg',
        'recoveredFromFuelKg',
      ]),
    );
  });
});

function deepFreeze<T>(value: T): T {
  if (typeof value === 'object' && value !== null) {
    for (const inside of Object.values(value)) deepFreeze(inside);
    Object.freeze(value);
  }
  return value;
}
