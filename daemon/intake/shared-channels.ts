import { type ArrivalClock, type Clock, every, type Timer } from '../clock.ts';
import type { Recorder } from '../store/recorder.ts';
import { newAction } from '../watch/actions.ts';
import type { Watch } from '../watch/watch.ts';

/** A device that has sent nothing for so long sends no longer, ms, … */
const QUIET_MS = 120_000;
/** … or for so many times as long as it waited between its last two messages, … */
const QUIET_GAPS = 5;
/** … but for no longer than this; and one of whom only one message is known, ms. */
const LONGEST_MS = 3_600_000;
/** One that sent, and sent again after another had: a device that connects anew under another name never does. */
const RETURNS = 2;
/** Of a sender known from before a restart: how long it waits between two messages shows once it has sent two more. */
const NOT_HEARD_YET = Number.POSITIVE_INFINITY;
/** Of one channel; beyond, the one that was silent the longest is forgotten. */
const MOST_SENDERS = 8;
const LOOK_MS = 1000;

interface Sender {
  lastMs: number;
  gapMs: number | null;
  /** How often it sent after another had. */
  turns: number;
}

interface Channel {
  site: string;
  vessel: string;
  channel: string;
  senders: Map<string, Sender>;
  last: string;
  /** Who was last noted as sending to it together; fewer than two: nobody. */
  noted: readonly string[];
}

/**
 * Sees where more than one device sends to a channel, and notes it in the history: when it begins, when others come
 * or go, and when it ends. So the rules, which know of no connection, can go by it.
 */
export class SharedChannels {
  readonly #recorder: Pick<Recorder, 'submit'>;
  readonly #arrivals: ArrivalClock;
  readonly #clock: Clock;
  readonly #channels = new Map<string, Channel>();
  readonly #looking: Timer;

  constructor(parts: {
    watch: Pick<Watch, 'sites'>;
    recorder: Pick<Recorder, 'submit'>;
    arrivals: ArrivalClock;
    clock: Clock;
  }) {
    this.#recorder = parts.recorder;
    this.#arrivals = parts.arrivals;
    this.#clock = parts.clock;
    // What was so before a restart ends like any other, if they do not go on; until they send, after the longest time.
    const lastMs = this.#clock.monotonicMs();
    for (const { site, state } of parts.watch.sites())
      for (const { name: vessel, senders } of Object.values(state.vessels))
        for (const [channel, noted] of Object.entries(senders))
          this.#channels.set(keyOf(site, vessel, channel), {
            site,
            vessel,
            channel,
            senders: new Map(
              noted.map((sender) => [sender, { lastMs, gapMs: NOT_HEARD_YET, turns: RETURNS }]),
            ),
            last: '',
            noted,
          });
    this.#looking = every(this.#clock, LOOK_MS, () => this.#look());
  }

  /** A message was taken for a channel. */
  heard(site: string, vessel: string, channel: string, sender: string): void {
    const nowMs = this.#clock.monotonicMs();
    const key = keyOf(site, vessel, channel);
    let shared = this.#channels.get(key);
    if (shared === undefined) {
      shared = { site, vessel, channel, senders: new Map(), last: '', noted: [] };
      this.#channels.set(key, shared);
    }
    const known = shared.senders.get(sender);
    const isTurn = shared.last !== sender;
    shared.last = sender;
    if (known !== undefined) {
      known.gapMs = known.gapMs === NOT_HEARD_YET ? null : nowMs - known.lastMs;
      known.lastMs = nowMs;
      if (!isTurn) return;
      known.turns++;
    } else shared.senders.set(sender, { lastMs: nowMs, gapMs: null, turns: 1 });
    this.#judge(shared, nowMs);
  }

  /** Who sent to each channel last. */
  newest(): { site: string; vessel: string; channel: string; sender: string }[] {
    return [...this.#channels.values()].flatMap(({ site, vessel, channel, last: sender }) =>
      sender === '' ? [] : [{ site, vessel, channel, sender }],
    );
  }

  close(): void {
    this.#looking.cancel();
  }

  #look(): void {
    const nowMs = this.#clock.monotonicMs();
    for (const shared of this.#channels.values()) if (shared.noted.length > 0) this.#judge(shared, nowMs);
  }

  #judge(shared: Channel, nowMs: number): void {
    const { site, vessel, channel, senders } = shared;
    for (const [name, sender] of senders) if (isQuiet(sender, nowMs)) senders.delete(name);
    if (senders.size > MOST_SENDERS) senders.delete(longestSilent(senders));
    const returning = [...senders].filter(([, { turns }]) => turns >= RETURNS).map(([name]) => name);
    const together = returning.length > 1 ? returning.sort() : [];
    if (together.join('\n') === shared.noted.join('\n')) return;
    const before = shared.noted;
    shared.noted = together;
    const arrivedMs = this.#arrivals.nowMs();
    const action = newAction(
      'channel-shared',
      { vessel, channel, senders: together },
      { by: 'daemon', atMs: arrivedMs, arrivedMs },
    );
    // Noted later, then.
    this.#recorder.submit(site, [action], arrivedMs).catch(() => {
      shared.noted = before;
    });
  }
}

const keyOf = (site: string, vessel: string, channel: string): string => `${site}/${vessel}/${channel}`;

function isQuiet({ lastMs, gapMs }: Sender, nowMs: number): boolean {
  const waits = gapMs === null ? LONGEST_MS : Math.max(QUIET_MS, QUIET_GAPS * gapMs);
  return nowMs - lastMs >= Math.min(LONGEST_MS, waits);
}

const longestSilent = (senders: ReadonlyMap<string, Sender>): string =>
  [...senders].reduce((one, other) => (other[1].lastMs < one[1].lastMs ? other : one))[0];
