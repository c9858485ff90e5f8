import { connect, type IClientOptions, type MqttClient } from 'mqtt';
import { brokerTrouble } from '../shared/wire/broker-trouble.ts';
import { beatTopic, presenceTopic } from '../shared/wire/topics.ts';
import type { ProbeClock } from './clock.ts';
import type { Log } from './reading.ts';

/** The first try after a loss comes after this, each further one after twice as long, up to the longest, ms. */
const FIRST_RETRY_MS = 500;
const LONGEST_RETRY_MS = 30_000;
/** A connection that ends before this was none, ms: two with one name would push each other out for ever, at once. */
const LASTING_MS = 10_000;
/** So many of them in a row are told of: one or two may be a bad network. */
const MANY_SHORT_ONES = 3;
/** A broker that does not answer is given up, ms. */
const ANSWER_WITHIN_MS = 10_000;
/** A broker that acknowledges nothing of what waits for it is left and tried anew after this, ms. */
const ACKNOWLEDGED_WITHIN_MS = 30_000;
/** What is retained comes with the answer to a subscription; so long after it nothing does, ms. */
const RETAINED_WITHIN_MS = 500;
/** A link that is silently gone is noticed within twice of it, s; the broker says so to others after 1.5 times. */
const KEEPALIVE_S = 15;
/** How long a goodbye may take, ms. */
const GOODBYE_MS = 2000;

export interface Address {
  broker: string;
  device: string;
  password?: string | undefined;
  site: string;
}

const optionsOf = ({ device, password }: Address): IClientOptions => ({
  protocolVersion: 4,
  username: device,
  ...(password !== undefined && { password }),
  keepalive: KEEPALIVE_S,
  connectTimeout: ANSWER_WITHIN_MS,
  // This link tries again by itself, so that nothing is sent again unasked.
  reconnectPeriod: 0,
});

/**
 * A connection to a broker that comes back by itself, with the presence of the device as retained word and last will.
 * What is published either is acknowledged, or fails with the connection: nothing waits in here.
 */
export class Link {
  readonly #address: Address;
  readonly #clock: ProbeClock;
  readonly #log: Log;
  #client: MqttClient | null = null;
  /** What makes each publication that is under way fail. */
  readonly #lost = new Set<() => void>();
  #retryMs = FIRST_RETRY_MS;
  /** Connections in a row that did not last. */
  #shortOnes = 0;
  #retry: { cancel(): void } | null = null;
  /** Publications that are not acknowledged, and what leaves the broker where none of them is. */
  #unanswered = 0;
  #impatience: { cancel(): void } | null = null;
  /** The broker acknowledged nothing when it was last left. */
  #isSilent = false;
  #isClosed = false;
  /** The last trouble that was told: the same one is not told at each try. */
  #told = '';
  /** Called when readings can go out. */
  onUp: () => void = () => {};
  /** Called when a daemon says at the site that it watches, with its time, epoch ms. */
  onBeat: (atMs: number) => void = () => {};

  constructor(address: Address, clock: ProbeClock, log: Log) {
    this.#address = address;
    this.#clock = clock;
    this.#log = log;
  }

  get isUp(): boolean {
    return this.#client?.connected ?? false;
  }

