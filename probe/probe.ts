import { createHash } from 'node:crypto';
import { once } from 'node:events';
import { mkdirSync, realpathSync } from 'node:fs';
import { createServer, type Server } from 'node:net';
import { isSet, type ProbeClock } from './clock.ts';
import type { ProbeConfiguration, SourceConfiguration } from './configuration.ts';
import { Link } from './link.ts';
import { Numbers } from './numbers.ts';
import { Outbox } from './outbox.ts';
import type { Log } from './reading.ts';
import { openSources } from './sources/open.ts';
import { endReads } from './sources/patient-read.ts';
import { type Measured, type Source, SourceTrouble } from './sources/source.ts';
import { Spool, type Unsent } from './spool.ts';

/** Readings without a time wait in memory; a machine that never learns it would fill it. */
const MOST_UNTIMED = 10_000;
/** A clock so far from the daemon's is told of and not gone by, ms: readings 60 s ahead are refused. */
const APART_MS = 30_000;
/** A source that gives nothing for so long, and for five looks, is told of, ms. */
const SILENT_MS = 30_000;
/** A stop waits so long for acknowledgements, ms. */
const GOODBYE_MS = 2000;

export interface ProbeOptions {
  configuration: ProbeConfiguration;
  /** `/`, or a folder with copies of a machine's files. */
  root: string;
  clock: ProbeClock;
  log: Log;
}

export interface Probe {
  /**
   * Stops: what is not acknowledged by then is kept for the next start. What waits for a time that nobody knows is lost,
   * and the log says how many.
   */
  close(): Promise<void>;
  /** What is not acknowledged; after `close`, what it leaves for the next start. */
  unsent(): Unsent;
}

/** The folder belongs to a probe that is running. */
export class KeptByAnother extends Error {}

/** A source with where its values go, and what was last told of it. */
interface Looked {
  source: Source;
  to: string;
  everyMs: number;
  scale: number;
  offset: number;
  /** The kind of its trouble; empty where it has none. */
  trouble: string;
  heardMs: number;
  timer: { cancel(): void } | null;
}

interface Untimed {
  to: string;
  value: number;
  seq: number;
  monotonicMs: number;
}

/**
 * Looks at every source in its interval and publishes what it shows.
 * @throws KeptByAnother, and a system error where the folder cannot be used
 */
export async function startProbe({ configuration, root, clock, log }: ProbeOptions): Promise<Probe> {
  const { keep, site } = configuration;
  mkdirSync(keep, { recursive: true, mode: 0o700 });
  const lock = await takeFolder(keep);
  const numbers = Numbers.open(keep, log);
  const spool = Spool.open(keep, log);
  const link = new Link(configuration, clock, log);
  const outbox = new Outbox(site, link, spool, clock, log);
  const time = new TimeOfDay(clock, log);
  const looked = lookedAt(configuration, openSources(configuration.sources, root, clock), clock);
  let untimed: Untimed[] = [];
  /** Dropped since readings wait for a time. */
  let dropped = 0;
  let isClosed = false;

  const sendTimed = () => {
    const timed = untimed;
    if (timed.length === 0 || time.at(clock.monotonicMs()) === null) return;
    untimed = [];
    if (dropped > 0)
      log.warn(
        `the time is known: ${dropped} readings that waited for it were dropped, ${timed.length} go out`,
      );
    dropped = 0;
    for (const { to, value, seq, monotonicMs } of timed)
      outbox.take({ to, value, seq, atMs: time.at(monotonicMs)! });
  };
  const take = (one: Looked, { value, ageMs }: Measured) => {
    const scaled = value * one.scale + one.offset;
    if (!Number.isFinite(scaled))
      throw new SourceTrouble(`${one.source.place} × scale + offset is no number`);
    const monotonicMs = clock.monotonicMs() - ageMs;
    untimed.push({ to: one.to, value: scaled, seq: numbers.next(one.to), monotonicMs });
    if (untimed.length > MOST_UNTIMED) {
      untimed.shift();
      if (dropped === 0)
        log.warn(
          `${MOST_UNTIMED} readings wait for a time: the oldest ones are dropped from here on; set this machine’s clock (timedatectl set-time)`,
        );
      dropped++;
    }
    sendTimed();
  };
  const look = async (one: Looked) => {
    let trouble = '';
    let kind: string | undefined;
    try {
      const measured = await one.source.read();
      if (isClosed) return;
      if (measured !== null) {
        take(one, measured);
        one.heardMs = clock.monotonicMs();
      } else if (clock.monotonicMs() - one.heardMs > Math.max(SILENT_MS, 5 * one.everyMs)) {
        trouble = `${one.source.place} gives nothing: look whether it is switched on, and at its settings`;
      } else {
        kind = one.trouble;
      }
    } catch (error) {
      if (isClosed) return;
      trouble = (error as Error).message;
      if (error instanceof SourceTrouble) ({ kind } = error);
    }
    kind ??= trouble;
    if (kind === one.trouble) return;
    one.trouble = kind;
    if (trouble === '') log.info(`${one.to} is read again`);
    else log.warn(`${one.to}: ${trouble}`);
  };
  const lookAt = (one: Looked, dueMs: number) => {
    one.timer = clock.after(Math.max(0, dueMs - clock.monotonicMs()), () => {
      void look(one).then(() => {
        // One that takes longer than its interval leaves looks out.
        const passed = Math.max(1, Math.ceil((clock.monotonicMs() - dueMs) / one.everyMs));
        if (!isClosed) lookAt(one, dueMs + passed * one.everyMs);
      });
    });
  };

  link.onUp = () => outbox.drain();
  link.onBeat = (atMs) => {
    time.heard(atMs);
    sendTimed();
  };
  link.open();
  for (const one of looked) lookAt(one, clock.monotonicMs());
  return {
    unsent: () => spool.unsent,
    close: async () => {
      isClosed = true;
      for (const { timer, source } of looked) {
        timer?.cancel();
        source.close();
      }
      endReads();
      if (untimed.length > 0)
        log.warn(
          `${untimed.length + dropped} readings are lost: nobody knew what time it was when they were read; set this machine’s clock before the next start (timedatectl set-time)`,
        );
      await outbox.close(GOODBYE_MS);
      await link.close();
      await spool.close();
      numbers.close();
      lock.close();
    },
  };
}

