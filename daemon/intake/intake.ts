import { isUtf8 } from 'node:buffer';
import { MOST_BYTES, type ParsedReading, parsePayload } from '../../shared/wire/payload.ts';
import type { RefusalCode } from '../../shared/wire/refusals.ts';
import type { KnownDevice } from '../access/access.ts';
import { mayPublish } from '../access/device-rights.ts';
import type { KnownAs } from '../broker/sender.ts';
import type { ArrivalClock } from '../clock.ts';
import type { Recorder } from '../store/recorder.ts';
import type { EntryResult, NewEntry } from '../store/store.ts';
import type { RefusedList } from './refused-list.ts';
import type { SharedChannels } from './shared-channels.ts';
import { mappedText, type TopicMap } from './topic-map.ts';

/** A message as either broker hands it over. */
export interface Message {
  topic: string;
  payload: Buffer;
  /** The publisher wants it kept, or the broker has kept it: nobody can tell how old it is. */
  retained: boolean;
  /** Who publishes it, where the broker knows: what is not theirs is refused. */
  from: KnownDevice | null;
  /** The same for people: what the connection is known as; null where the broker is another. */
  sender: KnownAs | null;
}

/** What the intake needs to know of the sites: which names there are. */
export interface KnownNames {
  hasVessel(site: string, vessel: string): boolean;
  hasChannel(site: string, vessel: string, channel: string): boolean;
  vesselCount(): number;
  channelCount(site: string, vessel: string): number;
  presence(site: string, device: string): string | undefined;
  deviceCount(): number;
  /** Whether another daemon watches a site. */
  isForwarded(site: string): boolean;
}

const TAKEN = Promise.resolve(true);
const NOT_TAKEN = Promise.resolve(false);

/** Anybody who may publish could fill memory and disk with new names otherwise. */
const MOST_VESSELS = 1000;
const MOST_CHANNELS_PER_VESSEL = 64;
const MOST_DEVICES = 1000;

/**
 * From a message to committed readings: taken apart, checked, put into units of the channel, given an
 * arrival time, recorded. Resolves when it is on disk, or is on the list of what was refused.
 */
export class Intake {
  readonly #clock: ArrivalClock;
  readonly #recorder: Recorder;
  readonly #known: KnownNames;
  readonly #topics: TopicMap;
  readonly #refused: RefusedList;
  readonly #senders: Pick<SharedChannels, 'heard'>;

  constructor(parts: {
    clock: ArrivalClock;
    recorder: Recorder;
    known: KnownNames;
    topics: TopicMap;
    refused: RefusedList;
    senders: Pick<SharedChannels, 'heard'>;
  }) {
    this.#clock = parts.clock;
    this.#recorder = parts.recorder;
    this.#known = parts.known;
    this.#topics = parts.topics;
    this.#refused = parts.refused;
    this.#senders = parts.senders;
  }

  /** @returns whether anything of the message was taken in. Rejects where the store is closed, or too much waits for it. */
  take(message: Message): Promise<boolean> {
    // Every reading comes this way: without `async`, whose promises would all wait in memory for the commit.
    try {
      return this.#take(message);
    } catch (error) {
      return Promise.reject(error);
    }
  }

  #take({ topic, payload, retained, from, sender }: Message): Promise<boolean> {
    const arrivedMs = this.#clock.nowMs();
    const note = (code: RefusalCode): void => this.#refused.note(topic, code, arrivedMs, sender);
    const refuse = (code: RefusalCode): Promise<boolean> => {
      note(code);
      return NOT_TAKEN;
    };
    const to = this.#topics.find(topic);
    if (to.kind === 'unknown') return refuse('topic-unknown');
    if (to.kind === 'misnamed') return refuse('topic-misnamed');
    if (to.kind === 'reserved') return refuse('topic-reserved');
    if (from !== null && !mayPublish(from, to)) return refuse('device-not-allowed');
    if (payload.length > MOST_BYTES) return refuse('payload-too-large');
    if (!isUtf8(payload)) return refuse('payload-not-utf8');
    const text = payload.toString('utf8');
    if (to.kind === 'presence' && this.#known.isForwarded(to.site)) return refuse('site-forwarded');
    if (to.kind === 'presence') return this.#takePresence(to.site, to.device, text, arrivedMs, refuse);

    if (to.kind === 'reading') return this.#takeReadings(to, text, arrivedMs, retained, sender, note);
    const taken = to.mappings.map((mapping) =>
      this.#takeReadings(mapping, mappedText(text, mapping), arrivedMs, retained, sender, note),
    );
    return Promise.all(taken).then((each) => each.includes(true));
  }

