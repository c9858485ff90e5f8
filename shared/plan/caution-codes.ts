/** Every caution that a plan can carry, by its stable code; the gravest first. */
export const CAUTION_CODES = [
  'reaction-above-boiling',
  'reaction-near-boiling',
  'dosing-too-hot',
  'methoxide-near-boiling',
  'altitude-not-set',
  'pressure-not-station',
  'catalyst-high',
  'catalyst-low',
  'not-titrated',
  'titration-spread',
  'free-fatty-acid-high',
  'free-fatty-acid',
  'water-high',
  'methanol-high',
  'methanol-low',
  'reaction-incomplete',
  'outside-validity',
] as const;

export type CautionCode = (typeof CAUTION_CODES)[number];
