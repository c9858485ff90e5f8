import { waterSolubilityPpm } from './drying.ts';
import { type FormulaText, formula, OutOfRange } from './formula.ts';
import { soapTitrationPpm } from './soap.ts';

/** A way to test, wash or dry, and what to think of it. */
export interface Practice {
  readonly name: string;
  readonly how: string;
  readonly shows: string;
  readonly doesNotShow: string;
  readonly source: string;
  /** What works its reading out, or says how to take it. */
  readonly formula?: FormulaText;
}

/** None of them is a method of a fuel standard, so that none shows that fuel complies with one. */
export interface FieldTest extends Practice {
  readonly showsCompliance: false;
}

const COMMON_PRACTICE = 'common practice, no source';

/**
 * Part of the fuel that methanol did not dissolve, % by volume: for the methanol solubility test. Fuel 0.1 to
 * 1,000 mL. A tenth of a millilitre is what a test tube shows: ±3 % with 3 mL of fuel.
 * @throws OutOfRange also where more dropped out than there was fuel
 */
export const dropoutPercent = formula(
  {
    gives: 'Part of the fuel that methanol does not dissolve',
    unit: '% v/v',
    formula: 'dropout = 100 · dropoutMl / fuelMl',
    inputs: {
      dropoutMl: { what: 'what lies on the bottom', unit: 'mL', least: 0, most: 1000 },
      fuelMl: { what: 'fuel taken', unit: 'mL', least: 0.1, most: 1000 },
    },
    source: 'arithmetic',
    uncertainty:
      '±3 % of the fuel with 3 mL, since 0.1 mL is what can be read. It is no measure of conversion: what ' +
      'drops out has methanol in it, and part of what did not react dissolves.',
  },
  ({ dropoutMl, fuelMl }) => {
    if (dropoutMl > fuelMl) throw new OutOfRange('dropoutMl', dropoutMl, `0 to ${fuelMl} mL, the fuel taken`);
    return (100 * dropoutMl) / fuelMl;
  },
);

/**
 * Loss of mass on heating, % of what was weighed before: the water, if nothing else went. 0.001 to 100,000 g.
 * @throws OutOfRange also where it weighs more after than before
 */
export const waterByWeightPercent = formula(
  {
    gives: 'Water by weight',
    unit: '% m/m',
    formula: 'water = 100 · (beforeG − afterG) / beforeG',
    inputs: {
      beforeG: { what: 'sample before heating', unit: 'g', least: 0.001, most: 100_000 },
      afterG: { what: 'sample after heating', unit: 'g', least: 0, most: 100_000 },
    },
    source: 'arithmetic',
    uncertainty:
      'Twice the step of the balance, divided by the mass of the sample: ±0.2 % for 100 g on a balance of ' +
      '0.1 g. ' +
      'Methanol that goes off counts as water.',
  },
  ({ beforeG, afterG }) => {
    if (afterG > beforeG) throw new OutOfRange('afterG', afterG, `0 to ${beforeG} g, the sample before`);
    return (100 * (beforeG - afterG)) / beforeG;
  },
);

