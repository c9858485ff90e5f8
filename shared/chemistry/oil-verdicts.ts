/**
 * `more-soap`: base alone will do, with more soap to wash out. `too-acid`: blend it with better oil,
 * wash it with old glycerol, or esterify it first.
 */
export const OIL_VERDICTS = ['good', 'more-soap', 'too-acid'] as const;
export type OilVerdict = (typeof OIL_VERDICTS)[number];
