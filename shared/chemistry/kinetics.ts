import { ZERO_CELSIUS_K } from '../units/temperature.ts';
import { BASE_KINDS, BASES, type BaseKind } from './bases.ts';
import { type Band, formula } from './formula.ts';
import { esterAtRest, type Pot, react, type Steps } from './three-steps.ts';

/**
 * How far the transesterification has gone: three reversible steps (triglyceride to diglyceride to
 * monoglyceride to glycerol, a methyl ester each), driven by the catalyst that is left once the oil's
 * acid is neutralised. An estimate with wide bounds: never a gate, and no substitute for a test.
 */

/** J/mol, of all steps alike: triglyceride to diglyceride, Noureddini & Zhu 1997. J/(mol K). */
const ARRHENIUS = { Ea: 55_000, R: 8.31446 } as const;

/**
 * How much faster the reaction runs at one temperature than at another, °C both; 1 where they are the
 * same. One activation energy stands for all three steps: published ones lie from 27 to 83 kJ/mol.
 * @throws OutOfRange
 */
export const reactionRate = formula(
  {
    gives: 'Speed of the reaction, against that at the planned temperature',
    unit: '',
    formula: 'rate = exp(Ea / R · (1 / (plannedC + 273.15) − 1 / (temperatureC + 273.15)))',
    inputs: {
      temperatureC: { what: 'temperature', unit: '°C', least: -100, most: 300, valid: [30, 70] },
      plannedC: { what: 'planned temperature', unit: '°C', least: -100, most: 300, valid: [30, 70] },
    },
    constants: ARRHENIUS,
    source:
      'Arrhenius; activation energy of Noureddini & Zhu 1997 (JAOCS 74:1457), triglyceride to diglyceride',
    uncertainty: 'Published activation energies of the steps lie from 27 to 83 kJ/mol',
    disagreement: 'Darnoko & Cheryan 2000 (palm oil, KOH): 62, 59 and 27 kJ/mol for the three steps.',
  },
  ({ temperatureC, plannedC }) =>
    Math.exp(
      (ARRHENIUS.Ea / ARRHENIUS.R) * (1 / (plannedC + ZERO_CELSIUS_K) - 1 / (temperatureC + ZERO_CELSIUS_K)),
    ),
);

/**
 * Fitted to the two series that Opara & Oh publish (60 °C, 0.10 % NaOH, 12:1 and 24:1) and rounded.
 * `rate`: L/(mol min) of the three steps, per mol of free catalyst for each mol of methanol.
 * `lost`: mol of catalyst that a kg of oil takes up beyond the acid titrated: at 0.03 % nothing reacts.
 * `order`: in the free catalyst, beyond what was fitted: with 0.2 to 1 % what is published is two to five
 * times faster than in proportion (Noureddini & Zhu 1997, Freedman 1984, one more run of Opara & Oh).
 */
const MODEL = {
  rate1: 7,
  rate2: 80,
  rate3: 30,
  K1: 1,
  K2: 0.18,
  lost: 0.0065,
  order: 1.4,
  fittedAtMolPerKg: 0.0185,
  fittedAtC: 60,
} as const;
/**
 * Equilibrium of the last step: so that 6:1 comes to rest at 93, 96 and 99 % (Freedman 1984: 93 to
 * 98 %; the constants of Vicente 2005 for 1 % KOH: 98 and 99 %).
 */
const K3 = { low: 88, value: 185, high: 900 } as const;
/** The bounds run five times slower, and faster. */
const SPEED = { low: 1 / 5, value: 1, high: 5 } as const;
/**
 * Of soybean oil and methanol. A mol of oil: 877 g, 0.919 kg/L. A mol of methanol: 32.04 g, 0.791 kg/L.
 * `drained`: share of the methanol left over that the glycerol takes along between two passes, were all the
 * oil's glycerol formed: as in the settled layers.
 */
const POT = { oilKgPerMol: 0.877, oilLPerMol: 0.954, methanolLPerMol: 0.0405, drained: 0.7 } as const;
/** Less methanol than this, mol for each mol of oil, is none. */
const LEAST_METHANOL = 1e-9;

const SOURCE =
  'three reversible second-order steps, fitted to the series measured by Opara & Oh (Applied Soft Computing; ' +
  '60 °C, 0.10 % NaOH, 12:1 and 24:1), and carried on to 0.2 to 1 % by an order chosen by what others publish; where ' +
  'it comes to rest at 6:1 from Freedman, Pryde & Mounts 1984 (JAOCS 61:1638)';