export const FIELD_TESTS = {
  methanolSolubility: {
    name: 'Methanol solubility, 3/27',
    how: 'Shake 3 mL of settled fuel with 27 mL of methanol, both at 20 to 21 °C, and look after 10 minutes.',
    shows: 'Oil that did not react: it drops out, and ester dissolves. Pass or not, no percentage.',
    doesNotShow:
      'Mono- and diglycerides for the most part, which dissolve in some measure; free glycerol, soap, water, ' +
      'acid. A fat rich in saturated acids can drop out when cold though it reacted.',
    source: 'a university’s test guide; temperature and time from memory',
    formula: dropoutPercent,
    showsCompliance: false,
  },
  shake: {
    name: 'Shake test',
    how: 'Shake equal parts of fuel and water in a closed jar for ten seconds, let stand half an hour.',
    shows:
      'Soap and unfinished fuel: they make a milky layer that stays. Two clear layers are what is wanted.',
    doesNotShow:
      'How far it reacted: well-washed fuel parts cleanly whatever is left in it. No number comes of it.',
    source: COMMON_PRACTICE,
    showsCompliance: false,
  },
  soapTitration: {
    name: 'Soap titration',
    how:
      'Dissolve a weighed sample, some 10 g of fuel, in isopropyl alcohol. Titrate free catalyst with 0.01 mol/L ' +
      'hydrochloric acid to the end of phenolphthalein, then the soap to that of bromophenol blue, blue to ' +
      'yellow. Before the wash and after it.',
    shows: 'Soap left in the fuel, and how much a wash took out.',
    doesNotShow:
      'Conversion, glycerol, water, methanol. It barely resolves the standards’ limit for metals: 5 mg/kg ' +
      'is soap of 66 ppm for sodium or 41 ppm for potassium, 0.2 or 0.1 mL of the acid.',
    source: 'AOCS Cc 17-95, modified, in a university’s test guide',
    formula: soapTitrationPpm,
    showsCompliance: false,
  },
  waterBySight: {
    name: 'Water by sight',
    how: 'Look at print through a jar of fuel at room temperature.',
    shows: 'Water that is not dissolved: haze, drops, a layer.',
    doesNotShow:
      'Dissolved water. At 20 °C clear fuel can hold some 1,400 to 1,600 ppm, about three times the 500 mg/kg ' +
      'that EN 14214 takes; and warm fuel clears without losing any.',
    source: `${COMMON_PRACTICE}; the numbers as for the water that clear ester can hold`,
    formula: waterSolubilityPpm,
    showsCompliance: false,
  },
  waterByWeight: {
    name: 'Water by weight',
    how: 'Weigh a sample, heat it with stirring until nothing more comes off, let it cool, weigh it again.',
    shows: 'Wet fuel or oil, to the step of the balance.',
    doesNotShow:
      'What it was that went off: methanol counts as water. 500 mg/kg in 100 g is 0.05 g, which a kitchen ' +
      'balance does not see.',
    source: COMMON_PRACTICE,
    formula: waterByWeightPercent,
    showsCompliance: false,
  },
} as const satisfies Readonly<Record<string, FieldTest>>;

const WASH_SOURCE = `${COMMON_PRACTICE}; no published quantity of water was seen`;

export const WASH_METHODS = {
  stirred: {
    name: 'Stirred wash',
    how:
      'Water is stirred into the fuel, the first one or two gently, and drained when it has settled; again, ' +
      'until it stays clear.',
    shows: 'Water that drains clear took no more soap out. It is the quickest wash, with the most contact.',
    doesNotShow:
      'Conversion. Where there is much soap or unfinished fuel the stirring makes an emulsion instead.',
    source: WASH_SOURCE,
  },
  mist: {
    name: 'Mist wash',
    how: 'A fine mist of water falls on the fuel and sinks through it; what gathers below is drained.',
    shows:
      'Milky water below: soap comes out, the bulk of it with the least risk of an emulsion. For the first wash.',
    doesNotShow: 'When it is done: it is slow, and clear water may only mean that the drops were few.',
    source: WASH_SOURCE,
  },
  bubble: {
    name: 'Bubble wash',
    how: 'Air bubbles from a stone in the water below carry films of water up through the fuel, for hours.',
    shows: 'Clear water below: what so little stirring can wash out is out.',
    doesNotShow:
      'Unfinished fuel, which so gentle a wash lets pass. The air oxidises the fuel the longer it runs.',
    source: WASH_SOURCE,
  },
  dryBed: {
    name: 'Dry bed',
    how: 'Fuel freed of its methanol runs through a bed of resin or wood chips that holds soap and glycerol.',
    shows: 'Soap titrated after the bed against before it: whether the bed still holds.',
    doesNotShow:
      'By itself, when the bed is spent: only titration tells. It takes out no oil that did not react.',
    source: WASH_SOURCE,
  },
} as const satisfies Readonly<Record<string, Practice>>;

const DRYING_SOURCE = `${COMMON_PRACTICE}; no published drying schedule was seen`;

export const DRYING_METHODS = {
  temperatureAndTime: {
    name: 'By temperature and time',
    how: 'The fuel is kept hot and moving, open or under vacuum with a condenser, for a time that served before.',
    shows: 'That the fuel was hot for so long, which the record keeps.',
    doesNotShow:
      'How dry it is. That hangs on air, surface and movement; the same time at the same temperature leaves ' +
      'more water on a damp day or in a fuller tank.',
    source: DRYING_SOURCE,
  },
  clearness: {
    name: 'By clearness',
    how: 'The fuel is dried until it is clear, and judged when it has cooled to room temperature.',
    shows: 'That no free water is left.',
    doesNotShow:
      'That it is dry: clear at 20 °C is up to some 1,400 to 1,600 ppm. Judged warm it shows less still, since ' +
      'warm ester dissolves more.',
    source: `${DRYING_SOURCE}; the numbers as for the water that clear ester can hold`,
    formula: waterSolubilityPpm,
  },
} as const satisfies Readonly<Record<string, Practice>>;
