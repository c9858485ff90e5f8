import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  belowBoilingC,
  catalystPercentOfOilMass,
  massKg,
  methanolL,
  methanolToOilMolar,
  usualHeightM,
} from '../../../shared/chemistry/amounts.ts';
import { OIL_KINDS } from '../../../shared/chemistry/oil-kinds.ts';
import { oilDensityKgPerM3, oilMolarMassGPerMol } from '../../../shared/chemistry/oils.ts';
import { expectMonotone, refusal } from './ranges.ts';

/** At 20 °C, kg/m³ (CRC Handbook, read in a reprint). */
const METHANOL_KG_PER_M3 = 791.42;

/** Methanol to oil, molar, where a percent of the oil's volume of methanol is added. */
function molar(
  percentOfOilVolume: number,
  oilKgPerM3: number,
  oilMolarMassGPerMol: number,
  oilL = 1,
): number {
  return methanolToOilMolar({
    methanolKg: massKg({
      litres: methanolL({ oilL, percentOfOilVolume }),
      densityKgPerM3: METHANOL_KG_PER_M3,
    }),
    oilKg: massKg({ litres: oilL, densityKgPerM3: oilKgPerM3 }),
    oilMolarMassGPerMol,
  });
}

describe('methanol to oil', () => {
  test('100 g of triolein takes 21.712 g of methanol for 6:1, and 10.856 g for 3:1 (IUPAC atomic weights)', () => {
    const triolein = { oilKg: 0.1, oilMolarMassGPerMol: 885.453 };
    expect(methanolToOilMolar({ ...triolein, methanolKg: 0.021712 })).toBeCloseTo(6, 3);
    expect(methanolToOilMolar({ ...triolein, methanolKg: 0.010856 })).toBeCloseTo(3, 3);
  });

  test('Van Gerpen’s 100 lb of oil with 21.71 lb of methanol is 6:1 (from memory)', () => {
    const lb = 0.45359237;
    expect(
      methanolToOilMolar({ methanolKg: 21.71 * lb, oilKg: 100 * lb, oilMolarMassGPerMol: 885.453 }),
    ).toBeCloseTo(6, 2);
  });

  // Molar masses from the saponification value (JAOCS 76:1415). Densities: Codex CXS 210, middle of the range
  // by water’s 998.2 (from memory); sunflower Esteban 2012 (Biomass Bioenergy 42:164). Percents worked out
  // elsewhere, to 0.1; half a percent for the density’s range.
  test.for([
    ['soybean', 25.5, 0.922 * 998.2, 877],
    ['rapeseed', 24.8, 0.917 * 998.2, 898],
    ['sunflower', 25.3, 918.2, 881],
    ['palm, measured at 50 °C', 25.8, 0.895 * 998.2, 844],
  ] as const)('6:1 of %s is %d %% of its volume (computed)', ([, percent, kgPerM3, gPerMol]) => {
    expect(Math.abs(molar(percent, kgPerM3, gPerMol) / 6 - 1)).toBeLessThan(0.007);
    // The kitchen rule: a quarter is 6:1; 20 % is 4.7 to 4.8 only, and an eighth is all used up.
    expect(molar(25, kgPerM3, gPerMol)).toBeCloseTo(6, 0);
    expect(molar(20, kgPerM3, gPerMol)).toBeGreaterThan(4.6);
    expect(molar(20, kgPerM3, gPerMol)).toBeLessThan(4.9);
    expect(molar(12.5, kgPerM3, gPerMol)).toBeCloseTo(3, 0);
  });

  test('25 % is 5.7 to 6.1 mol in each oil, but 4.4 in coconut, as its text says', () => {
    for (const kind of OIL_KINDS) {
      const ratio = molar(25, oilDensityKgPerM3({ kind, temperatureC: 20 }), oilMolarMassGPerMol({ kind }));
      if (kind === 'coconut') expect(ratio).toBeCloseTo(4.4, 1);
      else {
        expect(ratio).toBeGreaterThan(5.65);
        expect(ratio).toBeLessThan(6.15);
      }
    }
    expect(methanolL.disagreement).toContain('5.7 to 6.1');
    expect(methanolL.disagreement).toContain('4.4 for coconut');
  });

  test('is the same from jar to tank, and in proportion to the methanol', () => {
    const percent = fc.double({ min: 0.01, max: 150, noNaN: true });
    const litres = fc.double({ min: 0.01, max: 100_000, noNaN: true });
    const gPerMol = fc.double({ min: 500, max: 1000, noNaN: true });
    fc.assert(
      fc.property(percent, litres, litres, gPerMol, (of, jar, tank, molarMass) => {
        const ratio = molar(of, 915, molarMass, jar);
        expect(molar(of, 915, molarMass, tank) / ratio).toBeCloseTo(1, 9);
        expect(molar(2 * of, 915, molarMass, jar) / ratio).toBeCloseTo(2, 9);
      }),
    );
  });
});