const UNCERTAINTY =
  'Within 11 percentage points of the fitted series (root mean square 5 at 12:1 and 5 at 24:1), whose own scatter is ' +
  'about 10; of mono- and diglycerides it says little. Ester after 1 to 6 min with 1 % (Freedman 1984, from memory) is ' +
  'met within 4 points at 45 and 60 °C and overstated by 12 at 32 °C, where after an hour the estimate has what it has ' +
  'at 60 °C and a little less is measured. The bounds run five times slower and come to rest at 93 % at 6:1, and five ' +
  'times faster and at 99 %';
const DISAGREEMENT =
  'Published rate constants of one step differ by factors of 200 to 9,000. Those of Noureddini & Zhu 1997 come to ' +
  'rest at 84 to 85 % at 6:1, where 93 to 98 % is measured: their ceiling is not used. With their constants and with ' +
  'those of Vicente 2005, and of Klofutar 2010 for rapeseed, the first hour lies within the bounds to one percentage ' +
  'point; Klofutar 2010 for sunflower is up to 5 points below them at 40 °C and 1 at 50 °C, Jansri 2011 up to 2 above ' +
  'at 60 °C and within one at 55 and 65 °C. Leevijit 2004 and Karmee 2006 are below the lower bound all that hour, and ' +
  'Okullo 2011 comes to rest at 68 %. Two passes gain less here than makers report: all of the first one’s ' +
  'catalyst is taken to leave with the glycerol.';

const CHEMISTRY = {
  methanolToOilMolar: {
    what: 'mol of methanol for each mol of oil',
    unit: '',
    least: 0,
    most: 1000,
    valid: [3, 25],
  },
  catalyst: { what: 'catalyst', oneOf: BASE_KINDS },
  catalystPercentOfOilMass: {
    what: 'pure catalyst, percent of the oil’s mass',
    unit: '%',
    least: 0,
    most: 100,
    valid: [0.1, 1],
  },
  acidNumberMgKOHPerG: {
    what: 'acid number of the oil',
    unit: 'mg KOH/g',
    least: 0,
    most: 600,
  },
  passSharesPercent: {
    what: 'share of methanol and catalyst in each pass',
    unit: '%',
    least: 0,
    most: 100,
    list: true,
  },
  temperatureC: { what: 'temperature of the reaction', unit: '°C', least: 0, most: 150, valid: [30, 70] },
} as const;

/** What the estimate is told of a reaction. */
export interface ReactionInputs {
  methanolToOilMolar: number;
  catalyst: BaseKind;
  catalystPercentOfOilMass: number;
  acidNumberMgKOHPerG: number;
  passSharesPercent: readonly number[];
  temperatureC: number;
}

/**
 * Share of the oil's ester bonds that have become methyl ester, percent (0 to 100), after so many
 * minutes of each pass, mixed, at one temperature. For a temperature that changed: the minutes
 * weighted by `reactionRate`, which for one activation energy is exact. Estimate, with bounds.
 * @throws OutOfRange
 */
export const conversionPercent = formula(
  {
    gives: 'Conversion to ester',
    unit: '%',
    formula:
      'd[TG]/dt = −r1, d[DG]/dt = r1 − r2, d[MG]/dt = r2 − r3, d[ester]/dt = r1 + r2 + r3 = −d[methanol]/dt; ' +
      'r1 = c · d · a · f · rate1 · ([TG][methanol] − [DG][ester] / K1), r2 and r3 alike; ' +
      'a = exp(Ea / R · (1 / (fittedAtC + 273.15) − 1 / (temperatureC + 273.15))); ' +
      'c = (catalyst − acid − lost · oil mass) / methanol, mol/mol at the pass’s start; d = (the same / oil mass / ' +
      'fittedAtMolPerKg) ^ (order − 1); f = 1, in the bounds the times faster; [ ] in mol for each litre of ' +
      'oil (oilKgPerMol, oilLPerMol) and methanol (methanolLPerMol) at the pass’s start; between two passes the ' +
      'glycerol g, mol for each mol of oil, is drained, and with it the catalyst and of the methanol left the share ' +
      'g · drained / (1 − drained + g · drained)',
    inputs: {
      ...CHEMISTRY,
      minutes: {
        what: 'mixed time of each pass at this temperature; a pass without one has not begun',
        unit: 'min',
        least: 0,
        most: 1_000_000_000,
        valid: [0, 1440],
        list: true,
      },
    },
    constants: {
      ...MODEL,
      'K3 (low)': K3.low,
      K3: K3.value,
      'K3 (high)': K3.high,
      'times faster (low)': SPEED.low,
      'times faster (high)': SPEED.high,
      ...POT,
      ...ARRHENIUS,
    },
    source: SOURCE,
    uncertainty: UNCERTAINTY,
    disagreement: DISAGREEMENT,
  },
  ({ minutes, ...reaction }): Band =>
    bounded((bound) => {
      const kettle = newKettle(reaction);
      minutes.forEach((lasted, pass) => {
        const share = reaction.passSharesPercent[pass] ?? 0;
        react(kettle.pot, startPass(kettle, reaction, share, bound), lasted);
      });
      // The integration’s error may carry it past the end.
      return Math.min(100, kettle.pot.ester * (100 / 3));
    }),
);