function lookedAt(
  { sources, vessel, everySeconds }: ProbeConfiguration,
  opened: readonly Source[],
  clock: ProbeClock,
): Looked[] {
  return sources.map((one: SourceConfiguration, i) => ({
    source: opened[i]!,
    to: `${one.vessel ?? vessel}/${one.channel}`,
    everyMs: 1000 * (one.everySeconds ?? everySeconds),
    scale: one.scale ?? 1,
    offset: one.offset ?? 0,
    trouble: '',
    heardMs: clock.monotonicMs(),
    timer: null,
  }));
}

/**
 * What time it was at a moment of the monotonic clock. A small computer without a battery begins in 1970, or where its
 * system last saved the time, or at the system's build time: minutes to years behind. So wherever this machine's clock
 * is far from the one of the daemon's beat, the daemon's holds.
 */
class TimeOfDay {
  readonly #clock: ProbeClock;
  readonly #log: Log;
  /** Epoch ms at 0 of the monotonic clock, as the daemon has it. */
  #daemonsZeroMs: number | null = null;
  /**
   * Whether the clocks were apart at the last beat. Looked at there alone: a laptop that slept has a right clock and a
   * monotonic one that stood still.
   */
  #isApart = false;
  #told = '';

  constructor(clock: ProbeClock, log: Log) {
    this.#clock = clock;
    this.#log = log;
  }

  /** Epoch ms, whole; null while nobody knows. */
  at(monotonicMs: number): number | null {
    const wallMs = this.#clock.wallMs();
    const nowMs = this.#clock.monotonicMs();
    const zeroMs = this.#daemonsZeroMs;
    // One that was apart and is no longer was set since.
    const isOwn =
      isSet(wallMs) && (zeroMs === null || !this.#isApart || Math.abs(wallMs - zeroMs - nowMs) <= APART_MS);
    if (isOwn) return Math.round(wallMs - (nowMs - monotonicMs));
    if (zeroMs !== null) return Math.round(zeroMs + monotonicMs);
    this.#tell(
      'this machine’s clock is not set: readings wait in memory until it is, or until a daemon says what time it is; let the machine reach a time server, or set it (timedatectl set-time)',
    );
    return null;
  }

  /** A daemon says what time it is. */
  heard(atMs: number): void {
    // Its own clock may not be set either.
    if (!isSet(atMs)) return;
    this.#daemonsZeroMs = atMs - this.#clock.monotonicMs();
    const wallMs = this.#clock.wallMs();
    const aheadMs = wallMs - atMs;
    this.#isApart = Math.abs(aheadMs) > APART_MS;
    if (!isSet(wallMs))
      this.#tell('this machine’s clock is not set: it goes by the daemon’s; set it (timedatectl set-time)');
    else if (this.#isApart)
      this.#tell(
        `this machine’s clock is ${Math.round(Math.abs(aheadMs) / 1000)} s ${aheadMs > 0 ? 'ahead of' : 'behind'} the daemon’s: it goes by the daemon’s; look which of them is right, and set the other (timedatectl)`,
      );
    else {
      if (this.#told !== '')
        this.#log.info('this machine’s clock agrees with the daemon’s: it goes by its own');
      this.#told = '';
    }
  }

  #tell(text: string): void {
    // The seconds change from beat to beat, and are no other trouble.
    const trouble = text.replace(/\d+/, '');
    if (trouble === this.#told) return;
    this.#told = trouble;
    this.#log.warn(text);
  }
}

/**
 * Keeps any other probe off the folder for as long as this process lives, by a socket that is only a name (Linux,
 * unix(7), abstract sockets): nothing of it is left behind by a process that was killed.
 */
async function takeFolder(folder: string): Promise<Server> {
  const name = createHash('sha256').update(realpathSync(folder)).digest('hex').slice(0, 32);
  const server = createServer((socket) => socket.destroy()).listen(`\0esterwatch-probe-${name}`);
  try {
    await once(server, 'listening');
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'EADDRINUSE')
      throw new KeptByAnother(
        `another probe is running with ${folder}: stop it first, or say another folder by "keep"`,
      );
    throw error;
  }
  server.unref();
  return server;
}
