import type { BaseKind } from './bases.ts';
import { esterDensityKgPerM3, esterViscosityMPaS } from './ester.ts';
import { type Band, formula } from './formula.ts';
import { glycerolDensityKgPerM3 } from './glycerol.ts';
import { methanolDensityKgPerM3 } from './methanol.ts';

const GRAVITY = { g: 9.80665 } as const;

/**
 * Speed at which one drop falls in still liquid, m/s (Stokes). Drops of 0.1 to 2,000 µm; over some 250 µm in
 * warm ester the flow is no longer creeping and the formula is too fast.
 * @throws OutOfRange
 */
export const stokesVelocityMPerS = formula(
  {
    gives: 'Speed of a falling drop',
    unit: 'm/s',
    formula: 'v = g · (dropletUm / 1,000,000)² · densityDifferenceKgPerM3 / (18 · viscosityMPaS / 1000)',
    inputs: {
      dropletUm: { what: 'diameter of the drop', unit: 'µm', least: 0.1, most: 2000, valid: [0.1, 250] },
      densityDifferenceKgPerM3: {
        what: 'density of the drop less that of the liquid',
        unit: 'kg/m³',
        least: 0,
        most: 2000,
      },
      viscosityMPaS: { what: 'viscosity of the liquid', unit: 'mPa·s', least: 0.01, most: 1_000_000 },
    },
    constants: GRAVITY,
    source: 'Stokes’s law; g by definition (Conférence générale des poids et mesures, 1901)',
    uncertainty:
      'Exact for one small hard sphere at a Reynolds number well under 1. A clean liquid drop may fall up to ' +
      'half as fast again, crowded drops fall slower, and drops that join fall much faster.',
  },
  ({ dropletUm, densityDifferenceKgPerM3, viscosityMPaS }) =>
    (GRAVITY.g * (dropletUm * 1e-6) ** 2 * densityDifferenceKgPerM3) / (18 * viscosityMPaS * 1e-3),
);

/** Drops, µm, and the methanol in them, % of their mass, that settle fast, as a middle guess, and slowly. */
const DROPS = {
  dFast: 240,
  dMiddle: 60,
  dSlow: 15,
  methanolFast: 25,
  methanolMiddle: 35,
  methanolSlow: 50,
} as const;
const SECONDS_PER_HOUR = 3600;

/**
 * Hours in which a drop of glycerol falls through the whole height of the liquid, m (0 to 20), at a
 * temperature, °C (−20 to 100): a very wide band, for want of published drop sizes. It bears out
 * common practice, and is no measure for cutting its 24 hours short.
 * @throws OutOfRange
 */
export const settlingHours = formula(
  {
    gives: 'Time for a drop of glycerol to fall the whole height',
    unit: 'h',
    formula:
      'hours = liquidHeightM / v / 3600, v = Stokes’s speed of a drop of d µm (dFast, dMiddle, dSlow) in ' +
      'ester; density of the drop = 1 / (w / ρ_methanol + (1 − w) / ρ_glycerol), w its share of methanol',
    inputs: {
      liquidHeightM: { what: 'height of the liquid', unit: 'm', least: 0, most: 20 },
      temperatureC: {
        what: 'temperature while settling',
        unit: '°C',
        least: -20,
        most: 100,
        valid: [26.85, 96.85],
      },
    },
    constants: DROPS,
    source:
      'Stokes’s law with the densities and the viscosity given here; drop sizes are assumed, none published ' +
      'was seen. Methanol and soap make them smaller, water makes them larger (“Effect of Soap, Methanol, and ' +
      'Water on Glycerol Particle Size in Biodiesel Purification”, abstract read).',
    uncertainty:
      'The bounds are assumed drops of 240 µm with 25 % methanol and of 15 µm with 50 %: glycerol that has ' +
      'settled is lighter than pure, since it holds methanol. They span common practice (no source): in a ' +
      'drum most of it is down within an hour, and the ester is clear after some 24 h. Drops that join, ' +
      'currents in cooling liquid, and glycerol that sets are not counted.',
  },
  ({ liquidHeightM, temperatureC }): Band => {
    const liquidDensity = esterDensityKgPerM3({ temperatureC });
    const viscosityMPaS = esterViscosityMPaS({ temperatureC });
    const methanolDensity = methanolDensityKgPerM3({ temperatureC });
    const glycerolDensity = glycerolDensityKgPerM3({ temperatureC });
    const hours = (dropletUm: number, methanolPercent: number): number => {
      const w = methanolPercent / 100;
      const densityDifferenceKgPerM3 = 1 / (w / methanolDensity + (1 - w) / glycerolDensity) - liquidDensity;
      const v = stokesVelocityMPerS({ dropletUm, densityDifferenceKgPerM3, viscosityMPaS });
      return liquidHeightM / v / SECONDS_PER_HOUR;
    };
    return {
      low: hours(DROPS.dFast, DROPS.methanolFast),
      value: hours(DROPS.dMiddle, DROPS.methanolMiddle),
      high: hours(DROPS.dSlow, DROPS.methanolSlow),
    };
  },
);

const SETS_BELOW_C = { NaOH: 38, KOH: null } as const satisfies Record<BaseKind, number | null>;

/**
 * Temperature, °C, under which the glycerol of this catalyst sets and can no longer be drained; null where it
 * stays liquid. Common practice, no source: near 38 °C with NaOH. Methanol in it lowers that, soap raises it.
 */
export const glycerolSetsBelowC = (base: BaseKind): number | null => SETS_BELOW_C[base];
