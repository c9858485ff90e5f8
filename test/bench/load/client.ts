/**
 * Publishes readings with QoS 1 over many connections, as fast as they are acknowledged or at a rate, and says how many
 * were and how long each waited. A process of its own, which speaks MQTT 3.1.1 in bytes made beforehand: a library would
 * be measured more than the broker. Prints `counting` once it is warm, and then one line of JSON (`Sent`).
 */
import { once } from 'node:events';
import { connect, type Socket } from 'node:net';
import { setTimeout as wait } from 'node:timers/promises';

export interface SendOptions {
  port: number;
  connections: number;
  /** Readings of a connection that wait for their acknowledgement at the same time. */
  inFlight: number;
  seconds: number;
  /** Before what is counted, seconds. */
  warmUpS: number;
  /** Readings a second of all connections together; without it as many as are acknowledged. */
  rate?: number;
  /** Prefix of the vessels' names; each connection is one vessel's device. */
  vessel: string;
}

export interface Sent {
  acknowledged: number;
  perSecond: number;
  /** From the write to the acknowledgement, ms. */
  p50: number;
  p99: number;
  /** Processor time of this process, share of one core. */
  ownShare: number;
}

const CONNACK = 0x20;
const PUBACK = 0x40;
const MOST_IDS = 65_535;

const text = (value: string): Buffer => {
  const bytes = Buffer.from(value);
  return Buffer.concat([Buffer.from([bytes.length >> 8, bytes.length & 0xff]), bytes]);
};

/** MQTT 3.1.1, 2.2.3, for less than 16 KiB. */
const length = (bytes: number): Buffer =>
  Buffer.from(bytes < 128 ? [bytes] : [(bytes & 0x7f) | 0x80, bytes >> 7]);

const packet = (head: number, ...parts: Buffer[]): Buffer => {
  const body = Buffer.concat(parts);
  return Buffer.concat([Buffer.from([head]), length(body.length), body]);
};

/** Decimal digits into bytes, in a place that is as long as they are. */
function writeDigits(bytes: Buffer, at: number, digits: number, value: number): void {
  for (let i = at + digits - 1, rest = value; i >= at; i--) {
    bytes[i] = 48 + (rest % 10);
    rest = Math.floor(rest / 10);
  }
}

/** Sixteenths, as many digits each. */
const VALUES = Array.from({ length: 16 }, (_, i) => Buffer.from((55 + i / 16).toFixed(4)));
/** A JSON number begins with no nought, and each is to be as long. */
const FIRST_SEQ = 100_000_000;

class Device {
  readonly #socket: Socket;
  /** A PUBLISH of which only the number, the value, the time and the sequence number change. */
  readonly #form: Buffer;
  readonly #places: { id: number; value: number; at: number; seq: number };
  readonly #sentAt = new Float64Array(MOST_IDS + 1);
  readonly #onAcknowledged: (waitedMs: number) => void;
  #left: Buffer = Buffer.alloc(0);
  #id = 0;
  #newestMs = 0;
  #seq = 0;
  waiting = 0;
  /** How many it tops up to. */
  inFlight = 0;

