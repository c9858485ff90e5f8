import type { BaseKind } from '../../../shared/chemistry/bases.ts';
import { conversionPercent, type ReactionInputs } from '../../../shared/chemistry/kinetics.ts';
import type { Pot, Steps } from '../../../shared/chemistry/three-steps.ts';
import { odex } from '../../support/odex.ts';

/** The six amounts of a pot, written out one by one, for the reference solver. */

/** Forward and backward constant of each step in turn. */
export type Rates = readonly [number, number, number, number, number, number];

export const freshPot = (methanol: number): Pot => ({
  tri: 1,
  di: 0,
  mono: 0,
  glycerol: 0,
  ester: 0,
  methanol,
});

const listed = ({ tri, di, mono, glycerol, ester, methanol }: Pot): number[] => [
  tri,
  di,
  mono,
  glycerol,
  ester,
  methanol,
];

/** The pot after so many minutes; `faster` says by what all rates are multiplied at a time. */
export function reacted(
  pot: Pot,
  [k1, k2, k3, k4, k5, k6]: Rates,
  minutes: number,
  faster: (minute: number) => number = () => 1,
): Pot {
  if (minutes === 0) return pot;
  const [tri, di, mono, glycerol, ester, methanol] = odex(
    (minute, y) => {
      const [t, d, m, g, e, a] = y as [number, number, number, number, number, number];
      const f = faster(minute);
      const r1 = f * (k1 * t * a - k2 * d * e);
      const r2 = f * (k3 * d * a - k4 * m * e);
      const r3 = f * (k5 * m * a - k6 * g * e);
      return [-r1, r1 - r2, r2 - r3, r3, r1 + r2 + r3, -r1 - r2 - r3];
    },
    listed(pot),
    0,
    minutes,
  ) as [number, number, number, number, number, number];
  return { tri, di, mono, glycerol, ester, methanol };
}

/** As the integrator under test is told them. */
export const stepsOf = ([k1, k2, k3, k4, k5, k6]: Rates): Steps => ({
  rates: [k1, k3, k5],
  equilibria: [k1 / k2, k3 / k4, k5 / k6],
});

/** A stretch of time over which the temperature goes in a straight line. */
export interface Stretch {
  minutes: number;
  fromC: number;
  toC: number;
}

/** Rates run up by Arrhenius’ law with 55,000 J/mol, at a temperature against another, °C. */
export const arrhenius = (temperatureC: number, againstC: number): number =>
  Math.exp((55_000 / 8.31446) * (1 / (againstC + 273.15) - 1 / (temperatureC + 273.15)));

type Told = Omit<ReactionInputs, 'temperatureC'>;

const G_PER_MOL: Record<BaseKind, number> = { NaOH: 39.997, KOH: 56.105 };

/**
 * The pot after passes over which the temperature changes: the model as its formula is printed, with its
 * printed constants, put together again for the reference solver.
 */
export function potAfter(
  told: Told,
  passes: readonly (readonly Stretch[])[],
  bound: 'low' | 'value' | 'high' = 'value',
): Pot {
  const constants = conversionPercent.constants!;
  const of = (name: string): number => constants[name]!;
  const K3 = of(bound === 'value' ? 'K3' : `K3 (${bound})`);
  const faster = bound === 'value' ? 1 : of(`times faster (${bound})`);
  const kg = of('oilKgPerMol');
  let pot = freshPot(0);
  let takers = (told.acidNumberMgKOHPerG / 56.105 + of('lost')) * kg;
  passes.forEach((stretches, pass) => {
    const share = told.passSharesPercent[pass]! / 100;
    const drained = (pot.glycerol * of('drained')) / (1 - of('drained') + pot.glycerol * of('drained'));
    const methanol = pot.methanol * (1 - drained) + told.methanolToOilMolar * share;
    pot = { ...pot, glycerol: 0, methanol };
    const base = (share * told.catalystPercentOfOilMass * kg * 10) / G_PER_MOL[told.catalyst];
    const free = Math.max(0, base - takers);
    takers = Math.max(0, takers - base);
    const dense = (free / kg / of('fittedAtMolPerKg')) ** (of('order') - 1);
    const c = (faster * dense * free) / methanol / (of('oilLPerMol') + methanol * of('methanolLPerMol'));
    const rates: Rates = [
      c * of('rate1'),
      (c * of('rate1')) / of('K1'),
      c * of('rate2'),
      (c * of('rate2')) / of('K2'),
      c * of('rate3'),
      (c * of('rate3')) / K3,
    ];
    for (const { minutes, fromC, toC } of stretches) {
      pot = reacted(pot, rates, minutes, (minute) =>
        arrhenius(fromC + ((toC - fromC) * minute) / minutes, of('fittedAtC')),
      );
    }
  });
  return pot;
}

export const percentAfter = (...args: Parameters<typeof potAfter>): number =>
  (potAfter(...args).ester * 100) / 3;
