/** So far over its limit hardly any liquid comes before somebody is warned; a probe that sends °F does at once, °C. */
const FAR_C = 20;

/** What else may be the matter with a temperature that is so far over its limit, °C, to be put after another sentence. */
export const describeOtherUnit = (overC: number): string =>
  overC > FAR_C ? ' If it cannot be so hot, look whether the probe sends °F.' : '';
