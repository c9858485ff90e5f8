/** The hydroxides that serve as catalyst and as titrant. */
export const BASE_KINDS = ['NaOH', 'KOH'] as const;
export type BaseKind = (typeof BASE_KINDS)[number];

/**
 * What the computations need of each base. Molar masses from IUPAC atomic weights. The heat given off
 * on dissolving is that in water at infinite dilution and 25 °C, the difference of the CRC Handbook's
 * enthalpies of formation of solid and ions (read in the tables of the Python package chemicals); the
 * handbook itself prints 44.51 and 57.61 kJ/mol (from memory). No value in methanol was found. Heat
 * capacities of the solids at 25 °C: CRC Handbook (chemicals).
 */
export const BASES = {
  NaOH: {
    gPerMol: 39.997,
    solutionHeatJPerMol: 44_300,
    solidHeatCapacityJPerMolK: 59.5,
    /** Of the soap it makes, as oleate. */
    oleateGPerMol: 304.45,
  },
  KOH: {
    gPerMol: 56.105,
    solutionHeatJPerMol: 57_800,
    solidHeatCapacityJPerMolK: 68.9,
    oleateGPerMol: 320.558,
  },
} as const satisfies Record<BaseKind, unknown>;

/** Free fatty acid is reckoned as oleic acid, C18H34O2, as the trade and the standards do. */
export const OLEIC_ACID_G_PER_MOL = 282.468;

export const WATER_G_PER_MOL = 18.015;
