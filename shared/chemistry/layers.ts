import { BASE_KINDS, BASES, OLEIC_ACID_G_PER_MOL, WATER_G_PER_MOL } from './bases.ts';
import { esterDensityKgPerM3 } from './ester.ts';
import { type Band, formula } from './formula.ts';
import { GLYCEROL_G_PER_MOL, glycerolDensityKgPerM3 } from './glycerol.ts';
import { METHANOL_G_PER_MOL, methanolDensityKgPerM3 } from './methanol.ts';
import { oilDensityKgPerM3 } from './oils.ts';

/** One of the two liquids in the settling vessel. */
export interface Layer {
  readonly kg: Band;
  /** At 20 °C. */
  readonly litres: Band;
  readonly methanolKg: Band;
  /** Of the layer's mass. */
  readonly methanolPercent: Band;
  readonly soapKg: Band;
}

export interface SettledLayers {
  readonly esterKg: number;
  /** Pure, formed. */
  readonly glycerolKg: number;
  readonly methanolUsedKg: number;
  readonly methanolLeftKg: number;
  /** Glycerides that did not react. */
  readonly residualGlyceridesKg: number;
  readonly soapKg: number;
  /** Ester's mass by the oil's. */
  readonly yieldPercent: number;
  /** Ester and residual glycerides, L at 20 °C: the fuel when all else is washed out. */
  readonly washedL: Band;
  readonly fuel: Layer;
  readonly glycerol: Layer;
}

const MASSES = {
  M_methanol: METHANOL_G_PER_MOL,
  M_glycerol: GLYCEROL_G_PER_MOL,
  M_oleic: OLEIC_ACID_G_PER_MOL,
  M_water: WATER_G_PER_MOL,
  M_NaOH: BASES.NaOH.gPerMol,
  M_KOH: BASES.KOH.gPerMol,
  M_oleate_NaOH: BASES.NaOH.oleateGPerMol,
  M_oleate_KOH: BASES.KOH.oleateGPerMol,
} as const;

/** kg/L at 20 °C. */
const DENSITIES = {
  ρ_ester: esterDensityKgPerM3({ temperatureC: 20 }) / 1000,
  ρ_glycerides: oilDensityKgPerM3({ kind: 'sunflower', temperatureC: 20 }) / 1000,
  ρ_methanol: methanolDensityKgPerM3({ temperatureC: 20 }) / 1000,
  ρ_glycerol: glycerolDensityKgPerM3({ temperatureC: 20 }) / 1000,
  ρ_rest: 1,
} as const;

/**
 * K: methanol per kg of ester and glycerides, by methanol per kg of glycerol. S: share of the soap that stays
 * in the fuel layer. E: density of the ester by that of methyl oleate.
 */
const SHARING = {
  K_low: 0.025,
  K: 0.04,
  K_high: 0.07,
  S_low: 0.05,
  S: 0.2,
  S_high: 0.5,
  E_low: 0.992,
  E: 1,
  E_high: 1.0135,
} as const;

interface Assumed {
  readonly K: number;
  readonly S: number;
  readonly E: number;
}

const MIDDLE: Assumed = SHARING;
const CORNERS: readonly Assumed[] = [SHARING.K_low, SHARING.K_high].flatMap((K) =>
  [SHARING.S_low, SHARING.S_high].flatMap((S) => [SHARING.E_low, SHARING.E_high].map((E) => ({ K, S, E }))),
);

/** Of nothing, no part. */
const share = (part: number, whole: number): number => (whole === 0 ? 0 : part / whole);

function band(quantity: (assumed: Assumed) => number): Band {
  const value = quantity(MIDDLE);
  const all = [value, ...CORNERS.map(quantity)];
  return { low: Math.min(...all), value, high: Math.max(...all) };
}

/**
 * What stands in the settling vessel after the reaction, by mass balance: kg, litres at 20 °C, the methanol in
 * each layer, yield. Oil 0 to 100,000 kg. As triglyceride that reacts wholly or not at all; conversion counts
 * no further than the methanol reaches, soap no further than base and oil. What went in comes out:
 * `oilKg + methanolKg + baseG / 1000` is the sum of both layers, be it of the values or of one's low and the
 * other's high.
 * @throws OutOfRange
 */
