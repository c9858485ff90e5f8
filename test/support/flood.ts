/**
 * Readings without end: every connection writes as fast as its socket takes it, and requests of the API come one after
 * the other. Most have so many readings unacknowledged at most; some are greedy, and held up by nothing but their socket.
 * A process of its own, which speaks MQTT 3.1.1 in bytes. Says `flooding` once all are connected; ends with its input,
 * and prints what was acknowledged and how the greedy were held up (`Flooded`).
 */
import { once } from 'node:events';
import { readFileSync } from 'node:fs';
import { Agent, get } from 'node:http';
import { connect, type Socket } from 'node:net';

export interface FloodOptions {
  mqttPort: number;
  connections: number;
  /** The first so many of these. */
  greedy: number;
  site: string;
  /** Where requests go, to which paths, and how many are under way. */
  httpPort: number;
  paths: readonly string[];
  requests: number;
}

export interface Flooded {
  /** By connection, each of which sends for a vessel `v0`, `v1` …: numbers from 0 on, in order. */
  senders: { sent: number; acknowledged: number }[];
  /** At each greedy connection, some times a second from when it was held up for as long as it is there. */
  looks: Look[][];
  /** Answers by status; 0: the connection was cut. */
  answers: Record<number, number>;
}

/** Where the bytes are that a greedy connection has sent. */
export interface Look {
  /** In its own process: the system takes no more of it. */
  waiting: number;
  /** In the system, on either side: its peer has not read them. */
  unread: number;
  /** Read by its peer and not acknowledged. */
  taken: number;
  /** Readings acknowledged until then. */
  acknowledged: number;
}

const PUBACK = 0x40;
const MOST_IDS = 65_535;
/** So many of a connection that is not greedy may be unacknowledged. */
const MOST_IN_FLIGHT = 2000;
const AT_ONCE = 50;
/** A greedy one's payload, bytes, filled up with spaces: its socket is full long before it has used all ids. */
const GREEDY_BYTES = 1000;
const GREEDY_AT_ONCE = 10;
/** Writes of a greedy one in one turn: a peer that took all would keep this process from everything else. */
const GREEDY_WRITES = 100;
const LOOK_EVERY_MS = 100;
/** Sockets of the system hold some MB, which are soon full; then they grow for a while, ms. */
const FIRST_LOOK_MS = 1000;

const text = (value: string): Buffer => {
  const bytes = Buffer.from(value);
  return Buffer.concat([Buffer.from([bytes.length >> 8, bytes.length & 0xff]), bytes]);
};

/** For less than 16 KiB (MQTT 3.1.1, 2.2.3). */
function packet(head: number, ...parts: Buffer[]): Buffer {
  const body = Buffer.concat(parts);
  const length = body.length < 128 ? [body.length] : [(body.length & 0x7f) | 0x80, body.length >> 7];
  return Buffer.concat([Buffer.from([head, ...length]), body]);
}

class Sender {
  readonly #socket: Socket;
  readonly #topic: Buffer;
  readonly #isGreedy: boolean;
  #newestMs = 0;
  #left: Buffer = Buffer.alloc(0);
  /** Bytes of the readings that are not acknowledged, in order, and their sum. */
  readonly #lengths: number[] = [];
  #unacknowledged = 0;
  sent = 0;
  acknowledged = 0;
  cut = false;
  readonly looks: Look[] = [];

