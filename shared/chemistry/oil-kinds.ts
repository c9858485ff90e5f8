/** Kinds of oil and fat that are told apart. `rapeseed` is the low-erucic kind, `used` is frying oil. */
export const OIL_KINDS = [
  'soybean',
  'rapeseed',
  'sunflower',
  'palm',
  'olive',
  'coconut',
  'tallow',
  'lard',
  'used',
] as const;
export type OilKind = (typeof OIL_KINDS)[number];
