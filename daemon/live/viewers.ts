import type { IncomingMessage } from 'node:http';
import type { Duplex } from 'node:stream';
import { WebSocket, WebSocketServer } from 'ws';
import type { AlarmChange, EngineOutput } from '../../shared/engine/events.ts';
import { isTold } from '../../shared/engine/told.ts';
import { alarmId } from '../../shared/engine/view.ts';
import { describeAlarm } from '../../shared/rules/describe.ts';
import type { Alarm, LiveMessage, Vessel } from '../../shared/wire/api.ts';
import type { Picture } from '../../shared/wire/forward.ts';
import { isoTime } from '../../shared/wire/time.ts';
import { type ArrivalClock, type Clock, every, type Timer } from '../clock.ts';
import type { Centre, ForwardedListener } from '../forward/centre.ts';
import type { ForwardedSite } from '../forward/forwarded-site.ts';
import type { Recorder } from '../store/recorder.ts';
import type { JudgedReading } from '../watch/site-watch.ts';
import type { Watch, WatchListener } from '../watch/watch.ts';

/** Readings are gathered for so long, real ms: eyes want no more, and every message costs each viewer. */
const GATHER_MS = 200;
/** The derived figures of a changed vessel are sent so often at most, real ms, … */
const ESTIMATE_MS = 1000;
/** … those of many spread over that time, a part after each of these, real ms: an alarm does not wait behind all. */
const ESTIMATE_PART_MS = 50;
/**
 * Figures are sent so often in a part at most, counted for each viewer apart, some 5 ms of processor; or one vessel's.
 * Where more vessels change before more eyes than that, each vessel's come less often.
 */
const MOST_ESTIMATES_IN_A_PART = 1000;
/** A page calls itself not live after 5 s of silence, real ms. */
const BEAT_MS = 2000;
/** A viewer that has so much unsent is too slow: it is cut off and will come back for a newer picture. */
const MOST_UNSENT_BYTES = 1024 * 1024;
/** The same for one that answers no ping for so long, real ms: links hold minutes of a usual site, and it would see those. */
const KEEPS_UP_WITHIN_MS = 10_000;
/** Of more readings in one message only the newest of each channel are shown: the pages of many could not be told all. */
const MOST_READINGS = 2000;
const MOST_VIEWERS = 1000;
/** Close code of a socket whose viewer is let in no more (RFC 6455, 7.4.2: 4000 to 4999 are for private use). */
const NOT_LET_IN = 4401;
/** A viewer has so long to answer a goodbye, real ms. */
const GOODBYE_MS = 300;

interface VesselName {
  site: string;
  vessel: string;
}

type LiveReading = Extract<LiveMessage, { type: 'readings' }>['readings'][number];

/** Everybody who looks on over a WebSocket. Real time, not the daemon's: eyes and links are real. */
export class Viewers implements WatchListener, ForwardedListener {
  readonly #watch: Watch;
  readonly #centre: Centre;
  readonly #arrivals: ArrivalClock;
  readonly #clock: Clock;
  readonly #recorder: Pick<Recorder, 'failure'>;
  readonly #unreached: () => string | null;
  readonly #server = new WebSocketServer({ noServer: true, maxPayload: 4096, perMessageDeflate: false });
  readonly #timers: Timer[];
  /** Vessels whose figures changed since they last became due. */
  readonly #changed = new Map<string, VesselName>();
  /** Those whose figures are still to be sent, the longest due first. */
  readonly #due = new Map<string, VesselName>();
  #estimatesInAPart = 0;
  readonly #sockets = new WeakMap<WebSocket, Duplex>();
  readonly #isStillIn = new WeakMap<WebSocket, () => boolean>();
  /** Since when a viewer has not answered a ping, ms. Not by the daemon's clock: a demonstration's is quick. */
  readonly #askedMs = new WeakMap<WebSocket, number>();
  #readings: LiveReading[] = [];