/** `reactionMinutes` looks no further: a day. */
const LONGEST_MINUTES = 1440;
/** `reactionMinutes` is over when so much of what the pass can still convert is converted. */
const OF_REST = 0.98;

/**
 * Minutes of the first pass, mixed, at one temperature, until 98 % of the conversion is reached at which
 * it comes to rest. 0 to 1,440: the latter says 'not within a day'. Estimate, with bounds.
 * @throws OutOfRange
 */
export const reactionMinutes = formula(
  {
    gives: 'Time that the reaction takes',
    unit: 'min',
    formula: `until ${OF_REST * 100} % of the conversion at which it comes to rest, by the same steps as the conversion; 1440 says: not within a day`,
    inputs: CHEMISTRY,
    constants: { ofRest: OF_REST, longest: LONGEST_MINUTES },
    source: SOURCE,
    uncertainty: UNCERTAINTY,
    disagreement:
      'Common practice, no source: an hour. At 55 °C that is within the bounds with 0.38 % NaOH and 5.2:1 (7 to 92 min), ' +
      'and just beyond them with 0.5 % and 6:1 (3 to 58 min).',
  },
  (reaction): Band => {
    const [first] = reaction.passSharesPercent;
    return bounded((bound) => {
      const kettle = newKettle(reaction);
      const steps = startPass(kettle, reaction, first!, bound);
      const atRest = esterAtRest(kettle.pot.methanol, steps.equilibria);
      return react(kettle.pot, steps, LONGEST_MINUTES, OF_REST * atRest);
    });
  },
);

type Bound = keyof typeof K3;

/** The three runs of an estimate, put in order: what is fast has a high conversion and a low time. */
function bounded(run: (bound: Bound) => number): Band {
  const value = run('value');
  const others = [run('low'), run('high')];
  return { low: Math.min(value, ...others), value, high: Math.max(value, ...others) };
}

/** What is in the pot, and what still takes catalyst up, mol for each mol of oil. */
interface Kettle {
  pot: Pot;
  takers: number;
}

function newKettle({ acidNumberMgKOHPerG }: ReactionInputs): Kettle {
  const acid = acidNumberMgKOHPerG / BASES.KOH.gPerMol;
  return {
    pot: { tri: 1, di: 0, mono: 0, glycerol: 0, ester: 0, methanol: 0 },
    takers: (acid + MODEL.lost) * POT.oilKgPerMol,
  };
}

/** Drains what an earlier pass left, adds this one's methanol and catalyst; how fast it reacts then. */
function startPass(kettle: Kettle, reaction: ReactionInputs, sharePercent: number, bound: Bound): Steps {
  const { pot } = kettle;
  // Methanol shares itself out between glycerol and ester: of less glycerol a smaller part is drained.
  const inGlycerol = pot.glycerol * POT.drained;
  pot.methanol *= (1 - POT.drained) / (1 - POT.drained + inGlycerol);
  pot.glycerol = 0;
  pot.methanol += (reaction.methanolToOilMolar * sharePercent) / 100;
  const gPerMolOfOil = reaction.catalystPercentOfOilMass * POT.oilKgPerMol * 10;
  const base = ((gPerMolOfOil / BASES[reaction.catalyst].gPerMol) * sharePercent) / 100;
  const free = Math.max(0, base - kettle.takers);
  kettle.takers = Math.max(0, kettle.takers - base);
  const rate = reactionRate({ temperatureC: reaction.temperatureC, plannedC: MODEL.fittedAtC });
  const volume = POT.oilLPerMol + pot.methanol * POT.methanolLPerMol;
  const dense = (free / POT.oilKgPerMol / MODEL.fittedAtMolPerKg) ** (MODEL.order - 1);
  const c = pot.methanol > LEAST_METHANOL ? (SPEED[bound] * rate * dense * free) / pot.methanol / volume : 0;
  return {
    rates: [c * MODEL.rate1, c * MODEL.rate2, c * MODEL.rate3],
    equilibria: [MODEL.K1, MODEL.K2, K3[bound]],
  };
}
