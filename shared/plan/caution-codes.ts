/** Every caution that a plan can carry, by its stable code. */
export const CAUTION_CODES = [
  'reaction-above-boiling',
  'reaction-near-boiling',
  'dosing-too-hot',
  'methoxide-near-boiling',
  'catalyst-high',
  'catalyst-low',
  'methanol-high',
  'methanol-low',
  'not-titrated',
  'titration-spread',
  'free-fatty-acid',
  'free-fatty-acid-high',
  'water-high',
  'reaction-incomplete',
  'altitude-not-set',
  'pressure-not-station',
  'outside-validity',
] as const;

export type CautionCode = (typeof CAUTION_CODES)[number];