  private constructor(socket: Socket, topic: string, onAcknowledged: (waitedMs: number) => void) {
    this.#socket = socket;
    const payload = `{"value":${VALUES[0]},"at":${Date.now()},"seq":${FIRST_SEQ}}`;
    this.#form = packet(0x32, text(topic), Buffer.from([0, 0]), Buffer.from(payload));
    const from = this.#form.length - payload.length;
    const place = (field: string): number => from + payload.indexOf(`"${field}":`) + field.length + 3;
    this.#places = { id: from - 2, value: place('value'), at: place('at'), seq: place('seq') };
    this.#onAcknowledged = onAcknowledged;
    socket.on('data', (data: Buffer) => this.#take(data));
  }

  static async connect(
    port: number,
    name: string,
    topic: string,
    onAcknowledged: (waitedMs: number) => void,
  ): Promise<Device> {
    const socket = connect(port, '127.0.0.1').setNoDelay(true);
    await once(socket, 'connect');
    socket.write(packet(0x10, text('MQTT'), Buffer.from([4, 2, 0, 0]), text(name)));
    const [answer] = (await once(socket, 'data')) as [Buffer];
    if (answer[0] !== CONNACK || answer[3] !== 0) throw new Error(`not let in: ${answer.toString('hex')}`);
    return new Device(socket, topic, onAcknowledged);
  }

  send(count: number): void {
    const { length: size } = this.#form;
    const bytes = Buffer.allocUnsafe(count * size);
    const now = performance.now();
    const { id, value, at, seq } = this.#places;
    for (let i = 0, from = 0; i < count; i++, from += size) {
      this.#id = (this.#id % MOST_IDS) + 1;
      // No two of one channel at the same time, or they would be one.
      this.#newestMs = Math.max(this.#newestMs + 1, Date.now());
      this.#form.copy(bytes, from);
      bytes.writeUInt16BE(this.#id, from + id);
      VALUES[this.#seq % VALUES.length]!.copy(bytes, from + value);
      writeDigits(bytes, from + at, 13, this.#newestMs);
      writeDigits(bytes, from + seq, 9, FIRST_SEQ + this.#seq++);
      this.#sentAt[this.#id] = now;
    }
    this.waiting += count;
    this.#socket.write(bytes);
  }

  end(): void {
    this.#socket.destroy();
  }

  #take(data: Buffer): void {
    const bytes = this.#left.length === 0 ? data : Buffer.concat([this.#left, data]);
    let at = 0;
    const now = performance.now();
    // An acknowledgement has four bytes, and nothing else comes.
    for (; at + 4 <= bytes.length; at += 4) {
      if (bytes[at] !== PUBACK) throw new Error(`not an acknowledgement: ${bytes.toString('hex', at)}`);
      this.waiting--;
      this.#onAcknowledged(now - this.#sentAt[(bytes[at + 2]! << 8) | bytes[at + 3]!]!);
    }
    this.#left = bytes.subarray(at);
    const missing = this.inFlight - this.waiting;
    if (missing > 0) this.send(missing);
  }
}

async function run(options: SendOptions): Promise<Sent> {
  let counted: number[] | null = null;
  const devices: Device[] = [];
  for (let i = 0; i < options.connections; i++) {
    const vessel = `${options.vessel}${i}`;
    const topic = `esterwatch/v1/reading/barn/${vessel}/liquid-temperature`;
    devices.push(await Device.connect(options.port, vessel, topic, (waitedMs) => counted?.push(waitedMs)));
  }
  const { rate } = options;
  if (rate === undefined) {
    for (const device of devices) {
      device.inFlight = options.inFlight;
      device.send(options.inFlight);
    }
  } else void keepRate(devices, rate);
  await wait(options.warmUpS * 1000);
  const from = performance.now();
  const cpu = process.cpuUsage();
  counted = [];
  process.stdout.write('counting\n');
  await wait(options.seconds * 1000);
  const took = counted;
  counted = null;
  const seconds = (performance.now() - from) / 1000;
  const { user, system } = process.cpuUsage(cpu);
  for (const device of devices) device.end();
  const sorted = Float64Array.from(took).sort();
  const share = (of: number): number => sorted[Math.floor(of * (sorted.length - 1))] ?? Number.NaN;
  return {
    acknowledged: took.length,
    perSecond: took.length / seconds,
    p50: share(0.5),
    p99: share(0.99),
    ownShare: (user + system) / 1e6 / seconds,
  };
}

/** One after the other in turn, so many a second. */
async function keepRate(devices: readonly Device[], rate: number): Promise<void> {
  const from = performance.now();
  for (let sent = 0; ; ) {
    const due = ((performance.now() - from) * rate) / 1000;
    for (; sent < due; sent++) devices[sent % devices.length]!.send(1);
    await wait(1);
  }
}

process.stdout.write(`${JSON.stringify(await run(JSON.parse(process.argv[2]!) as SendOptions))}\n`, () =>
  process.exit(),
);
