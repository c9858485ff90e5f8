/**
 * Readings without end: every connection writes as fast as its socket takes it and waits for no acknowledgement, and
 * requests of the API one after the other. A process of its own, which speaks MQTT 3.1.1 in bytes. Says `flooding` once
 * all are connected; ends with its input, and prints what was acknowledged (`Flooded`).
 */
import { once } from 'node:events';
import { Agent, get } from 'node:http';
import { connect, type Socket } from 'node:net';

export interface FloodOptions {
  mqttPort: number;
  connections: number;
  site: string;
  /** Where requests go, to which paths, and how many are under way. */
  httpPort: number;
  paths: readonly string[];
  requests: number;
}

export interface Flooded {
  /** By connection, each of which sends for a vessel `v0`, `v1` …: numbers from 0 on, in order. */
  senders: { sent: number; acknowledged: number; cut: boolean; wasHeldUp: boolean }[];
  /** Answers by status; 0: the connection was cut. */
  answers: Record<number, number>;
}

const PUBACK = 0x40;
const MOST_IDS = 65_535;
/** So many may be unacknowledged: an id in use must not be used again. */
const MOST_IN_FLIGHT = 2000;
const AT_ONCE = 50;

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
  #newestMs = 0;
  #left: Buffer = Buffer.alloc(0);
  sent = 0;
  acknowledged = 0;
  cut = false;
  wasHeldUp = false;

  constructor(port: number, site: string, vessel: string) {
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
    this.#socket.on('drain', () => this.send());
  }

  send(): void {
    while (!this.cut) {
      if (this.sent - this.acknowledged >= MOST_IN_FLIGHT) {
        this.wasHeldUp = true;
        return;
      }
      const packets = Array.from({ length: AT_ONCE }, () => this.#next());
      if (!this.#socket.write(Buffer.concat(packets))) {
        this.wasHeldUp = true;
        return;
      }
    }
  }

  #next(): Buffer {
    // No two of one channel at the same time, nor far ahead of the clock.
    this.#newestMs = Math.max(this.#newestMs + 1, Date.now());
    const seq = this.sent++;
    const id = (seq % MOST_IDS) + 1;
    const payload = `{"value":${20 + (seq % 64) / 64},"at":${Math.min(this.#newestMs, Date.now() + 30_000)},"seq":${seq}}`;
    return packet(0x32, this.#topic, Buffer.from([id >> 8, id & 0xff]), Buffer.from(payload));
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
    }
    this.#left = bytes.subarray(at);
    this.send();
  }
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
  (_, i) => new Sender(options.mqttPort, options.site, `v${i}`),
);
await Promise.all(senders.map((sender) => sender.welcomed()));
process.stdout.write('flooding\n');
for (const sender of senders) sender.send();
for (let i = 0; i < options.requests; i++) ask(i);
process.stdin.on('end', () => {
  isEnding = true;
  const flooded: Flooded = {
    senders: senders.map(({ sent, acknowledged, cut, wasHeldUp }) => ({
      sent,
      acknowledged,
      cut,
      wasHeldUp,
    })),
    answers,
  };
  process.stdout.write(`${JSON.stringify(flooded)}\n`, () => process.exit());
});
process.stdin.resume();
