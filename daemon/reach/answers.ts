import { alarmId } from '../../shared/engine/view.ts';
import type { Alarm } from '../../shared/wire/api.ts';
import type { Answer } from '../../shared/wire/reach.ts';
import { isoTime } from '../../shared/wire/time.ts';
import type { Acting } from '../http/acting.ts';
import type { Operations } from '../http/operations.ts';
import { Problem } from '../http/problem.ts';
import { newAction } from '../watch/actions.ts';
import type { SiteWatch } from '../watch/site-watch.ts';
import type { Watch } from '../watch/watch.ts';
import type { ReachKeys } from './keys.ts';
import type { Message } from './ledger.ts';

/** A link is good for so long, ms. */
const LINK_MS = 24 * 3_600_000;

/** Messages answered by their one-time link, in the name of whom they were sent to. */
export class Answers {
  readonly #watch: Watch;
  readonly #acting: Acting;
  readonly #operations: Operations;
  readonly #keys: ReachKeys;
  readonly #mayAnswer: (name: string) => boolean;

  constructor(parts: {
    watch: Watch;
    acting: Acting;
    operations: Operations;
    keys: ReachKeys;
    mayAnswer: (name: string) => boolean;
  }) {
    this.#mayAnswer = parts.mayAnswer;
    this.#watch = parts.watch;
    this.#acting = parts.acting;
    this.#operations = parts.operations;
    this.#keys = parts.keys;
  }

  /** What a link is about; looking changes nothing. @throws Problem `answer-unknown` */
  get(token: string): Answer {
    const { site, message } = this.#find(token);
    const { about } = message;
    const open = this.#open(site, message);
    if (about.kind !== 'alarms' && about.kind !== 'alone') throw unknown();
    return {
      to: message.to,
      site: site.site,
      at: isoTime(message.atMs),
      state: message.answeredMs !== null ? 'answered' : open === null ? 'over' : 'open',
      about: about.kind,
      vessels:
        about.kind === 'alone' ? [about.vessel] : [...new Set(about.alarms.map(({ vessel }) => vessel))],
      alarms: (open ?? []).map(({ id, vessel, alarm, priority, at, because, todo }) => ({
        id,
        vessel,
        alarm,
        priority,
        at,
        because,
        todo,
      })),
    };
  }

  /** Acknowledges what still stands. @throws Problem `answer-unknown`, `answer-ended` */
  async give(token: string): Promise<Answer> {
    const { site, message } = this.#find(token);
    const open = this.#open(site, message);
    if (open === null)
      throw new Problem('answer-ended', 'it was answered, or there is nothing to answer any more');
    for (const { id } of open) {
      await this.#operations.acknowledge(id, { by: message.to }).catch((error: unknown) => {
        // Somebody else was there first.
        if (!(error instanceof Problem && error.code === 'alarm-unknown')) throw error;
      });
    }
    await this.#acting.oneAtATime(() =>
      this.#acting.commit(site.site, [
        newAction('answered', { message: message.id }, this.#acting.done({ by: message.to })),
      ]),
    );
    return this.get(token);
  }

  #find(token: string): { site: SiteWatch; message: Message } {
    const id = this.#keys.messageOf(token);
    if (id === null) throw unknown();
    for (const site of this.#watch.sites()) {
      const message = site.ledger.message(id);
      // Whoever was removed since, or may only look, has no link any more.
      if (message !== undefined && this.#mayAnswer(message.to)) return { site, message };
    }
    throw unknown();
  }

  /** The alarms that an answer would acknowledge; null where it can do nothing any more. */
  #open(site: SiteWatch, { about, sinceMs, answeredMs }: Message): Alarm[] | null {
    const nowMs = this.#acting.nowMs();
    if (answeredMs !== null || nowMs - sinceMs > LINK_MS) return null;
    if (about.kind === 'alone') {
      const alone = site.ledger.aloneAt(about.vessel);
      return alone?.question === about.question && alone.unanswered && !alone.seen ? [] : null;
    }
    if (about.kind !== 'alarms') return null;
    const open = about.alarms.flatMap(({ vessel, number, atMs }) => {
      const id = alarmId(site.site, vessel, number);
      const alarm = site.vessel(vessel, nowMs)?.alarms.find((one) => one.id === id);
      const isIt = alarm?.standing && alarm.acknowledged === null && Date.parse(alarm.at) === atMs;
      return isIt ? [alarm] : [];
    });
    return open.length === 0 ? null : open;
  }
}

const unknown = (): Problem => new Problem('answer-unknown', 'there is no such link, or it is too old');