describe('a round trip', () => {
  const litres = fc.double({ min: 1e-3, max: 1e6, noNaN: true });
  const kgPerM3 = fc.double({ min: 1, max: 3000, noNaN: true });

  test('of volume and mass comes back', () => {
    fc.assert(
      fc.property(litres, kgPerM3, (volume, densityKgPerM3) => {
        const kg = massKg({ litres: volume, densityKgPerM3 });
        expect((kg / densityKgPerM3) * 1000).toBeCloseTo(volume, 6);
      }),
    );
  });

  test('of a percent of the volume comes back', () => {
    fc.assert(
      fc.property(litres, fc.double({ min: 0, max: 300, noNaN: true }), (oilL, percentOfOilVolume) => {
        expect((methanolL({ oilL, percentOfOilVolume }) / oilL) * 100).toBeCloseTo(percentOfOilVolume, 9);
      }),
    );
  });

  test('of a share of catalyst comes back, whatever its purity', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0, max: 100, noNaN: true }),
        fc.double({ min: 1, max: 100, noNaN: true }),
        fc.double({ min: 0.01, max: 9000, noNaN: true }),
        (percent, purityPercent, oilKg) => {
          const pureG = percent * 10 * oilKg;
          const catalystG = (pureG * 100) / purityPercent;
          expect(catalystPercentOfOilMass({ catalystG, purityPercent, oilKg })).toBeCloseTo(percent, 9);
        },
      ),
    );
  });

  test('of a height in a cylinder half as high again as wide gives the volume', () => {
    fc.assert(
      fc.property(litres, (volume) => {
        const height = usualHeightM({ litres: volume });
        const radius = height / 1.5 / 2;
        expect((Math.PI * radius * radius * height * 1000) / volume).toBeCloseTo(1, 9);
      }),
    );
  });
});

test('a litre of sunflower oil measured at 55 °C weighs 2.4 % less than one at 20 °C (Esteban 2012, computed)', () => {
  // 0.9310 − 6.4145e-4 t, g/cm³.
  const kg = (celsius: number) => massKg({ litres: 1, densityKgPerM3: 931.0 - 0.64145 * celsius });
  expect(1 - kg(55) / kg(20)).toBeCloseTo(0.024, 3);
});

test('a jar of 0.2 L with a quarter of methanol takes 50 mL', () => {
  expect(methanolL({ oilL: 0.2, percentOfOilVolume: 25 })).toBeCloseTo(0.05, 12);
});

test('3.5 g of NaOH for a litre of oil is 0.38 % of its mass (by 0.92 kg/L)', () => {
  expect(catalystPercentOfOilMass({ catalystG: 3.5, purityPercent: 100, oilKg: 0.92 })).toBeCloseTo(0.38, 2);
});

test('KOH flake of 85 % counts for 85 % of what is weighed', () => {
  const weighed = { catalystG: 5.78, oilKg: 0.92 };
  // 4.91 g pure is what 3.5 g of NaOH is in moles: × 56.105 / 39.997.
  expect(catalystPercentOfOilMass({ ...weighed, purityPercent: 85 }) * 9.2).toBeCloseTo(4.91, 2);
});

test('a margin below boiling is taken off', () => {
  // Methanol boils at 59.689 °C at 1,609.344 m (computed from NIST’s equation and the standard atmosphere).
  expect(belowBoilingC({ boilingC: 59.689, marginC: 5 })).toBeCloseTo(54.689, 9);
});

test('the height of the liquid grows with the volume', () => {
  expectMonotone(usualHeightM, 'litres', 'rises');
});

describe('what is out of range is refused by name', () => {
  test.for([
    ['massKg litres', 'litres', () => massKg({ litres: -1, densityKgPerM3: 900 })],
    ['massKg density', 'densityKgPerM3', () => massKg({ litres: 1, densityKgPerM3: 0.9 })],
    ['methanolL oil', 'oilL', () => methanolL({ oilL: 1_000_001, percentOfOilVolume: 20 })],
    ['methanolL percent', 'percentOfOilVolume', () => methanolL({ oilL: 1, percentOfOilVolume: 301 })],
    [
      'ratio without oil',
      'oilKg',
      () => methanolToOilMolar({ methanolKg: 1, oilKg: 0, oilMolarMassGPerMol: 880 }),
    ],
    [
      'ratio of a light oil',
      'oilMolarMassGPerMol',
      () => methanolToOilMolar({ methanolKg: 1, oilKg: 1, oilMolarMassGPerMol: 499 }),
    ],
    [
      'ratio of no number',
      'methanolKg',
      () => methanolToOilMolar({ methanolKg: Number.NaN, oilKg: 1, oilMolarMassGPerMol: 880 }),
    ],
    [
      'share of impure catalyst',
      'purityPercent',
      () => catalystPercentOfOilMass({ catalystG: 1, purityPercent: 0.5, oilKg: 1 }),
    ],
    [
      'share of less than none',
      'catalystG',
      () => catalystPercentOfOilMass({ catalystG: -1, purityPercent: 90, oilKg: 1 }),
    ],
    ['margin', 'marginC', () => belowBoilingC({ boilingC: 60, marginC: -1 })],
    ['boiling point', 'boilingC', () => belowBoilingC({ boilingC: 101, marginC: 1 })],
  ] as const)('%s', ([, field, call]) => {
    expect(refusal(call)).toMatchObject({ code: 'out-of-range', field });
  });
});
