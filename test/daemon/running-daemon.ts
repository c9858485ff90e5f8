import { mkdtempSync, rmSync } from 'node:fs';
import { type IncomingHttpHeaders, request } from 'node:http';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { connectAsync } from 'mqtt';
import pino from 'pino';
import { beforeAll, onTestFinished } from 'vitest';
import { WebSocket } from 'ws';
import { type Clock, machineClock } from '../../daemon/clock.ts';
import { type DaemonOptions, startDaemon } from '../../daemon/daemon.ts';
import { type LiveMessage, liveMessageSchema } from '../../shared/wire/api.ts';
import { readingTopic } from '../../shared/wire/topics.ts';
import { openStoreHere } from '../support/store-here.ts';

export type AnyJson = ReturnType<typeof JSON.parse>;

export interface Answer {
  status: number;
  headers: IncomingHttpHeaders;
  text: string;
  /** The body where it is JSON of either kind. */
  json: AnyJson;
}

export interface RunningDaemon {
  httpPort: number;
  mqttPort: number;
  clock: Clock;
  /** What was logged as an error. */
  errors: string[];
  get(path: string, headers?: Record<string, string>): Promise<Answer>;
  send(method: string, path: string, body: unknown, headers?: Record<string, string>): Promise<Answer>;
  /** Publishes payloads with QoS 1, one after the other; resolves when all are acknowledged. */
  publish(topic: string, ...payloads: string[]): Promise<void>;
  /** Publishes plain numbers on a channel, `SITE/VESSEL/CHANNEL`. */
  read(channel: string, ...values: number[]): Promise<void>;
  /** A page that looks on. */
  look(): Promise<Viewer>;
  /** The daemon's own clean stop; who looks on is still there. */
  stop(): Promise<void>;
}

export interface Viewer {
  messages: LiveMessage[];
  socket: WebSocket;
  /** The first message, past or to come, of which the check is true. */
  until<T extends LiveMessage>(check: (message: LiveMessage) => message is T): Promise<T>;
}

type Options = Partial<
  Pick<
    DaemonOptions,
    | 'clock'
    | 'data'
    | 'openStore'
    | 'publicName'
    | 'publicUrl'
    | 'stillWatching'
    | 'backup'
    | 'retention'
    | 'forward'
  >
>;

/** A whole daemon in this process, on free loopback ports and a store of its own. */
export async function runDaemon(
  options: Options = {},
  atEnd: (cleanUp: () => Promise<void>) => void = onTestFinished,
): Promise<RunningDaemon> {
  const data = options.data ?? mkdtempSync(join(tmpdir(), 'esterwatch-daemon-'));
  const clock = options.clock ?? machineClock();
  const errors: string[] = [];
  const free = { host: '127.0.0.1', port: 0 };
  const daemon = await startDaemon({
    http: free,
    mqtt: free,
    topics: [],
    openStore: openStoreHere,
    ...options,
    data,
    clock,
    log: pino({ level: 'error' }, { write: (line: string) => void errors.push(line) }),
  });
  const mqttPort = daemon.mqttPort!;
  const { httpPort } = daemon;
  const device = await connectAsync(`mqtt://127.0.0.1:${mqttPort}`);
  const viewers: WebSocket[] = [];
  let stopping: Promise<void> | undefined;
  const stop = () => {
    stopping ??= daemon.close();
    return stopping;
  };
  atEnd(async () => {
    for (const viewer of viewers) viewer.terminate();
    await device.endAsync(true);
    await stop();
    if (options.data === undefined) rmSync(data, { recursive: true, force: true });
  });

  const publish = async (topic: string, ...payloads: string[]) => {
    for (const payload of payloads) await device.publishAsync(topic, payload, { qos: 1 });
  };
  return {
    httpPort,
    mqttPort,
    clock,
    errors,
    stop,
    publish,
    get: (path, headers) => ask(httpPort, 'GET', path, headers),
    send: (method, path, body, headers) =>
      ask(
        httpPort,
        method,
        path,
        { ...(body !== undefined && { 'content-type': 'application/json' }), ...headers },
        typeof body === 'string' ? body : JSON.stringify(body),
      ),
    read: (channel, ...values) => {
      const [site, vessel, name] = channel.split('/') as [string, string, string];
      return publish(readingTopic(site, vessel, name), ...values.map(String));
    },
    look: async () => {
      const viewer = openViewer(httpPort);
      viewers.push(viewer.socket);
      await viewer.until((message) => message.type === 'beat');
      return viewer;
    },
  };
}

/** One daemon for all tests of a file or a `describe`, where none of them changes anything. */
export function sharedDaemon(
  prepare: (daemon: RunningDaemon) => Promise<unknown>,
  options?: Options,
): () => RunningDaemon {
  let daemon: RunningDaemon;
  beforeAll(async () => {
    const cleanUps: (() => Promise<void>)[] = [];
    daemon = await runDaemon(options, (cleanUp) => cleanUps.push(cleanUp));
    await prepare(daemon);
    return async () => {
      for (const cleanUp of cleanUps) await cleanUp();
    };
  });
  return () => daemon;
}

/** One request, with exactly the headers given and the Host that belongs to the port. */
export function ask(
  port: number,
  method: string,
  path: string,
  headers: Record<string, string> = {},
  body?: string | Buffer,
): Promise<Answer> {
  return new Promise((resolve, reject) => {
    const framed =
      body === undefined || 'transfer-encoding' in headers
        ? headers
        : { ...headers, 'content-length': String(Buffer.byteLength(body)) };
    const sent = request(
      { host: '127.0.0.1', port, method, path, headers: framed, agent: false },
      (answer) => {
        const chunks: Buffer[] = [];
        answer.on('data', (chunk) => chunks.push(chunk));
        answer.on('error', reject);
        answer.on('end', () => {
          const text = Buffer.concat(chunks).toString('utf8');
          const isJson = /^application\/(problem\+)?json/.test(answer.headers['content-type'] ?? '');
          resolve({
            status: answer.statusCode!,
            headers: answer.headers,
            text,
            json: isJson ? JSON.parse(text) : undefined,
          });
        });
      },
    );
    sent.on('error', reject);
    sent.end(body);
  });
}

/** Every message is held against the schema as it comes: one that does not fit fails who waits. */
function openViewer(port: number): Viewer {
  const socket = new WebSocket(`ws://127.0.0.1:${port}/api/v1/live`);
  const messages: LiveMessage[] = [];
  let look: () => void = () => {};
  let failed: unknown;
  socket.on('error', (error) => {
    failed = error;
    look();
  });
  socket.on('message', (data) => {
    try {
      messages.push(liveMessageSchema.parse(JSON.parse(String(data))));
    } catch (error) {
      failed = error;
    }
    look();
  });
  return {
    socket,
    messages,
    until: <T extends LiveMessage>(check: (message: LiveMessage) => message is T) =>
      new Promise<T>((resolve, reject) => {
        look = () => {
          const found = messages.find(check);
          if (failed !== undefined) reject(failed);
          else if (found !== undefined) resolve(found);
        };
        look();
      }),
  };
}