  constructor(parts: {
    watch: Watch;
    centre: Centre;
    arrivals: ArrivalClock;
    clock: Clock;
    recorder: Pick<Recorder, 'failure'>;
    /** Why nobody can be told, though somebody wants to be; null while somebody can. */
    unreached: () => string | null;
  }) {
    this.#watch = parts.watch;
    this.#centre = parts.centre;
    this.#arrivals = parts.arrivals;
    this.#clock = parts.clock;
    this.#recorder = parts.recorder;
    this.#unreached = parts.unreached;
    const realMs = (ms: number) => ms * parts.clock.speed;
    this.#timers = [
      every(parts.clock, realMs(GATHER_MS), () => this.#sendReadings()),
      every(parts.clock, realMs(ESTIMATE_MS), () => this.#takeChanged()),
      every(parts.clock, realMs(ESTIMATE_PART_MS), () => this.#sendPartOfEstimates()),
      every(parts.clock, realMs(BEAT_MS), () => {
        this.#dropThoseOut();
        this.#dropThoseBehind();
        this.#send(this.#beat());
      }),
    ];
    this.#watch.listen(this);
    this.#centre.listen(this);
  }

  get count(): number {
    return this.#server.clients.size;
  }

  /** Takes over a connection whose request was found to be in order, for as long as its viewer is let in. */
  accept(request: IncomingMessage, socket: Duplex, head: Buffer, isStillIn: () => boolean): void {
    if (this.#server.clients.size >= MOST_VIEWERS) {
      socket.end('HTTP/1.1 503 Service Unavailable\r\nConnection: close\r\n\r\n', () => socket.destroy());
      return;
    }
    this.#server.handleUpgrade(request, socket, head, (viewer) => {
      viewer.on('error', () => viewer.terminate());
      viewer.on('pong', () => this.#askedMs.delete(viewer));
      this.#isStillIn.set(viewer, isStillIn);
      this.#sockets.set(viewer, socket);
      viewer.send(JSON.stringify(this.#beat()));
      for (const site of [...this.#watch.sites(), ...this.#centre.sites()]) {
        for (const vessel of site.vessels(this.#arrivals.nowMs())) {
          viewer.send(JSON.stringify({ type: 'estimate', ...vessel } satisfies LiveMessage));
        }
      }
    });
  }

  readings(site: string, readings: readonly JudgedReading[]): void {
    if (this.#server.clients.size === 0) return;
    for (const { vessel, channel, atMs, value, sound } of readings) {
      this.#readings.push({ site, vessel, channel, at: isoTime(atMs), value, sound });
      this.#noteChanged({ site, vessel });
    }
  }

  outputs(site: string, outputs: readonly EngineOutput[]): void {
    if (this.#server.clients.size === 0) return;
    const vessels = new Set<string>();
    for (const output of outputs) {
      const { vessel } = output;
      vessels.add(vessel);
      if (output.type === 'alarm') this.#sendAlarm(site, output);
      if (output.type === 'stage') {
        const { stage, batch, atMs } = output;
        this.#send({ type: 'stage', at: isoTime(atMs), site, vessel, stage, batch });
      }
    }
    this.#sendEstimates([...vessels].map((vessel) => ({ site, vessel })));
  }

  /** A new picture of a site that another daemon watches: what is shown of it, and which alarms came or went. */
  forwarded(before: Picture | null, site: ForwardedSite): void {
    if (this.#server.clients.size === 0) return;
    const standing = (vessels: readonly Vessel[]): Map<string, Alarm> =>
      new Map(
        vessels.flatMap(({ alarms }) => alarms.filter((one) => one.standing).map((one) => [one.id, one])),
      );
    const [was, is] = [standing(before?.vessels ?? []), standing(site.vessels())];
    const alarmed = new Set<string>();
    for (const [id, alarm] of is)
      if (was.get(id)?.priority !== alarm.priority) {
        alarmed.add(alarm.vessel);
        this.#send({ type: 'alarm', ...shownAlarm(alarm) });
      }
    for (const [id, alarm] of was)
      if (!is.has(id)) {
        alarmed.add(alarm.vessel);
        this.#send({ type: 'alarm', ...shownAlarm(alarm), event: 'cleared' });
      }
    for (const { vessel } of site.vessels()) this.#noteChanged({ site: site.site, vessel });
    this.#sendEstimates([...alarmed].map((vessel) => ({ site: site.site, vessel })));
  }

  /** A warning that somebody sends to see that it arrives. */
  testWarning(test: { at: string; site: string; by: string; mark?: string }): void {
    this.#send({ type: 'test-warning', ...test });
  }

  close(): void {
    for (const timer of this.#timers) timer.cancel();
    for (const viewer of this.#server.clients) {
      viewer.close(1001, 'the daemon stops');
      // A phone asleep never answers; the stop does not wait for it.
      setTimeout(() => viewer.terminate(), GOODBYE_MS);
    }
    this.#server.close();
  }

  /** Who signed out, or was removed, sees no more. */
  #dropThoseOut(): void {
    for (const viewer of this.#server.clients) {
      if (this.#isStillIn.get(viewer)?.() === false) viewer.close(NOT_LET_IN, 'sign in');
    }
  }

  /** A ping stands in line behind what a viewer has not read yet (RFC 6455, 5.5.2). */
  #dropThoseBehind(): void {
    const nowMs = performance.now();
    for (const viewer of this.#server.clients) {
      const askedMs = this.#askedMs.get(viewer);
      if (askedMs === undefined) {
        this.#askedMs.set(viewer, nowMs);
        viewer.ping();
      } else if (nowMs - askedMs > KEEPS_UP_WITHIN_MS) viewer.terminate();
    }
  }

  #beat(): LiveMessage {
    const { failure } = this.#recorder;
    const unreached = this.#unreached();
    return {
      type: 'beat',
      at: isoTime(this.#arrivals.nowMs()),
      speed: this.#clock.speed,
      ...(failure !== null && { notKept: failure }),
      ...(unreached !== null && { unreached }),
    };
  }

  /** What people do to an alarm, and that another explains it now, comes with the estimate of its vessel. */
  #sendAlarm(site: string, change: AlarmChange): void {
    const { vessel, event, number } = change;
    if (event === 'acknowledged' || event === 'shelved' || event === 'explained') return;
    const id = alarmId(site, vessel, number);
    // As it is now that all has been taken in that came with it.
    const alarms = this.#watch.site(site)?.vessel(vessel, this.#arrivals.nowMs())?.alarms ?? [];
    const now = alarms.find((alarm) => alarm.id === id && alarm.standing);
    this.#send(liveAlarm(site, change, now));
  }

  #sendReadings(): void {
    if (this.#readings.length === 0) return;
    const readings = this.#readings;
    this.#readings = [];
    this.#send({
      type: 'readings',
      readings: readings.length > MOST_READINGS ? newestOf(readings) : readings,
    });
  }

  #noteChanged({ site, vessel }: VesselName): void {
    this.#changed.set(`${site}:${vessel}`, { site, vessel });
  }

  #takeChanged(): void {
    for (const [key, name] of this.#changed) this.#due.set(key, name);
    this.#changed.clear();
    this.#estimatesInAPart = Math.ceil((this.#due.size * ESTIMATE_PART_MS) / ESTIMATE_MS);
  }

  #sendPartOfEstimates(): void {
    const { size } = this.#server.clients;
    const mostToAll = size === 0 ? Infinity : Math.max(1, Math.floor(MOST_ESTIMATES_IN_A_PART / size));
    const part: VesselName[] = [];
    for (const [key, name] of this.#due) {
      if (part.length === Math.min(this.#estimatesInAPart, mostToAll)) break;
      part.push(name);
      this.#due.delete(key);
    }
    this.#sendEstimates(part);
  }

  #sendEstimates(vessels: readonly VesselName[]): void {
    if (this.#server.clients.size === 0) return;
    const nowMs = this.#arrivals.nowMs();
    const estimates: LiveMessage[] = [];
    for (const { site, vessel } of vessels) {
      const view = (this.#watch.site(site) ?? this.#centre.site(site))?.vessel(vessel, nowMs);
      if (view !== undefined) estimates.push({ type: 'estimate', ...view });
    }
    this.#send(...estimates);
  }

  #send(...messages: LiveMessage[]): void {
    if (this.#server.clients.size === 0) return;
    const texts = messages.map((message) => JSON.stringify(message));
    for (const viewer of this.#server.clients) {
      if (viewer.readyState !== WebSocket.OPEN) continue;
      if (viewer.bufferedAmount > MOST_UNSENT_BYTES) {
        viewer.terminate();
        continue;
      }
      // One write of all to each: it is writes that cost.
      const socket = this.#sockets.get(viewer)!;
      socket.cork();
      for (const text of texts) viewer.send(text);
      socket.uncork();
    }
  }
}

/**
 * The newest of each channel by its own time; of two of one moment the last that came. Not the last that came of all: what
 * a device kept while it was away may come behind what it measures now, and a page that drew its end would leave the line
 * there. What is left out a page has when it fetches the line the next time.
 */
function newestOf(readings: readonly LiveReading[]): LiveReading[] {
  const newest = new Map<string, LiveReading>();
  for (const reading of readings) {
    const key = `${reading.site}:${reading.vessel}:${reading.channel}`;
    const known = newest.get(key);
    // Times in this form are in the order of their text (`isoTime`).
    if (known === undefined || reading.at >= known.at) newest.set(key, reading);
  }
  return [...newest.values()];
}

/** What the live message of an alarm says of it. */
const shownAlarm = ({ clearedAt: _, standing: __, acknowledged: ___, shelved: ____, ...alarm }: Alarm) =>
  alarm;

/** One that people are told of again (`unshelved`, `unexplained`) is raised again, with its own time. */
function liveAlarm(site: string, change: AlarmChange, now: Alarm | undefined): LiveMessage {
  const { vessel, alarm, event, number, priority, late, atMs, value, limit, facts, explainedBy } = change;
  const isAgain = event === 'unshelved' || event === 'unexplained';
  return {
    type: 'alarm',
    at: isAgain && now !== undefined ? now.at : isoTime(atMs),
    site,
    vessel,
    alarm,
    event: event === 'cleared' ? 'cleared' : 'raised',
    priority,
    late,
    value,
    limit,
    ...describeAlarm(alarm, facts, 'C'),
    facts,
    id: alarmId(site, vessel, number),
    explainedBy,
    told: now?.told ?? isTold({ ...change, standing: false }),
  };
}
