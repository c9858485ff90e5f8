import { ZERO_CELSIUS_K } from '../units/temperature.ts';
import { formula } from './formula.ts';

/** log10 P[bar] = A − B/(T[K] + C). */
const ANTOINE = { A: 5.20409, B: 1581.341, C: -33.5 } as const;
const ANTOINE_SOURCE =
  'Antoine equation of Ambrose & Sprake 1970 (J. Chem. Thermodyn. 2:631) as in the NIST WebBook, 288.1 to 356.83 K';

/** Pressures for which a boiling point is given, hPa. */
export const METHANOL_PRESSURE_RANGE_HPA = { least: 20, most: 1100 } as const;

/**
 * Boiling point of pure methanol, °C, at a pressure, hPa (20 to 1,100; under 98.7 hPa, that is 15 °C,
 * extrapolated). The mix in a reactor boils a little higher, so that this is the cautious limit.
 * Within ±0.25 K of the published normal boiling points, which differ by 0.4 K among themselves.
 * @throws OutOfRange
 */
export const methanolBoilingC = formula(
  {
    gives: 'Boiling point of methanol',
    unit: '°C',
    formula: 't = B / (A − log10(pressureHPa / 1000)) − C − 273.15',
    inputs: {
      pressureHPa: {
        what: 'pressure over the liquid',
        unit: 'hPa',
        ...METHANOL_PRESSURE_RANGE_HPA,
        valid: [98.7, 1100],
      },
    },
    constants: ANTOINE,
    source: ANTOINE_SOURCE,
    uncertainty: '±0.25 K: published normal boiling points lie from 64.48 to 64.7 °C',
    disagreement:
      'The reference equation of state (de Reuck & Craven 1993) and the VDI Heat Atlas lie 0.1 K lower, ' +
      'Yaws and older tables 0.15 K higher. The NIST set for 353.5 K and above is 6.6 % low in pressure ' +
      'where it meets this one, and is not used.',
  },
  ({ pressureHPa }) => ANTOINE.B / (ANTOINE.A - Math.log10(pressureHPa / 1000)) - ANTOINE.C - ZERO_CELSIUS_K,
);
