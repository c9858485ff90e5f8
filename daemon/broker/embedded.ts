import { randomUUID } from 'node:crypto';
import { createServer, type Server, type Socket } from 'node:net';
import { createServer as createTlsServer } from 'node:tls';
import { Aedes, type AuthenticateError, type AuthorizePublishHandler, type Client } from 'aedes';
import type { Access, KnownDevice } from '../access/access.ts';
import { maySubscribe } from '../access/device-rights.ts';
import type { Address } from '../config.ts';
import type { Certificate } from '../tls/certificate.ts';
import type { Broker, TakeMessage } from './broker.ts';
import { type KnownAs, knownAs, type Sender } from './sender.ts';

/** Who may connect. */
export type DeviceAccess = Pick<Access, 'areDevicesWanted' | 'device' | 'isDeviceSecret' | 'isStillIn'>;

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

/**
 * A packet is held in memory until all of it has come: without this a connection could fill it. Far above what a payload
 * may have, so that one that is too large is acknowledged and listed, and not sent for ever.
 */
const MOST_PACKET_BYTES = 4 * 1024 * 1024;
/** The same of a CONNECT, and of what comes in its place. */
const MOST_CONNECT_BYTES = 8 * 1024;
/** A retained message is kept in memory, one a topic; a reading with its time and number has some 60 bytes. */
const MOST_RETAINED_BYTES = 1024;
/** Of one connection: each message is compared with all of them. */
const MOST_SUBSCRIPTIONS = 200;
/** Each connection costs memory and a descriptor; without this, devices that reconnect wildly shut the page out. */
const MOST_CONNECTIONS = 4000;
/** Of one device: one that forgets to close its connections would use up those of all others. */
const MOST_CONNECTIONS_OF_DEVICE = 5;
/** Who does not say who it is within this is cut off, ms. */
const CONNECT_WITHIN_MS = 10_000;
/** Messages a second of one connection that sends on and on, and how many at one go: beyond, it waits for its turn. */
const MOST_A_SECOND = 2000;
const MOST_AT_ONCE = 20_000;

/** A part of aedes that its type file leaves out. */
interface WithPersistence {
  persistence: IncomingMessages;
}

/** What aedes keeps of QoS 2 messages until their PUBREL. */
interface IncomingMessages {
  incomingStorePacket(client: Client, packet: { messageId: number }): Promise<void>;
  incomingGetPacket(client: Client, packet: { messageId: number }): Promise<object>;
  incomingDelPacket(client: Client, packet: { messageId: number }): Promise<void>;
  cleanIncoming(client: Client): Promise<void>;
}

/**
 * So much is taken from a connection at one go; the rest waits in its socket, and with that its sender. Without this each
 * of many that send without waiting has hundreds of readings in memory, and an alarm comes after all of them.
 */
const MOST_READ_BYTES = 4096;

/** While the store refuses, clients that wait for it are looked after so often, ms. */
const READ_ON_MS = 500;

/** Parts of aedes that its type file leaves out. */
interface WithReading {
  /** Reads what the client has sent next; called at the end of each packet. */
  _nextBatch(): void;
  /** Packets that were read and are not done with. */
  _parsingBatch: number;
  /** Puts packets together; of one that has come in part, `length` says how long it is. */
  _parser: {
    parse(chunk: Buffer): number;
    packet: { length: number };
    on(event: 'packet', call: (packet: { cmd: string; messageId?: number }) => void): void;
  };
}

/**
 * The broker in the daemon itself: MQTT 3.1.1. PUBACK (and PUBREC) only after the commit. While the store
 * refuses, what clients send without waiting for it is read on, so that it is judged.
 */