  open(): void {
    const { broker, site, device } = this.#address;
    const presence = presenceTopic(site, device);
    const client = connect(broker, {
      ...optionsOf(this.#address),
      // Always the same: the broker then drops a connection that is silently gone and says its last will before this
      // one says "here", not afterwards.
      clientId: `${site}-${device}`,
      will: { topic: presence, payload: Buffer.from('gone'), qos: 1, retain: true },
    });
    this.#client = client;
    let trouble = '';
    let connectedMs: number | null = null;
    client.on('error', (error) => {
      trouble = inWords(error, this.#address);
    });
    client.on('connect', () => {
      connectedMs = this.#clock.monotonicMs();
      // That it lets the device in is no end of its silence.
      if (!this.#isSilent) {
        if (this.#told !== '') this.#log.info(`the broker at ${hostOf(broker)} is there again`);
        else this.#log.info(`publishing to ${hostOf(broker)} as ${device}`);
        this.#told = '';
      }
      this.#send(client, presence, 'here', true).catch(() => {});
      client.subscribe(beatTopic(site), { qos: 0 }, () => {});
      this.onUp();
    });
    client.on('message', (_topic, payload, { retain }) => {
      // What is retained may be of any age.
      const atMs = retain ? Number.NaN : beatMs(payload.toString());
      if (Number.isFinite(atMs)) this.onBeat(atMs);
    });
    client.on('close', () => {
      if (this.#client !== client) return;
      this.#client = null;
      client.end(true);
      // What is under way fails now, not when there is a connection again.
      for (const lost of this.#lost) lost();
      this.#unanswered = 0;
      this.#impatience?.cancel();
      this.#impatience = null;
      if (this.#isClosed) return;
      if (connectedMs !== null) {
        const isLasting = this.#clock.monotonicMs() - connectedMs >= LASTING_MS;
        this.#shortOnes = isLasting ? 0 : this.#shortOnes + 1;
        if (isLasting) this.#retryMs = FIRST_RETRY_MS;
      }
      // It was left, which is told.
      if (this.#isSilent && trouble === '') trouble = this.#told;
      this.#tell(
        this.#shortOnes >= MANY_SHORT_ONES
          ? `the broker at ${hostOf(broker)} lets ${device} in and drops it again and again: look whether another probe has the same "device"; each wants a name of its own`
          : trouble || `the link to ${hostOf(broker)} is gone: readings are kept until it is back`,
      );
      this.#retry = this.#clock.after(this.#retryMs, () => this.open());
      this.#retryMs = Math.min(LONGEST_RETRY_MS, this.#retryMs * 2);
    });
  }

  /** Resolves when the broker has acknowledged it. Rejects where the connection is not there, or goes. */
  async publish(topic: string, payload: string): Promise<void> {
    const client = this.#client;
    if (!client?.connected) throw new Error('no connection');
    await this.#send(client, topic, payload, false);
  }

  async #send(client: MqttClient, topic: string, payload: string, retain: boolean): Promise<void> {
    let lost: () => void = () => {};
    this.#unanswered++;
    if (this.#impatience === null) this.#beImpatient(client);
    const acknowledged = new Promise<void>((resolve, reject) => {
      lost = () => reject(new Error('the connection is gone'));
      this.#lost.add(lost);
      client.publish(topic, payload, { qos: 1, retain }, (error) => {
        if (error) return reject(error);
        if (this.#client === client) this.#hearAcknowledgement(client);
        resolve();
      });
    });
    await acknowledged.finally(() => this.#lost.delete(lost));
  }

  #beImpatient(client: MqttClient): void {
    this.#impatience = this.#clock.after(ACKNOWLEDGED_WITHIN_MS, () => {
      this.#isSilent = true;
      this.#tell(
        `the broker at ${hostOf(this.#address.broker)} lets ${this.#address.device} in, but acknowledges nothing that it publishes: ${SILENT_BROKER}; readings are kept, and it is tried anew every ${ACKNOWLEDGED_WITHIN_MS / 1000} s`,
      );
      client.end(true);
    });
  }

  /** Each one shows that the broker lives: only then it is waited for again. */
  #hearAcknowledgement(client: MqttClient): void {
    this.#unanswered--;
    this.#impatience?.cancel();
    this.#impatience = null;
    if (this.#unanswered > 0) this.#beImpatient(client);
    if (!this.#isSilent) return;
    this.#isSilent = false;
    this.#told = '';
    this.#log.info(`the broker at ${hostOf(this.#address.broker)} acknowledges again`);
  }

  /** Says goodbye where somebody listens. */
  async close(): Promise<void> {
    this.#isClosed = true;
    this.#retry?.cancel();
    this.#impatience?.cancel();
    const client = this.#client;
    if (client === null) return;
    const { site, device } = this.#address;
    if (client.connected) {
      const said = client.publishAsync(presenceTopic(site, device), 'gone', { qos: 1, retain: true });
      await Promise.race([said.catch(() => {}), late()]);
      // A polite end waits for every acknowledgement; without one within the time the last will says the same.
      await Promise.race([client.endAsync(), late()]);
    }
    client.end(true);
  }

  #tell(trouble: string): void {
    if (trouble === this.#told) return;
    this.#told = trouble;
    this.#log.warn(trouble);
  }
}

const late = (): Promise<void> => new Promise((resolve) => setTimeout(resolve, GOODBYE_MS).unref());

const SILENT_BROKER =
  'look at its log, its disk, and what it lets this device publish (a daemon whose disk is full takes nothing)';

/**
 * Whether the broker lets the device in and acknowledges what it publishes: null, or why not in words. Disturbs no probe
 * that is running: what it says again is the presence that the broker has, and `gone` where it has none.
 */
export async function tryBroker(address: Address): Promise<string | null> {
  const client = connect(address.broker, {
    ...optionsOf(address),
    clientId: `${address.site}-${address.device}-check`,
  });
  const answer = await new Promise<string | null>((resolve) => {
    client.once('connect', () => resolve(null));
    client.once('error', (error) => resolve(inWords(error, address)));
    client.once('close', () => resolve(inWords(new Error('closed'), address)));
  });
  const silence = answer ?? ((await acknowledgesPresence(client, address)) ? null : silentInWords(address));
  await client.endAsync(true);
  return silence;
}

async function acknowledgesPresence(client: MqttClient, { site, device }: Address): Promise<boolean> {
  const topic = presenceTopic(site, device);
  const retained = new Promise<string>((resolve) => {
    client.on('message', (_topic, payload) => resolve(payload.toString()));
    client.subscribe(topic, { qos: 1 }, () => setTimeout(resolve, RETAINED_WITHIN_MS, 'gone'));
    setTimeout(resolve, GOODBYE_MS, 'gone');
  });
  const said = client.publishAsync(topic, await retained, { qos: 1, retain: true }).then(
    () => true,
    () => false,
  );
  const tooLate = new Promise<false>((resolve) => setTimeout(resolve, ANSWER_WITHIN_MS, false).unref());
  return Promise.race([said, tooLate]);
}

const silentInWords = ({ broker, device }: Address): string =>
  `the broker at ${hostOf(broker)} lets ${device} in, but acknowledges nothing that it publishes within ${ANSWER_WITHIN_MS / 1000} s: ${SILENT_BROKER}`;

function beatMs(text: string): number {
  try {
    const { at } = JSON.parse(text) as { at?: unknown };
    return typeof at === 'string' ? Date.parse(at) : Number.NaN;
  } catch {
    return Number.NaN;
  }
}

/** Host and port, without what a URL may hold besides. */
function hostOf(broker: string): string {
  const { host } = new URL(broker);
  return host;
}

/** What went wrong with a connection, and what to do about it. */
const inWords = (error: Error, { broker, device, site }: Address): string =>
  brokerTrouble(error, hostOf(broker), {
    setting: '"broker"',
    what: 'the daemon',
    listens: ' (serve --mqtt 0.0.0.0:1883)',
    notLetIn: `does not let ${device} in: its name or its password is another; "esterwatch device add ${device} --site ${site}" on the daemon's machine gives it a new password`,
  });
