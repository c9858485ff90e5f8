import { OutOfRange } from './formula.ts';

/** What a standard demands of a property: at least, at most, or both. */
export interface FuelLimit {
  readonly unit: string;
  readonly least?: number;
  readonly most?: number;
  /** The standard's own test; '' where the sheet that was read names none. */
  readonly method: string;
  readonly note?: string;
}

export const FUEL_PROPERTIES = {
  esterContent: 'Ester content',
  density15C: 'Density at 15 °C',
  viscosity40C: 'Kinematic viscosity at 40 °C',
  flashPoint: 'Flash point',
  methanol: 'Methanol',
  water: 'Water',
  waterAndSediment: 'Water and sediment',
  totalContamination: 'Total contamination',
  acidValue: 'Acid value',
  monoglycerides: 'Monoglycerides',
  diglycerides: 'Diglycerides',
  triglycerides: 'Triglycerides',
  freeGlycerol: 'Free glycerol',
  totalGlycerol: 'Total glycerol',
  sodiumPotassium: 'Sodium and potassium',
  calciumMagnesium: 'Calcium and magnesium',
  phosphorus: 'Phosphorus',
  sulfur: 'Sulfur',
  sulfatedAsh: 'Sulfated ash',
  carbonResidue: 'Carbon residue',
  oxidationStability: 'Oxidation stability at 110 °C',
  cetaneNumber: 'Cetane number',
  copperCorrosion: 'Copper strip corrosion',
  iodineValue: 'Iodine value',
  linolenicEster: 'Linolenic acid methyl ester',
  polyunsaturatedEster: 'Polyunsaturated ester, 4 and more double bonds',
  distillation90: 'Distillation, 90 % recovered',
  coldSoakFiltration: 'Cold soak filtration',
} as const;
export type FuelProperty = keyof typeof FUEL_PROPERTIES;

export const FUEL_STANDARD_NAMES = ['EN 14214:2012+A1:2014', 'ASTM D6751-09'] as const;
export type FuelStandard = (typeof FUEL_STANDARD_NAMES)[number];

/** To show beside the table: what the editions are, and what a comparison is worth. */
export const FUEL_STANDARDS_NOTE =
  'Limits as reprinted in public data sheets of these two editions. Later editions exist (ASTM D6751-23a is known ' +
  'by name) whose text was not seen; what binds is the edition in force where the fuel is sold. A value within a ' +
  'limit counts only if it was measured by the method named, and no field test is one of them.';

/**
 * Limits by standard and property. A property that a standard does not limit, or only in another form, is
 * absent from it. Values and units as the standards have them.
 */
export const FUEL_STANDARDS: Readonly<
  Record<FuelStandard, Readonly<Partial<Record<FuelProperty, FuelLimit>>>>
