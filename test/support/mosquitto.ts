import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { chmod, mkdtemp, rm, writeFile } from 'node:fs/promises';
import { type AddressInfo, connect, createServer, type Server, type Socket } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as wait } from 'node:timers/promises';
import { endWithTests } from './children.ts';

/** Where Debian's package puts it, which is not on every user's path. */
const PROGRAM = '/usr/sbin/mosquitto';

export interface Mosquitto {
  port: number;
  pid: number;
  stop(): Promise<void>;
}

/**
 * A real Mosquitto on a loopback port, a free one if none is given. What it holds is kept in a folder through a clean
 * stop (SIGTERM), or nowhere.
 */
export async function startMosquitto(at?: number, keptIn?: string): Promise<Mosquitto> {
  const port = at ?? (await freePort());
  const folder = await mkdtemp(join(tmpdir(), 'mosquitto-'));
  const file = join(folder, 'mosquitto.conf');
  // Started by root it runs as a user of its own.
  if (keptIn !== undefined) await chmod(keptIn, 0o777);
  const persistence =
    keptIn === undefined ? 'persistence false' : `persistence true\npersistence_location ${keptIn}/`;
  // Its own limit of queued messages would drop what a fast run sends to a slower subscriber.
  await writeFile(
    file,
    `listener ${port} 127.0.0.1\nallow_anonymous true\n${persistence}\nmax_queued_messages 0\n`,
  );
  const broker = endWithTests(spawn(PROGRAM, ['-c', file], { stdio: 'ignore' }));
  await once(broker, 'spawn');
  await listening(port, broker);
  return {
    port,
    pid: broker.pid!,
    stop: async () => {
      const ended = once(broker, 'exit');
      broker.kill();
      await ended;
      await rm(folder, { recursive: true });
    },
  };
}

export async function freePort(): Promise<number> {
  const server = createServer().listen(0, '127.0.0.1');
  await once(server, 'listening');
  const { port } = server.address() as AddressInfo;
  server.close();
  await once(server, 'close');
  return port;
}

async function listening(port: number, broker: ChildProcess): Promise<void> {
  for (let tries = 0; tries < 100; tries++) {
    if (broker.exitCode !== null) throw new Error(`mosquitto ended with ${broker.exitCode}`);
    const socket = connect(port, '127.0.0.1');
    const open = await once(socket, 'connect').then(
      () => true,
      () => false,
    );
    socket.destroy();
    if (open) return;
    await wait(50);
  }
  throw new Error('mosquitto does not listen');
}

export interface Relay {
  port: number;
  /** Cuts every connection that runs through it, as a network does that goes away for a moment. */
  cut(): number;
  /** Lets nothing through and answers nobody, as a network does that is out of reach; `heard` again, all is cut once. */
  unheard(): void;
  heard(): void;
  stop(): Promise<void>;
}

/** Passes connections on to a port, until they are cut. */
export async function startRelay(toPort: number): Promise<Relay> {
  const open = new Set<Socket>();
  let isHeard = true;
  const server: Server = createServer((near) => {
    if (!isHeard) {
      open.add(near);
      near.on('error', () => {});
      near.on('close', () => open.delete(near));
      return;
    }
    const far = connect(toPort, '127.0.0.1');
    for (const socket of [near, far]) {
      open.add(socket);
      socket.on('error', () => {});
      socket.on('close', () => {
        open.delete(socket);
        near.destroy();
        far.destroy();
      });
    }
    near.pipe(far).pipe(near);
  }).listen(0, '127.0.0.1');
  await once(server, 'listening');
  const cut = (): number => {
    const count = open.size / 2;
    for (const socket of open) socket.destroy();
    return count;
  };
  return {
    port: (server.address() as AddressInfo).port,
    cut,
    unheard() {
      isHeard = false;
      for (const socket of open) socket.unpipe().pause();
    },
    heard() {
      isHeard = true;
      cut();
    },
    stop: async () => {
      server.close();
      cut();
      await once(server, 'close');
    },
  };
}
