import { OutOfRange } from '../../shared/chemistry/formula.ts';
import type { Missing } from '../../shared/wire/api.ts';

/** Every problem that the API answers with: its status and its title. The code is the key, and stable. */
export const PROBLEMS = {
  'body-invalid': { status: 400, title: 'The request is not of the form wanted' },
  'passphrase-weak': { status: 400, title: 'The passphrase is too easily guessed' },
  'sign-in-wanted': { status: 401, title: 'Somebody has to be signed in' },
  'sign-in-refused': { status: 401, title: 'Nobody was signed in' },
  'right-missing': { status: 403, title: 'The person has no right to do this' },
  'cross-site': { status: 403, title: 'A page of another site may not do this' },
  'not-found': { status: 404, title: 'There is no such thing' },
  'vessel-unknown': { status: 404, title: 'There is no such vessel' },
  'thermometer-unknown': { status: 404, title: 'There is no such thermometer' },
  'thermometer-unchecked': { status: 409, title: 'No check of the thermometer stands' },
  'site-forwarded': { status: 409, title: 'Another daemon watches the site: do it there' },
  'site-own': { status: 409, title: 'The site is watched here' },
  'site-of-another': { status: 403, title: 'The token is not one for this site' },
  'forwarder-unknown': { status: 404, title: 'No such forwarder is set up' },
  'seal-not-next': { status: 409, title: 'Another seal is the next' },
  'seal-not-whole': { status: 400, title: 'The seal is not what it says' },
  'mark-unknown': { status: 409, title: 'It cannot be told how old the picture is' },
  'photographs-waiting': { status: 409, title: 'Too many photographs wait for their entry' },
  'forwarder-refused': { status: 401, title: 'No forwarder has this token' },
  'thermometer-rechecked': { status: 409, title: 'Another check of the thermometer stands now' },
  'pressure-not-station': { status: 409, title: 'The pressure is not that of the place' },
  'site-unknown': { status: 404, title: 'There is no such site' },
  'batch-unknown': { status: 404, title: 'There is no such batch' },
  'alarm-unknown': { status: 404, title: 'There is no such alarm' },
  'entry-unknown': { status: 404, title: 'There is no such entry' },
  'entry-corrected': { status: 409, title: 'The entry has been corrected' },
  'lot-unknown': { status: 404, title: 'There is no such lot' },
  'draw-unknown': { status: 404, title: 'There is no such draw' },
  'draw-undone': { status: 409, title: 'The draw has been taken back' },
  'batch-not-failed': { status: 409, title: 'Only a rejected or failed batch is drawn from' },
  'template-unknown': { status: 404, title: 'There is no such template' },
  'template-retired': { status: 409, title: 'The template is not used any more' },
  'person-unknown': { status: 404, title: 'There is no such person' },
  'token-unknown': { status: 404, title: 'There is no such token' },
  'publisher-unknown': { status: 404, title: 'No such device is set up' },
  'nobody-keeps': { status: 409, title: 'Nobody would have the right to set up people' },
  'vessel-ambiguous': { status: 409, title: 'Several sites have a vessel of this name' },
  'vessel-taken': { status: 409, title: 'The vessel belongs to an open batch' },
  'conditions-missing': { status: 409, title: 'Not everything that this wants is there' },
  'stage-same': { status: 409, title: 'The batch is in this stage' },
  'stage-moved': { status: 409, title: 'Somebody went on meanwhile' },
  'batch-ended': { status: 409, title: 'The batch has ended' },
  'photographs-full': { status: 409, title: 'The batch has as many photographs as are kept of one' },
  'no-room': { status: 409, title: 'There are as many as there may be' },
  'value-conflict': { status: 409, title: 'Another value is stored for this time' },
  'shelf-too-long': { status: 409, title: 'So grave an alarm is not shelved for so long' },
  'way-missing': { status: 409, title: 'This way is not set up' },
  'answer-unknown': { status: 404, title: 'There is no such link' },
  'answer-ended': { status: 410, title: 'There is nothing to answer any more' },
  'alone-unknown': { status: 404, title: 'Nobody works alone there' },
  'alone-other': { status: 409, title: 'Somebody else works alone there' },
  'too-large': { status: 413, title: 'The body is too large' },
  'not-json': { status: 415, title: 'The body is not application/json' },
  'not-picture': { status: 415, title: 'The body is no picture of a type that is taken in' },
  'host-unknown': { status: 421, title: 'The daemon is not known under this name' },
  'too-many-tries': { status: 429, title: 'Too many wrong tries' },
  'access-busy': { status: 503, title: 'Another process is changing who is let in' },
  'access-unreadable': { status: 503, title: 'Who is let in cannot be read' },
  'records-busy': { status: 503, title: 'Too many records are being made' },
  'store-failing': { status: 503, title: 'The store fails' },
  internal: { status: 500, title: 'The daemon made a mistake' },
} as const;

export type ProblemCode = keyof typeof PROBLEMS;

/** Thrown by a route, answered as RFC 9457 problem details. */
export class Problem extends Error {
  readonly code: ProblemCode;
  readonly extra: { missing?: Missing; vessels?: string[] };

  constructor(code: ProblemCode, detail: string, extra: Problem['extra'] = {}) {
    super(detail);
    this.code = code;
    this.extra = extra;
  }

  get status(): number {
    return PROBLEMS[this.code].status;
  }

  toJSON(): object {
    const { status, title } = PROBLEMS[this.code];
    return {
      type: `urn:esterwatch:problem:${this.code}`,
      title,
      status,
      code: this.code,
      detail: this.message,
      ...this.extra,
    };
  }
}

/** What a plan makes of a request; a request out of range is a problem of the body. */
export function planned<T>(compute: () => T): T {
  try {
    return compute();
  } catch (error) {
    if (error instanceof OutOfRange) throw new Problem('body-invalid', error.message);
    throw error;
  }
}