export const settledLayers = formula(
  {
    gives: 'What stands in the settling vessel',
    unit: '',
    formula:
      'n_soap = soapG / M_oleate; n = (oilKg − n_soap · M_oleic) / oilMolarMassGPerMol · conversionPercent / ' +
      '100; ester = n · (oilMolarMassGPerMol + 3 · M_methanol − M_glycerol); glycerol = n · M_glycerol; ' +
      'methanol used = n · 3 · M_methanol; methanol in the fuel = methanol left · K · F / (K · F + glycerol), ' +
      'F being ester and residual glycerides; soap in the fuel = S · soap; water = n_soap · M_water, and it and ' +
      'the free base are in the glycerol; litres are the sum of kg / ρ, the ester’s ρ times E',
    inputs: {
      oilKg: { what: 'oil, its free fatty acid with it', unit: 'kg', least: 0, most: 100_000 },
      oilMolarMassGPerMol: {
        what: 'mean molar mass of the oil',
        unit: 'g/mol',
        least: 300,
        most: 1500,
        valid: [600, 950],
      },
      methanolKg: { what: 'methanol', unit: 'kg', least: 0, most: 300_000 },
      base: { what: 'base', oneOf: BASE_KINDS },
      baseG: { what: 'pure base', unit: 'g', least: 0, most: 1e9 },
      soapG: { what: 'soap formed of free fatty acid and base, as oleate', unit: 'g', least: 0, most: 1e9 },
      conversionPercent: {
        what: 'part of the oil’s acids that became ester',
        unit: '%',
        least: 0,
        most: 100,
        valid: [80, 100],
      },
    },
    constants: { ...MASSES, ...DENSITIES, ...SHARING },
    source:
      'Mass balance; molar masses from IUPAC atomic weights. K: group-contribution predictions (UNIFAC and ' +
      'modified UNIFAC of Dortmund, computed with the Python package thermo) for methyl oleate, glycerol and ' +
      'methanol give 0.027 to 0.055 from 20 to 50 °C; measured tie lines were not seen. Most of the methanol in ' +
      'the glycerol: Csernica & Hsu 2011 (Ind. Eng. Chem. Res. 50:1012, abstract read). Most of the catalyst in ' +
      'the glycerol: Mao, Konar & Boocock 2004 (JAOCS 81:803, abstract read). S is assumed: that soap gathers ' +
      'in the glycerol is known, no share was seen.',
    uncertainty:
      'The bounds are made of K from 0.025 to 0.07 (soap carries methanol into the ester), S from 0.05 to 0.5, ' +
      'and the density of the ester from 0.8 % under to 1.35 % over methyl oleate’s. Volumes are taken to add. ' +
      'Not counted: methanol lost as vapour, water that came with oil or base, mono- and diglycerides, ester ' +
      'held in the glycerol, soap made of the oil itself. Under 80 % conversion the layers hardly part like this.',
    disagreement:
      'Much methanol turns it over: at certain compositions the ester is the lower layer, and the two become one ' +
      'at 60.2 % ester, 39.1 % methanol and 0.7 % glycerol (20 °C, Csernica & Hsu 2011).',
  },
  ({ oilKg, oilMolarMassGPerMol, methanolKg, base, baseG, soapG, conversionPercent }): SettledLayers => {
    const { M_methanol, M_glycerol, M_oleic, M_water } = MASSES;
    const { gPerMol, oleateGPerMol } = BASES[base];
    // Molar amounts in kmol, masses in kg.
    const baseKg = baseG / 1000;
    const soap = Math.min(soapG / 1000 / oleateGPerMol, baseKg / gPerMol, oilKg / M_oleic);
    // Where all the oil is acid, or all the base is used, a rounding must not leave less than nothing.
    const glyceridesKg = Math.max(0, oilKg - soap * M_oleic);
    const freeBaseKg = Math.max(0, baseKg - soap * gPerMol);
    const reacted = Math.min(
      ((glyceridesKg / oilMolarMassGPerMol) * conversionPercent) / 100,
      methanolKg / (3 * M_methanol),
    );

    const esterKg = reacted * (oilMolarMassGPerMol + 3 * M_methanol - M_glycerol);
    const glycerolKg = reacted * M_glycerol;
    const methanolUsedKg = reacted * 3 * M_methanol;
    const methanolLeftKg = Math.max(0, methanolKg - methanolUsedKg);
    const residualGlyceridesKg = Math.max(0, glyceridesKg - reacted * oilMolarMassGPerMol);
    const soapKg = soap * oleateGPerMol;
    const baseAndWaterKg = freeBaseKg + soap * M_water;

    const { ρ_ester, ρ_glycerides, ρ_methanol, ρ_glycerol, ρ_rest } = DENSITIES;
    const organicKg = esterKg + residualGlyceridesKg;
    const fuelMethanolKg = ({ K }: Assumed) =>
      methanolLeftKg * share(K * organicKg, K * organicKg + glycerolKg);
    const fuelSoapKg = ({ S }: Assumed) => soapKg * S;
    const fuelKg = (a: Assumed) => organicKg + fuelMethanolKg(a) + fuelSoapKg(a);
    const washedL = (a: Assumed) => esterKg / (ρ_ester * a.E) + residualGlyceridesKg / ρ_glycerides;
    const fuelL = (a: Assumed) => washedL(a) + fuelMethanolKg(a) / ρ_methanol + fuelSoapKg(a) / ρ_rest;

    const lowerMethanolKg = (a: Assumed) => methanolLeftKg - fuelMethanolKg(a);
    const lowerSoapKg = (a: Assumed) => soapKg - fuelSoapKg(a);
    const lowerKg = (a: Assumed) => glycerolKg + lowerMethanolKg(a) + lowerSoapKg(a) + baseAndWaterKg;
    const lowerL = (a: Assumed) =>
      glycerolKg / ρ_glycerol + lowerMethanolKg(a) / ρ_methanol + (lowerSoapKg(a) + baseAndWaterKg) / ρ_rest;

    return {
      esterKg,
      glycerolKg,
      methanolUsedKg,
      methanolLeftKg,
      residualGlyceridesKg,
      soapKg,
      yieldPercent: 100 * share(esterKg, oilKg),
      washedL: band(washedL),
      fuel: {
        kg: band(fuelKg),
        litres: band(fuelL),
        methanolKg: band(fuelMethanolKg),
        methanolPercent: band((a) => 100 * share(fuelMethanolKg(a), fuelKg(a))),
        soapKg: band(fuelSoapKg),
      },
      glycerol: {
        kg: band(lowerKg),
        litres: band(lowerL),
        methanolKg: band(lowerMethanolKg),
        methanolPercent: band((a) => 100 * share(lowerMethanolKg(a), lowerKg(a))),
        soapKg: band(lowerSoapKg),
      },
    };
  },
);