export async function startEmbeddedBroker(
  at: Address,
  take: TakeMessage,
  access: DeviceAccess,
  isRefusing: () => boolean,
  secure: { at: Address; certificate: Certificate } | null = null,
  /** Told of each device that is not let in. */
  onNotLetIn: (sender: Sender) => void = () => {},
): Promise<Broker & { port: number; securePort: number | null }> {
  const connections = new Map<Client, Connection>();
  /** The same with those that have gone: their last will is still to come. */
  const known = new WeakMap<Client, Connection>();
  /** The client id as each gave it. */
  const saidIds = new WeakMap<Client, string>();
  const senderOf = (client: Client, user: string | null | undefined): Sender => ({
    user,
    clientId: saidIds.get(client),
    address: (client.conn as Socket).remoteAddress,
  });
  const reading = setInterval(() => {
    dropThoseOut(connections, access);
    if (isRefusing()) for (const [client, connection] of connections) readOn(client, connection);
  }, READ_ON_MS);

  // Every message comes this way: what it leaves in memory until its commit is kept small.
  const authorizePublish: AuthorizePublishHandler = (client, packet, done) => {
    // Without a client it is the will of one of a time before.
    const connection = (client !== null && known.get(client)) || newConnection(NOBODY);
    const waitMs = pace(connection);
    connection.unanswered++;
    const takeIt = (): Promise<boolean> => {
      const { topic, payload, retain } = packet;
      const buffer = Buffer.isBuffer(payload) ? payload : Buffer.from(payload);
      return take({
        topic,
        payload: buffer,
        retained: retain,
        from: connection.device,
        sender: connection.sender,
      });
    };
    const end = (error: Error | null): void => {
      answered(connection);
      done(error);
    };
    const { messageId } = packet as { messageId?: number };
    const taking =
      packet.qos === 2 && messageId !== undefined ? takeOnce(connection, messageId, takeIt) : takeIt();
    taking.then((taken) => {
      if (!taken) {
        packet.topic = NOWHERE;
        packet.retain = false;
        packet.payload = Buffer.alloc(0);
      }
      if (packet.payload.length > MOST_RETAINED_BYTES) packet.retain = false;
      if (waitMs === 0) end(null);
      else setTimeout(end, waitMs, null);
    }, end);
  };

  const aedes = await Aedes.createBroker({
    authorizePublish,
    authenticate: (client, name, password, done) => {
      try {
        const user = name?.toString();
        const device = access.areDevicesWanted ? access.device(user, password?.toString()) : null;
        if (device === null && access.areDevicesWanted) {
          // Name and password may have changed places.
          onNotLetIn(senderOf(client, access.isDeviceSecret(user?.trim()) ? null : user));
          return done(refusal(NOT_AUTHORIZED), false);
        }
        if (device !== null && connectionsOf(connections, device) >= MOST_CONNECTIONS_OF_DEVICE)
          return done(refusal(UNAVAILABLE), false);
        const connection = newConnection(device, knownAs(senderOf(client, user)));
        connections.set(client, connection);
        known.set(client, connection);
        done(null, true);
      } catch {
        // A list that cannot be read lets nobody in.
        done(refusal(UNAVAILABLE), false);
      }
    },
    authorizeSubscribe: (client, subscription, done) => {
      if (client === null) return done(null, subscription);
      const { device, filters } = known.get(client) ?? newConnection(NOBODY);
      if (filters.size >= MOST_SUBSCRIPTIONS && !filters.has(subscription.topic)) return done(null, null);
      filters.add(subscription.topic);
      const may = device === null || maySubscribe(device, subscription.topic);
      done(null, may ? subscription : null);
    },
    connectTimeout: CONNECT_WITHIN_MS,
    // What a client subscribed to is not kept while it is away: nothing would bound it. Alarms are retained.
    preConnect: (client, packet, done) => {
      packet.clean = true;
      // Whoever takes the id of another's connection ends it: no device can take that of another.
      // An empty id is another for each connection (MQTT 3.1.1, 3.1.3.1).
      saidIds.set(client, packet.clientId);
      if (packet.username !== undefined)
        packet.clientId = `${packet.username}/${packet.clientId || randomUUID()}`;
      done(null, true);
    },
    drainTimeout: STALLED_MS,
    authorizeForward: (_client, packet) => (packet.topic === NOWHERE ? null : packet),
    maxInflightInbound: MOST_INFLIGHT_QOS2,
    queueLimit: MOST_BEFORE_CONNACK,
    maxClientsIdLength: 200,
  });
  keepNumbersOnly((aedes as unknown as WithPersistence).persistence);

  const sockets = new Set<Socket>();
  const handle = (socket: Socket): void => {
    sockets.add(socket);
    socket.setNoDelay(true);
    socket.once('close', () => sockets.delete(socket));
    limitReading(socket);
    const client = aedes.handle(socket);
    limitPackets(client);
    (client as unknown as WithReading)._parser.on('packet', ({ cmd, messageId }) => {
      if (cmd === 'pubrel') known.get(client)?.unreleased.delete(messageId!);
    });
  };
  aedes.on('clientDisconnect', (client) => connections.delete(client));
  aedes.on('unsubscribe', (topics, client) => {
    const connection = client === null ? undefined : known.get(client);
    for (const topic of topics) connection?.filters.delete(topic);
  });
  const server = createServer(handle);
  const servers: Server[] = [server];
  const port = await listen(server, at);
  let securePort: number | null = null;
  if (secure !== null) {
    const tls = createTlsServer({ ...secure.certificate.pair, handshakeTimeout: CONNECT_WITHIN_MS }, handle);
    // A handshake that fails is the device's trouble; its connection is closed.
    tls.on('tlsClientError', () => {});
    secure.certificate.onChange((pair) => tls.setSecureContext(pair));
    servers.push(tls);
    securePort = await listen(tls, secure.at);
  }

  return {
    kind: 'embedded',
    connected: true,
    listens: { host: at.host, port },
    port,
    securePort,
    publish: (topic, payload, retain) =>
      new Promise((resolve, reject) => {
        const packet = { cmd: 'publish', topic, payload, retain, qos: 1, dup: false } as const;
        aedes.publish(packet, (error) => (error ? reject(error) : resolve()));
      }),
    // What it retains ends with it.
    leaveWill: () => {},
    close: async () => {
      clearInterval(reading);
      const closed = servers.map((one) => new Promise<void>((resolve) => one.close(() => resolve())));
      await new Promise<void>((resolve) => aedes.close(() => resolve()));
      for (const socket of sockets) socket.destroy();
      await Promise.all(closed);
    },
  };
}