  /** What a message holds for one channel, as its text has it. */
  #takeReadings(
    { site, vessel, channel }: { site: string; vessel: string; channel: string },
    text: string,
    arrivedMs: number,
    retained: boolean,
    sender: KnownAs | null,
    note: (code: RefusalCode) => void,
  ): Promise<boolean> {
    if (this.#known.isForwarded(site)) {
      note('site-forwarded');
      return NOT_TAKEN;
    }
    const readings: ParsedReading[] = [];
    for (const parsed of parsePayload(text, channel, arrivedMs, retained)) {
      if ('refused' in parsed) note(parsed.refused);
      else readings.push(parsed);
    }
    if (readings.length === 0) return NOT_TAKEN;
    // What is judged goes forward in time. Those of one time stay as they came: of one identity the first counts.
    readings.sort((one, other) => one.atMs - other.atMs);
    if (!this.hasRoom(site, vessel, channel)) {
      note('too-many-names');
      return NOT_TAKEN;
    }
    const recording = this.record(site, vessel, channel, readings, arrivedMs, 'device');
    // Behind the reading: the first of a vessel makes it known.
    if (sender !== null) this.#senders.heard(site, vessel, channel, sender);
    return recording.then((results) => {
      let conflicts = 0;
      for (const { result } of results) if (result === 'conflict') conflicts++;
      for (let i = 0; i < conflicts; i++) note('value-conflict');
      return conflicts < results.length;
    });
  }

  /** Records readings of one channel; the first of a vessel makes the vessel known. */
  record(
    site: string,
    vessel: string,
    channel: string,
    readings: readonly ParsedReading[],
    arrivedMs: number,
    source: 'device' | 'typed',
  ): Promise<readonly EntryResult[]> {
    const entries: NewEntry[] = readings.map((reading) => ({
      kind: 'reading',
      vessel,
      channel,
      arrivedMs,
      source,
      ...reading,
    }));
    const waits = source === 'device';
    if (this.#known.hasVessel(site, vessel))
      return this.#recorder.submit(site, entries, arrivedMs, { waits });
    const added: NewEntry = {
      kind: 'action',
      action: 'vessel-added',
      atMs: arrivedMs,
      arrivedMs,
      by: 'daemon',
      body: { vessel, role: 'reactor' },
    };
    return this.#recorder
      .submit(site, [added, ...entries], arrivedMs, { waits })
      .then((results) => results.slice(1));
  }

  #takePresence(
    site: string,
    device: string,
    presence: string,
    arrivedMs: number,
    refuse: (code: RefusalCode) => Promise<boolean>,
  ): Promise<boolean> {
    if (presence !== 'here' && presence !== 'gone') return refuse('presence-form');
    const known = this.#known.presence(site, device);
    if (known === presence) return TAKEN;
    if (known === undefined && this.#known.deviceCount() >= MOST_DEVICES) return refuse('too-many-names');
    const body = { device, presence };
    const entry: NewEntry = {
      kind: 'action',
      action: 'presence',
      atMs: arrivedMs,
      arrivedMs,
      by: device,
      body,
    };
    return this.#recorder.submit(site, [entry], arrivedMs).then(() => true);
  }

  /** Whether there may be another reading of this name. */
  hasRoom(site: string, vessel: string, channel: string): boolean {
    const known = this.#known;
    if (!known.hasVessel(site, vessel)) return known.vesselCount() < MOST_VESSELS;
    return (
      known.hasChannel(site, vessel, channel) || known.channelCount(site, vessel) < MOST_CHANNELS_PER_VESSEL
    );
  }
}
