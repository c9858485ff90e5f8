/** Which past alarms are wanted: what the page's address keeps of it, and what the daemon is asked; pure. */

export interface Choice {
  vessel: string;
  alarm: string;
  /** As a field of a form has them: `2026-03-02T10:15`, the reader's own time; '' for no bound. */
  from: string;
  to: string;
}

const FIELDS = ['vessel', 'alarm', 'from', 'to'] as const;

export const choiceOf = (query: URLSearchParams): Choice => ({
  vessel: query.get('vessel') ?? '',
  alarm: query.get('alarm') ?? '',
  from: query.get('from') ?? '',
  to: query.get('to') ?? '',
});

/** What of it is said at all. */
export const saidOf = (choice: Choice): Record<string, string> =>
  Object.fromEntries(FIELDS.filter((field) => choice[field] !== '').map((field) => [field, choice[field]]));

/** The same for the daemon; what is no time bounds nothing. */
export function askedOf({ from, to, ...choice }: Choice): Record<string, string> {
  const fromMs = Date.parse(from);
  // To the end of the minute that the field names.
  const toMs = Date.parse(to) + 59_999;
  return saidOf({
    ...choice,
    from: Number.isFinite(fromMs) ? String(fromMs) : '',
    to: Number.isFinite(toMs) ? String(toMs) : '',
  });
}
