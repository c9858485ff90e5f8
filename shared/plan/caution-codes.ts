/** Every caution that a plan can carry, by its stable code; the gravest first. */
export const CAUTION_CODES = [
  'reaction-above-boiling',
  'reaction-near-boiling',
  'dosing-too-hot',
  'catalyst-high',
  'methoxide-near-boiling',
  'altitude-not-set',
  'pressure-not-station',
  'pressure-unchecked',
  'limits-loosened',
  'catalyst-low',
  'purity-low',
  'not-titrated',
  'titration-blank',
  'titration-spread',
  'free-fatty-acid-high',
  'free-fatty-acid',
  'fat-set',
  'water-high',
  'methanol-high',
  'methanol-low',
  'time-short',
  'reaction-incomplete',
  'glycerol-sets',
  'outside-validity',
] as const;

export type CautionCode = (typeof CAUTION_CODES)[number];
