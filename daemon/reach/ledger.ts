import type { Priority } from '../../shared/wire/names.ts';
import type { Way } from '../../shared/wire/reach.ts';
import type { NewAction } from '../store/store.ts';
import type { Action } from '../watch/actions.ts';

/** What a message is about. */
export type About =
  | { kind: 'alarms'; alarms: ToldAlarm[] }
  /** No answer came to what was asked then, epoch ms. */
  | { kind: 'alone'; vessel: string; askedMs: number }
  /** A line while vessels only settle; `day` is the one it is of, by the daemon's own clock. */
  | { kind: 'quiet'; line: 'night' | 'morning'; day: string }
  | { kind: 'test' };

export interface ToldAlarm {
  vessel: string;
  number: number;
  alarm: string;
  priority: Priority;
}

export type TryResult = 'delivered' | 'failed' | 'gone';

/** One try to send a message by one way. `gone`: that way does not exist any more. */
export interface Try {
  way: Way;
  atMs: number;
  result: TryResult;
  because: string | null;
}

export interface Message {
  id: string;
  /** When there was something to tell, epoch ms by arrival. */
  atMs: number;
  to: string;
  about: About;
  tries: Try[];
  /** When its link was used, epoch ms. */
  answeredMs: number | null;
  /** Numbers of its alarms that were put aside since, by vessel: back from there they are told anew. */
  shelved: Set<string>;
}

export interface WorksAlone {
  vessel: string;
  by: string;
  tell: string;
  everyMinutes: number;
  answerMinutes: number;
  begunMs: number;
  /** What the next question is counted from, epoch ms. */
  heardMs: number;
  /** The question that got no answer in time, epoch ms; null while all is well. */
  unansweredMs: number | null;
  /** Somebody who was told has seen it. */
  seen: boolean;
}

/** So many messages are remembered of a site: what was told before is in the chain alone. */
const MOST_MESSAGES = 1000;

const keyOf = ({ vessel, number }: { vessel: string; number: number }): string => `${vessel}.${number}`;

/**
 * What people of a site were told, and who works alone there: made from its actions alone, in order, and so re-made
 * at every start. An action of this house that is applied twice changes nothing the second time: the teller applies
 * what it does at once, and once more it comes from the disk.
 */
export class Ledger {
  readonly #messages = new Map<string, Message>();
  readonly #alone = new Map<string, WorksAlone>();

  apply(stored: Pick<NewAction, 'action' | 'body' | 'by' | 'atMs' | 'arrivedMs'>): void {
    const { action, body } = stored as unknown as Action;
    const { by, arrivedMs } = stored;
    switch (action) {
      case 'message': {
        if (this.#messages.has(body.id)) return;
        const { id, to, about } = body;
        this.#messages.set(id, {
          id,
          to,
          about,
          atMs: arrivedMs,
          tries: [],
          answeredMs: null,
          shelved: new Set(),
        });
        if (this.#messages.size > MOST_MESSAGES)
          this.#messages.delete(this.#messages.keys().next().value as string);
        return;
      }
      case 'told': {
        const tries = this.#messages.get(body.message)?.tries;
        const { way, result, because } = body;
        // One way is tried once at a time, so that a second of the same moment is the first again.
        if (tries?.some((known) => known.way === way && known.atMs === arrivedMs)) return;
        tries?.push({ way, result, because, atMs: arrivedMs });
        return;
      }
      case 'answered': {
        const message = this.#messages.get(body.message);
        if (message === undefined) return;
        message.answeredMs ??= arrivedMs;
        if (message.about.kind !== 'alone') return;
        const alone = this.#alone.get(message.about.vessel);
        if (alone?.unansweredMs === message.about.askedMs) alone.seen = true;
        return;
      }
      case 'shelve':
        for (const { about, shelved } of this.#messages.values()) {
          if (about.kind === 'alarms' && about.alarms.some((told) => keyOf(told) === keyOf(body)))
            shelved.add(keyOf(body));
        }
        return;
      case 'alone-begun':
        this.#alone.set(body.vessel, {
          ...body,
          by,
          begunMs: arrivedMs,
          heardMs: arrivedMs,
          unansweredMs: null,
          seen: false,
        });
        return;
      case 'alone-answered': {
        const alone = this.#alone.get(body.vessel);
        if (alone !== undefined)
          Object.assign(alone, { heardMs: arrivedMs, unansweredMs: null, seen: false });
        return;
      }
      case 'alone-unanswered': {
        const alone = this.#alone.get(body.vessel);
        // Answered at the same moment: the answer counts.
        if (alone !== undefined && askedMsOf(alone) === body.askedMs) alone.unansweredMs = body.askedMs;
        return;
      }
      case 'alone-ended':
        this.#alone.delete(body.vessel);
        return;
    }
  }

  message(id: string): Message | undefined {
    return this.#messages.get(id);
  }

  /** The oldest first. */
  messages(): Message[] {
    return [...this.#messages.values()];
  }

  alone(): WorksAlone[] {
    return [...this.#alone.values()];
  }

  aloneAt(vessel: string): WorksAlone | undefined {
    return this.#alone.get(vessel);
  }
}

/** Whether a message still counts as having told of an alarm. */
export const toldOf = (message: Message, alarm: { vessel: string; number: number }): ToldAlarm | undefined =>
  message.about.kind !== 'alarms' || message.shelved.has(keyOf(alarm))
    ? undefined
    : message.about.alarms.find((told) => keyOf(told) === keyOf(alarm));

export const askedMsOf = ({ heardMs, everyMinutes }: WorksAlone): number => heardMs + everyMinutes * 60_000;
export const tellsMsOf = (alone: WorksAlone): number => askedMsOf(alone) + alone.answerMinutes * 60_000;
