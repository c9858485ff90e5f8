/**
 * Pages that look on, a process of its own: opens so many live sockets, or MQTT subscriptions, and says when each heard
 * what was to be heard. Prints `looking`; reads lines of JSON (`Awaited`), says `awaiting` to each, and prints a line of
 * JSON when it has been heard (`Heard`). At the end of its input its processor time goes to it, s, and it ends.
 */
import { createInterface } from 'node:readline';
import { connectAsync } from 'mqtt';
import { WebSocket } from 'ws';

export interface LookOptions {
  count: number;
  /** Live sockets of a daemon's page, or */
  httpPort?: number;
  /** plain sockets of a WebSocket server, or */
  wsPort?: number;
  /** subscriptions at a broker to this topic filter. */
  mqttPort?: number;
  filter?: string;
}

/** What in a message is waited for. */
export interface Awaited {
  text: string;
}

export interface Heard {
  text: string;
  /** By the machine's monotonic clock, ms: when the first and the last of all had it. */
  firstMs: number;
  lastMs: number;
}

const nowMs = (): number => Number(process.hrtime.bigint()) / 1e6;
const options = JSON.parse(process.argv[2]!) as LookOptions;
const awaited = new Map<string, { count: number; firstMs: number }>();

function hear(message: string): void {
  for (const [text, heard] of awaited) {
    if (!message.includes(text)) continue;
    const now = nowMs();
    if (heard.count === 0) heard.firstMs = now;
    if (++heard.count < options.count) continue;
    awaited.delete(text);
    const said: Heard = { text, firstMs: heard.firstMs, lastMs: now };
    process.stdout.write(`${JSON.stringify(said)}\n`);
  }
}

async function look(): Promise<void> {
  const { httpPort, wsPort, mqttPort, filter } = options;
  if (mqttPort !== undefined) {
    const client = await connectAsync(`mqtt://127.0.0.1:${mqttPort}`);
    client.on('message', (_topic, payload) => hear(payload.toString()));
    await client.subscribeAsync(filter!);
    return;
  }
  const url = httpPort === undefined ? `ws://127.0.0.1:${wsPort}` : `ws://127.0.0.1:${httpPort}/api/v1/live`;
  const headers = httpPort === undefined ? {} : { origin: `http://127.0.0.1:${httpPort}` };
  const socket = new WebSocket(url, { headers, perMessageDeflate: false });
  socket.on('message', (data) => hear(String(data)));
  await new Promise((resolve, reject) => {
    socket.once('open', resolve);
    socket.once('error', reject);
  });
}

for (let i = 0; i < options.count; i++) await look();
process.stdout.write('looking\n');
for await (const line of createInterface({ input: process.stdin })) {
  const { text } = JSON.parse(line) as Awaited;
  awaited.set(text, { count: 0, firstMs: 0 });
  process.stdout.write('awaiting\n');
}
const { user, system } = process.cpuUsage();
process.stdout.write(`${(user + system) / 1e6}\n`, () => process.exit());
