/** Texts of a number that is opened, and of entries that say what is wrong with them. */

export const WORKING_TEXTS = {
  formula: 'Formula',
  inputs: 'With, in the formula’s units',
  constants: 'Constants',
  source: 'Source',
  uncertainty: 'How far off it may be',
  disagreement: 'Others say',
  valid: (range: string) => `holds for ${range}`,
  beyond: (range: string) => `beyond the ${range} that the source vouches for`,
  none: 'Plain arithmetic from the entries beside it.',
  band: (low: string, high: string) => `${low} to ${high}`,
} as const;

export const ENTRY_TEXTS = {
  leftOut: (value: string) => `Left out: ${value}`,
  notANumber: 'A number, please.',
  range: (least: string, most: string) => `From ${least} to ${most}.`,
  over: (least: string, most: string) => `Over ${least}, to ${most}.`,
} as const;
