import { createServer, type Socket } from 'node:net';
import { Aedes, type AuthorizePublishHandler } from 'aedes';
import type { Address } from '../config.ts';
import type { Broker, TakeMessage } from './broker.ts';

/**
 * Where a refused message goes: nowhere. aedes can only refuse by closing the connection, which would
 * make a device send the same again for ever; so that it is acknowledged, it is published here, and
 * nobody can subscribe to it.
 */
const NOWHERE = '$refused';
/** QoS 2 messages of a client that wait for their PUBREL; beyond it is cut off, or memory would fill. */
const MOST_INFLIGHT_QOS2 = 1000;
/** A subscriber that takes nothing for so long is cut off: the others would wait for it, ms. */
const STALLED_MS = 5000;
/** Packets that a client may send before its CONNECT is answered. */
const MOST_BEFORE_CONNACK = 1000;

/** A part of aedes that its type file leaves out. */
interface WithPersistence {
  persistence: { incomingGetPacket(client: unknown, packet: unknown): Promise<unknown> };
}

/** While the store refuses, clients that wait for it are looked after so often, ms. */
const READ_ON_MS = 500;

/** Parts of aedes that its type file leaves out. */
interface WithReading {
  /** Reads what the client has sent next; called at the end of each packet. */
  _nextBatch(): void;
}

/**
 * The broker in the daemon itself: MQTT 3.1.1. PUBACK (and PUBREC) only after the commit. While the store
 * refuses, what clients send without waiting for it is read on, so that it is judged.
 */
export async function startEmbeddedBroker(
  at: Address,
  take: TakeMessage,
  isRefusing: () => boolean,
): Promise<Broker & { port: number }> {
  /** One a message that is not stored yet: its client reads no further until all of what it had read is done with. */
  const waiting = new Set<() => void>();
  const reading = setInterval(() => {
    if (isRefusing()) for (const readOn of [...waiting]) readOn();
  }, READ_ON_MS);

  const authorizePublish: AuthorizePublishHandler = (client, packet, done) => {
    const { topic, payload, retain, qos } = packet;
    const takeIt = async () => {
      if (qos === 2 && (await isKnown(client, packet))) return;
      const buffer = Buffer.isBuffer(payload) ? payload : Buffer.from(payload);
      const taken = await take({ topic, payload: buffer, retained: retain });
      if (taken) return;
      packet.topic = NOWHERE;
      packet.retain = false;
      packet.payload = Buffer.alloc(0);
    };
    const taking = takeIt();
    const readOn = () => {
      waiting.delete(readOn);
      (client as unknown as WithReading | null)?._nextBatch();
    };
    waiting.add(readOn);
    const end = (error: Error | null) => {
      waiting.delete(readOn);
      done(error);
    };
    taking.then(
      () => end(null),
      (error: Error) => end(error),
    );
  };

  const aedes = await Aedes.createBroker({
    authorizePublish,
    // What a client subscribed to is not kept while it is away: nothing would bound it. Alarms are retained.
    preConnect: (_client, packet, done) => {
      packet.clean = true;
      done(null, true);
    },
    drainTimeout: STALLED_MS,
    authorizeForward: (_client, packet) => (packet.topic === NOWHERE ? null : packet),
    maxInflightInbound: MOST_INFLIGHT_QOS2,
    queueLimit: MOST_BEFORE_CONNACK,
    maxClientsIdLength: 200,
  });
  /** A QoS 2 message sent again before its PUBREL (MQTT 3.1.1, 4.3.3): taken in the first time. */
  async function isKnown(
    client: Parameters<AuthorizePublishHandler>[0],
    packet: Parameters<AuthorizePublishHandler>[1],
  ): Promise<boolean> {
    try {
      return Boolean(
        await (aedes as unknown as WithPersistence).persistence.incomingGetPacket(client, packet),
      );
    } catch {
      return false;
    }
  }

  const sockets = new Set<Socket>();
  const server = createServer((socket) => {
    sockets.add(socket);
    socket.setNoDelay(true);
    socket.once('close', () => sockets.delete(socket));
    aedes.handle(socket);
  });
  await new Promise<void>((resolve, reject) => {
    server.once('error', reject);
    server.listen({ host: at.host, port: at.port }, resolve);
  });
  const address = server.address();
  const port = typeof address === 'object' && address !== null ? address.port : at.port;

  return {
    kind: 'embedded',
    connected: true,
    listens: { host: at.host, port },
    port,
    publish: (topic, payload, retain) =>
      new Promise((resolve, reject) => {
        const packet = { cmd: 'publish', topic, payload, retain, qos: 1, dup: false } as const;
        aedes.publish(packet, (error) => (error ? reject(error) : resolve()));
      }),
    // What it retains ends with it.
    leaveWill: () => {},
    close: async () => {
      clearInterval(reading);
      const closed = new Promise<void>((resolve) => server.close(() => resolve()));
      await new Promise<void>((resolve) => aedes.close(() => resolve()));
      for (const socket of sockets) socket.destroy();
      await closed;
    },
  };
}
