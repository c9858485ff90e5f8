import type { KnownAs } from '../broker/sender.ts';
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
/**
 * Of one channel; beyond, the one that was silent the longest is forgotten, of those that have not come back if there
 * are such.
 */
const MOST_SENDERS = 8;
/** Client ids of one sender: more, since one that stays has to come back before a loop has pushed it out. */
const MOST_IDS = 16;
/** Of one channel no more is noted than once in so long: whoever connects could fill the history otherwise, ms. */
const NOTED_EVERY_MS = 10_000;
const LOOK_MS = 1000;

interface Sender {
  lastMs: number;
  gapMs: number | null;
  /** How often it sent after another had. */
  turns: number;
}

/** Who sends from one address under one user name. */
interface Place extends Sender {
  /** By what each of its client ids is known as. */
  ids: Map<string, Sender>;
}

interface Channel {
  site: string;
  vessel: string;
  channel: string;
  /** By what is known of them without the client id: programs that connect for each message make that up anew. */
  places: Map<string, Place>;
  /** Those that were noted before a restart, until they send again. */
  before: Map<string, Sender>;
  last: KnownAs | null;
  /** Who was last noted as sending to it together; fewer than two: nobody. */
  noted: readonly string[];
  notedMs: number;
  /** Whether something is to be noted that it was too soon for. */
  waits: boolean;
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
            ...newChannel(site, vessel, channel),
            before: new Map(
              noted.map((sender) => [sender, { lastMs, gapMs: NOT_HEARD_YET, turns: RETURNS }]),
            ),
            noted,
          });
    this.#looking = every(this.#clock, LOOK_MS, () => this.#look());
  }

  /** A message was taken for a channel. */
  heard(site: string, vessel: string, channel: string, sender: KnownAs): void {
    const nowMs = this.#clock.monotonicMs();
    const key = keyOf(site, vessel, channel);
    let shared = this.#channels.get(key);
    if (shared === undefined) {
      shared = newChannel(site, vessel, channel);
      this.#channels.set(key, shared);
    }
    const { before, last, places } = shared;
    shared.last = sender;
    const known = places.get(sender.place) ?? before.get(sender.place) ?? before.get(sender.said);
    const place = heardOf(known, nowMs, last?.place !== sender.place);
    const ids = places.get(sender.place)?.ids ?? new Map<string, Sender>();
    places.set(sender.place, { ...place, ids });
    const isTurn = last?.said !== sender.said;
    ids.set(sender.said, heardOf(ids.get(sender.said) ?? before.get(sender.said), nowMs, isTurn));
    before.delete(sender.place);
    before.delete(sender.said);
    if (isTurn) this.#judge(shared, nowMs);
  }

  /** Who sent to each channel last. */
  newest(): { site: string; vessel: string; channel: string; sender: string }[] {
    return [...this.#channels.values()].flatMap(({ site, vessel, channel, last }) =>
      last === null ? [] : [{ site, vessel, channel, sender: last.said }],
    );
  }

  close(): void {
    this.#looking.cancel();
  }

  #look(): void {
    const nowMs = this.#clock.monotonicMs();
    for (const shared of this.#channels.values())
      if (shared.noted.length > 0 || shared.waits) this.#judge(shared, nowMs);
  }

  #judge(shared: Channel, nowMs: number): void {
    const { site, vessel, channel, places, before } = shared;
    for (const senders of [before, places]) forget(senders, nowMs, MOST_SENDERS);
    for (const { ids } of places.values()) forget(ids, nowMs, MOST_IDS);
    const together = togetherOf(shared);
    shared.waits = together.join('\n') !== shared.noted.join('\n');
    if (!shared.waits || nowMs - shared.notedMs < NOTED_EVERY_MS) return;
    shared.waits = false;
    shared.notedMs = nowMs;
    const notedBefore = shared.noted;
    shared.noted = together;
    const arrivedMs = this.#arrivals.nowMs();
    const action = newAction(
      'channel-shared',
      { vessel, channel, senders: together },
      { by: 'daemon', atMs: arrivedMs, arrivedMs },
    );
    // Noted later, then.
    this.#recorder.submit(site, [action], arrivedMs).catch(() => {
      shared.noted = notedBefore;
      shared.waits = true;
    });
  }
}

const newChannel = (site: string, vessel: string, channel: string): Channel => ({
  site,
  vessel,
  channel,
  places: new Map(),
  before: new Map(),
  last: null,
  noted: [],
  notedMs: Number.NEGATIVE_INFINITY,
  waits: false,
});

const keyOf = (site: string, vessel: string, channel: string): string => `${site}/${vessel}/${channel}`;

function isQuiet({ lastMs, gapMs }: Sender, nowMs: number): boolean {
  const waits = gapMs === null ? LONGEST_MS : Math.max(QUIET_MS, QUIET_GAPS * gapMs);
  return nowMs - lastMs >= Math.min(LONGEST_MS, waits);
}

/** What is known of a sender once it has sent, perhaps after another had. */
const heardOf = (known: Sender | undefined, nowMs: number, isTurn: boolean): Sender => ({
  lastMs: nowMs,
  gapMs: known === undefined || known.gapMs === NOT_HEARD_YET ? null : nowMs - known.lastMs,
  turns: (known?.turns ?? 0) + (isTurn ? 1 : 0),
});

const isReturning = ({ turns }: Sender): boolean => turns >= RETURNS;

/** Drops those that send no longer, and those that are too many. */
function forget(senders: Map<string, Sender>, nowMs: number, most: number): void {
  for (const [name, sender] of senders) if (isQuiet(sender, nowMs)) senders.delete(name);
  while (senders.size > most) {
    const passing = [...senders].filter(([, sender]) => !isReturning(sender));
    senders.delete(longestSilent(passing.length > 0 ? passing : [...senders]));
  }
}

/** Those who share a channel, in order; nobody where there are fewer than two. Client ids count where they come back. */
function togetherOf({ places, before }: Channel): string[] {
  const names = [...places].flatMap(([name, place]) => {
    const ids = [...place.ids].filter(([, sender]) => isReturning(sender)).map(([id]) => id);
    if (ids.length > 0) return ids;
    return isReturning(place) ? [name] : [];
  });
  const all = [...before.keys(), ...names];
  return all.length > 1 ? all.sort() : [];
}

const longestSilent = (senders: readonly [string, Sender][]): string =>
  senders.reduce((one, other) => (other[1].lastMs < one[1].lastMs ? other : one))[0];