> = {
  'EN 14214:2012+A1:2014': {
    esterContent: { unit: '% m/m', least: 96.5, method: 'EN 14103' },
    density15C: { unit: 'kg/m³', least: 860, most: 900, method: 'EN ISO 3675, EN ISO 12185' },
    viscosity40C: { unit: 'mm²/s', least: 3.5, most: 5, method: 'EN ISO 3104' },
    flashPoint: { unit: '°C', least: 101, method: 'EN ISO 2719, EN ISO 3679' },
    methanol: { unit: '% m/m', most: 0.2, method: 'EN 14110' },
    water: { unit: 'mg/kg', most: 500, method: 'EN ISO 12937' },
    totalContamination: { unit: 'mg/kg', most: 24, method: 'EN 12662' },
    acidValue: { unit: 'mg KOH/g', most: 0.5, method: 'EN 14104' },
    monoglycerides: { unit: '% m/m', most: 0.7, method: 'EN 14105', note: 'Earlier editions: 0.80' },
    diglycerides: { unit: '% m/m', most: 0.2, method: 'EN 14105' },
    triglycerides: { unit: '% m/m', most: 0.2, method: 'EN 14105' },
    freeGlycerol: { unit: '% m/m', most: 0.02, method: 'EN 14105, EN 14106' },
    totalGlycerol: { unit: '% m/m', most: 0.25, method: 'EN 14105', note: 'Read in an older table' },
    sodiumPotassium: { unit: 'mg/kg', most: 5, method: 'EN 14108, EN 14109, EN 14538' },
    calciumMagnesium: { unit: 'mg/kg', most: 5, method: 'EN 14538' },
    phosphorus: {
      unit: 'mg/kg',
      most: 4,
      method: 'EN 14107, EN 16294',
      note: 'Earlier editions: 10',
    },
    sulfur: { unit: 'mg/kg', most: 10, method: '' },
    sulfatedAsh: { unit: '% m/m', most: 0.02, method: 'ISO 3987' },
    oxidationStability: { unit: 'h', least: 8, method: 'EN 14112, EN 15751', note: 'Earlier editions: 6' },
    cetaneNumber: { unit: '', least: 51, method: 'EN ISO 5165' },
    copperCorrosion: { unit: 'class', most: 1, method: 'EN ISO 2160' },
    iodineValue: { unit: 'g iodine/100 g', most: 120, method: 'EN 14111' },
    linolenicEster: { unit: '% m/m', most: 12, method: 'EN 14103' },
    polyunsaturatedEster: { unit: '% m/m', most: 1, method: 'EN 15779' },
  },
  'ASTM D6751-09': {
    viscosity40C: { unit: 'mm²/s', least: 1.9, most: 6, method: 'D445' },
    flashPoint: {
      unit: '°C',
      least: 93,
      method: 'D93',
      note: '130 °C where methanol is not measured: that is the other way to show that it was taken out',
    },
    methanol: { unit: '% m/m', most: 0.2, method: 'EN 14110', note: 'A sheet of 07b has % by volume' },
    waterAndSediment: { unit: '% v/v', most: 0.05, method: 'D2709' },
    acidValue: { unit: 'mg KOH/g', most: 0.5, method: 'D664' },
    freeGlycerol: { unit: '% m/m', most: 0.02, method: 'D6584' },
    totalGlycerol: { unit: '% m/m', most: 0.24, method: 'D6584' },
    sodiumPotassium: { unit: 'ppm', most: 5, method: 'EN 14538' },
    calciumMagnesium: { unit: 'ppm', most: 5, method: 'EN 14538' },
    phosphorus: { unit: '% m/m', most: 0.001, method: 'D4951' },
    sulfur: { unit: 'ppm', most: 15, method: 'D5453', note: 'Grade S15; grade S500 takes 500' },
    sulfatedAsh: { unit: '% m/m', most: 0.02, method: 'D874' },
    carbonResidue: { unit: '% m/m', most: 0.05, method: 'D4530' },
    oxidationStability: { unit: 'h', least: 3, method: 'EN 14112' },
    cetaneNumber: { unit: '', least: 47, method: 'D613' },
    copperCorrosion: { unit: 'class', most: 3, method: 'D130' },
    distillation90: { unit: '°C', most: 360, method: 'D1160' },
    coldSoakFiltration: {
      unit: 's',
      most: 360,
      method: 'annex of the standard',
      note: '200 s for fuel used below −12 °C',
    },
  },
};

/**
 * Compares a value, in the unit that the standard has for the property, with its limits; on the limit is
 * within. The value counts as it is: uncertainty of measurement is not allowed for, and the stricter
 * limits in a note are not applied.
 * @throws OutOfRange where the value is no finite number
 */
export function compareWithLimit(
  standard: FuelStandard,
  property: FuelProperty,
  value: number,
): 'within' | 'outside' | 'no-limit' {
  if (!Number.isFinite(value)) throw new OutOfRange('value', value, 'a finite number');
  const limit = FUEL_STANDARDS[standard][property];
  if (limit === undefined) return 'no-limit';
  const { least = Number.NEGATIVE_INFINITY, most = Number.POSITIVE_INFINITY } = limit;
  return value >= least && value <= most ? 'within' : 'outside';
}
