/** A reading from a kitchen thermometer. */
export const TYPED = {
  title: 'Type in a reading',
  help: 'A kitchen thermometer and a clock are enough.',
  field: (unit: string) => `Liquid temperature, ${unit}`,
  save: 'Note reading',
  saved: (value: string, time: string) => `${value} noted at ${time}.`,
  wrong: 'A number, please, such as 54.2.',
  hot: (read: string, boiling: string) =>
    `${read} is far above methanol’s boiling point here, ${boiling}. Is it so, and in this unit?`,
  otherUnit: (read: string, other: string, last: string) =>
    `${read}? The last reading was ${last}: this looks like ${other}.`,
  anyway: 'Take it all the same',
} as const;