  constructor(port: number, site: string, vessel: string, isGreedy: boolean) {
    this.#isGreedy = isGreedy;
    this.#topic = text(`esterwatch/v1/reading/${site}/${vessel}/liquid-temperature`);
    this.#socket = connect(port, '127.0.0.1');
    this.#socket.on('error', () => {});
    this.#socket.on('close', () => {
      this.cut = true;
    });
    this.#socket.write(packet(0x10, text('MQTT'), Buffer.from([4, 2, 0, 0]), text(`flood-${vessel}`)));
  }

  async welcomed(): Promise<void> {
    const [answer] = (await once(this.#socket, 'data')) as [Buffer];
    if (answer[0] !== 0x20 || answer[3] !== 0) throw new Error(`not let in: ${answer.toString('hex')}`);
    this.#socket.on('data', (data: Buffer) => this.#take(data));
    this.#socket.on('drain', () => this.#sendOn());
  }

  send(): void {
    for (let writes = 0; !this.cut; writes++) {
      const inFlight = this.sent - this.acknowledged;
      // An id in use must not be used again (MQTT 3.1.1, 2.3.1).
      if (this.#isGreedy && inFlight > MOST_IDS - GREEDY_AT_ONCE)
        throw new Error('a greedy one has used all ids');
      if (!this.#isGreedy && inFlight >= MOST_IN_FLIGHT) return;
      if (this.#isGreedy && writes === GREEDY_WRITES) {
        this.#sendOn();
        return;
      }
      const packets = Array.from({ length: this.#isGreedy ? GREEDY_AT_ONCE : AT_ONCE }, () => this.#next());
      if (!this.#socket.write(Buffer.concat(packets))) return;
    }
  }

  #sendOn(): void {
    setImmediate(() => this.send());
  }

  /** Where its bytes are now; nothing where the connection has ended. */
  look(unreadOf: ReadonlyMap<number, number>): void {
    const unread = unreadOf.get(this.#socket.localPort ?? 0);
    if (this.cut || unread === undefined) return;
    const waiting = this.#socket.writableLength;
    // A busy machine may need long until it is full for the first time.
    if (waiting === 0 && this.looks.length === 0) return;
    const taken = this.#unacknowledged - waiting - unread;
    this.looks.push({ waiting, unread, taken, acknowledged: this.acknowledged });
  }

  #next(): Buffer {
    // No two of one channel at the same time, nor far ahead of the clock.
    this.#newestMs = Math.max(this.#newestMs + 1, Date.now());
    const seq = this.sent++;
    const id = (seq % MOST_IDS) + 1;
    const payload = `{"value":${20 + (seq % 64) / 64},"at":${Math.min(this.#newestMs, Date.now() + 30_000)},"seq":${seq}}`;
    const filled = this.#isGreedy ? payload.padEnd(GREEDY_BYTES) : payload;
    const next = packet(0x32, this.#topic, Buffer.from([id >> 8, id & 0xff]), Buffer.from(filled));
    this.#lengths.push(next.length);
    this.#unacknowledged += next.length;
    return next;
  }

  #take(data: Buffer): void {
    const bytes = this.#left.length === 0 ? data : Buffer.concat([this.#left, data]);
    let at = 0;
    for (; at + 4 <= bytes.length; at += 4) {
      // In the order in which they were sent (MQTT 3.1.1, 4.6.0-2).
      const id = (this.acknowledged % MOST_IDS) + 1;
      if (bytes[at] !== PUBACK || bytes.readUInt16BE(at + 2) !== id)
        throw new Error(`not the acknowledgement of ${id}: ${bytes.toString('hex', at, at + 4)}`);
      this.acknowledged++;
      this.#unacknowledged -= this.#lengths.shift()!;
    }
    this.#left = bytes.subarray(at);
    // A greedy one has sent all that its socket takes.
    if (!this.#isGreedy) this.send();
  }
}

const ESTABLISHED = '01';

/** Bytes that lie in the system on the way to a port, by the port that they were sent from (Linux, proc_net_tcp(5)). */
function unreadTo(port: number): Map<number, number> {
  const unsent = new Map<number, number>();
  const received = new Map<number, number>();
  for (const line of readFileSync('/proc/net/tcp', 'utf8').split('\n').slice(1, -1)) {
    const [, local, remote, state, queues] = line.trim().split(/\s+/);
    const [own, other] = [local!, remote!].map((address) => Number.parseInt(address.split(':')[1]!, 16));
    const [sending, reading] = queues!.split(':').map((bytes) => Number.parseInt(bytes, 16));
    if (state !== ESTABLISHED) continue;
    if (other === port) unsent.set(own!, sending!);
    if (own === port) received.set(other!, reading!);
  }
  return new Map([...received].map(([from, bytes]) => [from, bytes + (unsent.get(from) ?? 0)]));
}

const options = JSON.parse(process.argv[2]!) as FloodOptions;
const answers: Record<number, number> = {};
const agent = new Agent({ keepAlive: true, maxSockets: options.requests });
let isEnding = false;

function ask(turn: number): void {
  if (isEnding) return;
  const path = options.paths[turn % options.paths.length]!;
  let status = 0;
  const sent = get({ host: '127.0.0.1', port: options.httpPort, path, agent }, (answer) => {
    status = answer.statusCode!;
    answer.resume();
    answer.on('error', () => {});
  });
  sent.on('error', () => {});
  sent.on('close', () => {
    answers[status] = (answers[status] ?? 0) + 1;
    // Not at once where nobody answers any more.
    setTimeout(() => ask(turn + 1), status === 200 ? 0 : 10);
  });
}

const senders = Array.from(
  { length: options.connections },
  (_, i) => new Sender(options.mqttPort, options.site, `v${i}`, i < options.greedy),
);
await Promise.all(senders.map((sender) => sender.welcomed()));
process.stdout.write('flooding\n');
for (const sender of senders) sender.send();
for (let i = 0; i < options.requests; i++) ask(i);
const greedy = senders.slice(0, options.greedy);
setTimeout(() => {
  setInterval(() => {
    const unread = unreadTo(options.mqttPort);
    for (const sender of greedy) sender.look(unread);
  }, LOOK_EVERY_MS);
}, FIRST_LOOK_MS);
process.stdin.on('end', () => {
  isEnding = true;
  const flooded: Flooded = {
    senders: senders.map(({ sent, acknowledged }) => ({ sent, acknowledged })),
    looks: greedy.map(({ looks }) => looks),
    answers,
  };
  process.stdout.write(`${JSON.stringify(flooded)}\n`, () => process.exit());
});
process.stdin.resume();
