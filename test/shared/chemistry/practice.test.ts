import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { BASES } from '../../../shared/chemistry/bases.ts';
import {
  DRYING_METHODS,
  dropoutPercent,
  FIELD_TESTS,
  type Practice,
  WASH_METHODS,
  waterByWeightPercent,
} from '../../../shared/chemistry/practice.ts';
import { soapTitrationPpm } from '../../../shared/chemistry/soap.ts';

describe('what drops out of methanol', () => {
  test.for([
    [0, 3, 0],
    [0.1, 3, 3.333],
    [0.3, 3, 10],
    [3, 3, 100],
  ] as const)('%d mL of %d mL of fuel is %d %% (by hand)', ([dropoutMl, fuelMl, percent]) => {
    expect(dropoutPercent({ dropoutMl, fuelMl })).toBeCloseTo(percent, 3);
  });

  test('is refused where it is more than the fuel', () => {
    expect(() => dropoutPercent({ dropoutMl: 3.1, fuelMl: 3 })).toThrow(
      expect.objectContaining({
        code: 'out-of-range',
        field: 'dropoutMl',
        allowed: '0 to 3 mL, the fuel taken',
      }),
    );
  });

  test.for([
    ['dropoutMl', -0.1],
    ['fuelMl', 0],
    ['fuelMl', Number.NaN],
  ] as const)('is refused with %s of %d', ([field, value]) => {
    expect(() => dropoutPercent({ dropoutMl: 0.01, fuelMl: 3, [field]: value })).toThrow(
      expect.objectContaining({ code: 'out-of-range', field }),
    );
  });
});

describe('water by weight', () => {
  test.for([
    [100, 99.95, 0.05],
    [100, 99.8, 0.2],
    [250, 245, 2],
    [100, 100, 0],
  ] as const)('from %d g to %d g is %d %% (by hand)', ([beforeG, afterG, percent]) => {
    expect(waterByWeightPercent({ beforeG, afterG })).toBeCloseTo(percent, 9);
  });

  test('gives back the water that was put in', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0.001, max: 100_000, noNaN: true }),
        fc.double({ min: 0, max: 100, noNaN: true }),
        (beforeG, percent) => {
          const afterG = beforeG * (1 - percent / 100);
          expect(waterByWeightPercent({ beforeG, afterG })).toBeCloseTo(percent, 9);
        },
      ),
    );
  });

  test.for([
    ['afterG', 100.1],
    ['afterG', -1],
    ['beforeG', 0],
    ['beforeG', Number.NaN],
  ] as const)('is refused with %s of %d', ([field, value]) => {
    expect(() => waterByWeightPercent({ beforeG: 100, afterG: 0, [field]: value })).toThrow(
      expect.objectContaining({ code: 'out-of-range', field }),
    );
  });
});

describe('the practices', () => {
  const all: readonly Practice[] = [FIELD_TESTS, WASH_METHODS, DRYING_METHODS].flatMap((practices) =>
    Object.values<Practice>(practices),
  );

  test('say each what it shows and what it does not, and where that comes from', () => {
    for (const { name, how, shows, doesNotShow, source } of all) {
      for (const text of [name, how, shows, doesNotShow, source]) expect(text.trim()).not.toBe('');
    }
    expect(new Set(all.map(({ name }) => name)).size).toBe(all.length);
  });

  test('are no proof of compliance, not one of the field tests', () => {
    expect(Object.values(FIELD_TESTS).some(({ showsCompliance }) => showsCompliance)).toBe(false);
  });

  test('work out what is measured with a formula that can be opened', () => {
    expect(FIELD_TESTS.methanolSolubility.formula).toBe(dropoutPercent);
    expect(FIELD_TESTS.waterByWeight.formula).toBe(waterByWeightPercent);
    expect(FIELD_TESTS.soapTitration.formula).toBe(soapTitrationPpm);
  });

  // Atomic masses of sodium and potassium, 22.990 and 39.098 g/mol (IUPAC). 5 mg/kg is both standards' limit.
  test.for([
    ['NaOH', 22.99, 66],
    ['KOH', 39.098, 41],
  ] as const)('say rightly what soap is 5 mg/kg of the metal of %s', ([base, gPerMol, ppm]) => {
    const soap = (5 / gPerMol) * BASES[base].oleateGPerMol;
    expect(Math.round(soap)).toBe(ppm);
    expect(FIELD_TESTS.soapTitration.doesNotShow).toContain(`${ppm} ppm`);
    const acidMl = (soap * 1e-6 * 10 * 1000) / (0.01 * BASES[base].oleateGPerMol);
    expect(soapTitrationPpm({ acidMl, blankMl: 0, acidMolPerL: 0.01, sampleG: 10, base })).toBeCloseTo(
      soap,
      6,
    );
    expect(FIELD_TESTS.soapTitration.doesNotShow).toContain(acidMl.toFixed(1));
  });
});
