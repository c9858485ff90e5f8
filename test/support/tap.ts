import { once } from 'node:events';
import { type AddressInfo, connect, createServer, type Socket } from 'node:net';
import { LOOPBACK } from './serving.ts';

export interface Tap {
  port: number;
  /** Everything that clients have sent through it, one buffer a connection. */
  sent(): readonly Buffer[];
  /** Cuts the connections that run through it. */
  cut(): void;
  stop(): Promise<void>;
}

/** Passes connections on to a port and keeps a copy of what the near end sends. */
export async function startTap(toPort: number): Promise<Tap> {
  const open = new Set<Socket>();
  const sent: Buffer[] = [];
  const server = createServer((near) => {
    const index = sent.push(Buffer.alloc(0)) - 1;
    const far = connect(toPort, LOOPBACK);
    for (const socket of [near, far]) {
      open.add(socket);
      socket.on('error', () => {});
      socket.on('close', () => {
        open.delete(socket);
        near.destroy();
        far.destroy();
      });
    }
    near.on('data', (chunk) => {
      sent[index] = Buffer.concat([sent[index]!, chunk]);
    });
    near.pipe(far).pipe(near);
  }).listen(0, LOOPBACK);
  await once(server, 'listening');
  const cut = () => {
    for (const socket of open) socket.destroy();
  };
  return {
    port: (server.address() as AddressInfo).port,
    sent: () => sent,
    cut,
    stop: async () => {
      server.close();
      cut();
      await once(server, 'close');
    },
  };
}

/** Control packets by their type's number (MQTT 3.1.1, 2.2.1). */
const TYPES = [
  'reserved',
  'CONNECT',
  'CONNACK',
  'PUBLISH',
  'PUBACK',
  'PUBREC',
  'PUBREL',
  'PUBCOMP',
  'SUBSCRIBE',
  'SUBACK',
  'UNSUBSCRIBE',
  'UNSUBACK',
  'PINGREQ',
  'PINGRESP',
  'DISCONNECT',
] as const;

/** The types of the whole packets in what was sent, by connection and in order. */
export function packetsOf(connections: readonly Buffer[]): (typeof TYPES)[number][] {
  return connections.flatMap((bytes) => {
    const types: (typeof TYPES)[number][] = [];
    for (let at = 0; at < bytes.length; ) {
      const type = TYPES[bytes[at++]! >> 4]!;
      // Remaining length: seven bits a byte, the least first (2.2.3).
      let length = 0;
      for (let shift = 0; ; shift += 7) {
        const byte = bytes[at++] ?? 0;
        length += (byte & 0x7f) << shift;
        if (byte < 0x80) break;
      }
      at += length;
      if (at <= bytes.length) types.push(type);
    }
    return types;
  });
}
