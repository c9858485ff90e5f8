/** What could not be taken in. */
export const REFUSED = {
  title: 'Refused readings',
  lead: 'What could not be taken in, and why. Nothing is dropped in silence.',
  none: 'None. Everything that came was understood.',
  others: (count: number) => `${count.toLocaleString('en')} more on other topics.`,
  from: (sender: string) => `Sent last by ${sender}.`,
  columns: { topic: 'Topic', because: 'Why', count: 'Times', first: 'First', last: 'Last' },
  again: 'Fetch again',
} as const;
