/** The value after so many time constants on its way to a target. */
export const approach = (from: number, to: number, timeConstants: number): number =>
  to + (from - to) * Math.exp(-timeConstants);
