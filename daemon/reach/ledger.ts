import type { Priority } from '../../shared/wire/names.ts';
import type { Way } from '../../shared/wire/reach.ts';
import type { NewAction } from '../store/store.ts';
import type { Action } from '../watch/actions.ts';

/** What a message is about. */
export type About =
  | { kind: 'alarms'; alarms: ToldAlarm[] }
  /** No answer came to a question, by its number at that vessel. */
  | { kind: 'alone'; vessel: string; question: number }
  /** A line while vessels only settle; `day` is the one it is of, by the daemon's own clock. */
  | { kind: 'quiet'; line: 'night' | 'morning'; day: string }
  | { kind: 'test' };

export interface ToldAlarm {
  vessel: string;
  number: number;
  /**
   * When its condition was met, epoch ms by the time of the reading. It tells alarms of one number apart, which begin
   * again where an old store's readings were dropped; whatever the clocks do, it stays.
   */
  atMs: number;
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
  /** The same, gone back with a clock that was set back: what waits for a time after it waits no longer for that. */
  sinceMs: number;
  to: string;
  about: About;
  tries: Try[];
  /** When each way was last tried, gone back in the same way. */
  lastTryMs: Map<Way, number>;
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
  /** The how-manieth question at this vessel is the next. */
  question: number;
  /** It got no answer in time. */
  unanswered: boolean;
  /** Somebody who was told has seen it. */
  seen: boolean;
}

/** So many of a site's newest messages are remembered for whoever asks; older ones as long as they count for something. */
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
  /** Questions that were ever put at a vessel. */
  readonly #questions = new Map<string, number>();
  /** When there are so many messages, those that are over are looked for. */
  #tidiedAt = MOST_MESSAGES;

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
          sinceMs: arrivedMs,
          tries: [],
          lastTryMs: new Map(),
          answeredMs: null,
          shelved: new Set(),
        });
        return;
      }
      case 'told': {
        const message = this.#messages.get(body.message);
        const { way, result, because } = body;
        // One way is tried once at a time, so that a second of the same moment is the first again.
        if (message?.tries.some((known) => known.way === way && known.atMs === arrivedMs)) return;
        message?.tries.push({ way, result, because, atMs: arrivedMs });
        message?.lastTryMs.set(way, arrivedMs);
        return;
      }
      case 'answered': {
        const message = this.#messages.get(body.message);
        if (message === undefined) return;
        message.answeredMs ??= arrivedMs;
        if (message.about.kind !== 'alone') return;
        const alone = this.#alone.get(message.about.vessel);
        if (alone?.question === message.about.question) alone.seen = true;
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
          question: this.#nextQuestion(body.vessel),
          unanswered: false,
          seen: false,
        });
        return;
      case 'alone-answered': {
        const alone = this.#alone.get(body.vessel);
        if (alone === undefined) return;
        const question = this.#nextQuestion(body.vessel);
        Object.assign(alone, { heardMs: arrivedMs, question, unanswered: false, seen: false });
        return;
      }
      case 'alone-unanswered': {
        const alone = this.#alone.get(body.vessel);
        // Answered at the same moment: the answer counts.
        if (alone?.question === body.question) alone.unanswered = true;
        return;
      }
      case 'alone-ended':
        this.#alone.delete(body.vessel);
        return;
      case 'clock-step':
        // Set forward, all falls due the sooner, which is the safe side; set back, it would be late by as much.
        if (body.stepMs < 0) this.#goBack(body.stepMs);
        return;
    }
  }

  #nextQuestion(vessel: string): number {
    const question = (this.#questions.get(vessel) ?? 0) + 1;
    this.#questions.set(vessel, question);
    return question;
  }

  #goBack(byMs: number): void {
    for (const message of this.#messages.values()) {
      message.sinceMs += byMs;
      for (const [way, ms] of message.lastTryMs) message.lastTryMs.set(way, ms + byMs);
    }
    for (const alone of this.#alone.values()) alone.heardMs += byMs;
  }

  /** Forgets old messages that are over: of one that is not, what was told would be told again. */
  tidy(isOver: (message: Message) => boolean): void {
    if (this.#messages.size <= this.#tidiedAt) return;
    const old = [...this.#messages.values()].slice(0, -MOST_MESSAGES);
    for (const message of old) if (isOver(message)) this.#messages.delete(message.id);
    // Not at every message where all of them count.
    this.#tidiedAt = Math.max(MOST_MESSAGES, this.#messages.size) * 1.5;
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

/** What a message told of an alarm, where that still counts. */
export const toldOf = (
  message: Message,
  alarm: Pick<ToldAlarm, 'vessel' | 'number' | 'atMs'>,
): ToldAlarm | undefined =>
  message.about.kind !== 'alarms' || message.shelved.has(keyOf(alarm))
    ? undefined
    : message.about.alarms.find((told) => keyOf(told) === keyOf(alarm) && told.atMs === alarm.atMs);

export const askedMsOf = ({ heardMs, everyMinutes }: WorksAlone): number => heardMs + everyMinutes * 60_000;
export const tellsMsOf = (alone: WorksAlone): number => askedMsOf(alone) + alone.answerMinutes * 60_000;
