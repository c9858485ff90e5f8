import { type ChildProcess, execFile, spawn } from 'node:child_process';
import { once } from 'node:events';
import { promisify } from 'node:util';
import { endWithTests } from './children.ts';
import { LOOPBACK } from './serving.ts';

const run = promisify(execFile);
/** What is retained comes at once; where nothing is, the subscriber ends after this, s. */
const PATIENCE_S = '3';

/** Mosquitto's own publisher and subscriber against the broker at a port, as a person uses them. */
export class MosquittoClients {
  readonly #at: string[];

  constructor(port: number) {
    this.#at = ['-h', LOOPBACK, '-p', String(port)];
  }

  /** Publishes, by default at QoS 1. Rejects where `mosquitto_pub` ends with an error. */
  async publish(topic: string, payload: string | null, ...more: string[]): Promise<void> {
    const message = payload === null ? ['-n'] : ['-m', payload];
    await run('mosquitto_pub', [...this.#at, '-q', '1', '-t', topic, ...message, ...more], {
      timeout: 30_000,
    });
  }

  async publishFile(topic: string, file: string): Promise<void> {
    await run('mosquitto_pub', [...this.#at, '-q', '1', '-t', topic, '-f', file], { timeout: 30_000 });
  }

  /** What is retained on a topic; empty where nothing is. */
  async retained(topic: string): Promise<string> {
    const args = [...this.#at, '-q', '1', '-t', topic, '-C', '1', '-W', PATIENCE_S, '--retained-only'];
    const nothing = (error: { stdout?: string }) => ({ stdout: error.stdout ?? '' });
    return (await run('mosquitto_sub', args).catch(nothing)).stdout.trimEnd();
  }

  /** A client that leaves a last will; its end without a goodbye is SIGKILL. `read` must be retained. */
  async withLastWill(will: { topic: string; payload: string }, read: string): Promise<ChildProcess> {
    const last = [
      '--will-topic',
      will.topic,
      '--will-payload',
      will.payload,
      '--will-qos',
      '1',
      '--will-retain',
    ];
    const client = endWithTests(
      spawn('mosquitto_sub', [...this.#at, '-t', read, ...last], {
        stdio: ['ignore', 'pipe', 'ignore'],
      }),
    );
    // Something came: the broker has its will.
    await once(client.stdout, 'data');
    return client;
  }
}
