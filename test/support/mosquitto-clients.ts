import { type ChildProcess, execFile, spawn } from 'node:child_process';
import { once } from 'node:events';
import { promisify } from 'node:util';
import { LOOPBACK } from './serving.ts';

const run = promisify(execFile);
/** Longer than a loaded machine can take; a client that gets nothing ends then, s. */
const PATIENCE_S = '20';

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

  /** What is retained on a topic. Rejects where nothing is. */
  async retained(topic: string): Promise<string> {
    const args = [...this.#at, '-q', '1', '-t', topic, '-C', '1', '-W', PATIENCE_S, '--retained-only'];
    return (await run('mosquitto_sub', args)).stdout.trimEnd();
  }

  /** A client that leaves a last will; its end without a goodbye is SIGKILL. */
  async withLastWill(topic: string, payload: string): Promise<ChildProcess> {
    const will = ['--will-topic', topic, '--will-payload', payload, '--will-qos', '1', '--will-retain'];
    const client = spawn('mosquitto_sub', [...this.#at, '-d', '-t', 'nothing/comes', ...will], {
      stdio: ['ignore', 'pipe', 'ignore'],
    });
    // It prints each packet with -d: subscribed means that the broker has its will.
    client.stdout.setEncoding('utf8');
    let printed = '';
    while (!printed.includes('SUBACK')) printed += (await once(client.stdout, 'data'))[0];
    return client;
  }
}