/** What a client that is not let in is told (MQTT 3.1.1, 3.2.2.3). */
const UNAVAILABLE = 3;
const NOT_AUTHORIZED = 5;
const refusal = (returnCode: number): AuthenticateError =>
  Object.assign(new Error('not let in'), { returnCode }) as AuthenticateError;

async function listen(server: Server, { host, port }: Address): Promise<number> {
  server.maxConnections = MOST_CONNECTIONS;
  await new Promise<void>((resolve, reject) => {
    server.once('error', reject);
    server.listen({ host, port }, resolve);
  });
  const address = server.address();
  return typeof address === 'object' && address !== null ? address.port : port;
}

/** `read` gives no more than some packets at one go. */
function limitReading(socket: Socket): void {
  const { read } = socket;
  socket.read = (size) =>
    read.call(socket, size ?? (Math.min(socket.readableLength, MOST_READ_BYTES) || undefined));
}

/** Cuts off a client at the head of a packet that is too large. */
function limitPackets(client: Client): void {
  const reading = client as unknown as WithReading;
  const { conn } = client;
  const parser = reading._parser;
  const { parse } = parser;
  const parsed = (chunk: Buffer): number => {
    const left = parse.call(parser, chunk);
    // A client need not wait for the answer to its CONNECT (MQTT 3.1.1, 3.1.4), and aedes reads on meanwhile.
    const saidWho = client.connecting || client.connected;
    const most = saidWho ? MOST_PACKET_BYTES : MOST_CONNECT_BYTES;
    if (parser.packet.length > most) conn.destroy();
    return left;
  };
  parser.parse = (chunk) => {
    let left = parsed(chunk);
    // aedes reads on at the end of a packet: one that was not whole yet has none.
    while (reading._parsingBatch === 0 && !conn.destroyed) {
      const more = conn.read() as Buffer | null;
      if (more === null) break;
      left = parsed(more);
    }
    return left;
  };
}

