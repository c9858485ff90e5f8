/** Texts of how old what is shown of forwarded sites is. */
export const FORWARDED = {
  title: 'Sites that send here what they watch',
  nothingYet: 'Not live: nothing has come since this daemon started.',
  asOf: (time: string, age: string) => `As of ${time}, ${age} ago.`,
  notLive: 'Not live:',
} as const;