/** One that never said who it is may nothing: no site and no device has such a name. */
const NOBODY: KnownDevice = { name: '', site: '', sha256: '' };

interface Connection {
  /** Who it is; null: it did not have to say. */
  device: KnownDevice | null;
  /** What people know it as. */
  sender: KnownAs;
  filters: Set<string>;
  /** When it would have sent what it has at the steady pace, ms. */
  pacedMs: number;
  /** Messages of it that are not stored yet: it is read no further until all of what had been read is done with. */
  unanswered: number;
  /** For how many of these it was read on all the same. */
  readOnFor: number;
  /** QoS 2 messages whose PUBREL has not come, by their numbers: whether they were taken in. */
  unreleased: Map<number, Promise<boolean>>;
}

const GONE: KnownAs = { said: 'a device that is gone', place: 'a device that is gone' };

const newConnection = (device: KnownDevice | null, sender = GONE): Connection => ({
  device,
  sender,
  filters: new Set(),
  pacedMs: 0,
  unanswered: 0,
  readOnFor: 0,
  unreleased: new Map(),
});

/** A QoS 2 message sent again before its PUBREL is the same (MQTT 3.1.1, 4.3.3): taken in the first time. */
function takeOnce(
  { unreleased }: Connection,
  messageId: number,
  take: () => Promise<boolean>,
): Promise<boolean> {
  const before = unreleased.get(messageId);
  if (before !== undefined) return before;
  const taking = take();
  unreleased.set(messageId, taking);
  taking.catch(() => unreleased.delete(messageId));
  return taking;
}

/**
 * Has aedes keep the numbers of QoS 2 messages by connection. By itself it keeps them by client id, so that those of a
 * connection that has gone count for the next of its name, and with their payloads, which fill the memory.
 */
function keepNumbersOnly(messages: IncomingMessages): void {
  const numbers = new WeakMap<Client, Set<number>>();
  messages.incomingStorePacket = async (client, { messageId }) => {
    numbers.set(client, (numbers.get(client) ?? new Set()).add(messageId));
  };
  messages.incomingGetPacket = async (client, packet) => {
    if (numbers.get(client)?.has(packet.messageId)) return packet;
    throw new Error('no such message');
  };
  messages.incomingDelPacket = async (client, { messageId }) => {
    numbers.get(client)?.delete(messageId);
  };
  messages.cleanIncoming = async (client) => {
    numbers.delete(client);
  };
}

function answered(connection: Connection): void {
  connection.unanswered--;
  if (connection.readOnFor > 0) connection.readOnFor--;
}

function readOn(client: Client, connection: Connection): void {
  for (; connection.readOnFor < connection.unanswered; connection.readOnFor++)
    (client as unknown as WithReading)._nextBatch();
}

/** How long a message just come has to wait for its turn, ms. */
function pace(connection: Connection): number {
  const now = performance.now();
  const earliest = now - (MOST_AT_ONCE * 1000) / MOST_A_SECOND;
  connection.pacedMs = Math.max(connection.pacedMs, earliest) + 1000 / MOST_A_SECOND;
  return Math.max(0, connection.pacedMs - now);
}

const connectionsOf = (connections: ReadonlyMap<Client, Connection>, { name }: KnownDevice): number =>
  [...connections].filter(([client, { device }]) => device?.name === name && !client.closed).length;

/** Cuts off devices that were removed, or have another secret or site now, and those that never said who they are. */
function dropThoseOut(connections: Map<Client, Connection>, access: DeviceAccess): void {
  for (const [client, { device }] of connections) {
    if (client.closed) connections.delete(client);
    else if (!access.isStillIn(device)) client.close();
  }
}
