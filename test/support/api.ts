import { setTimeout as wait } from 'node:timers/promises';
import { WebSocket } from 'ws';
import type { Alarm, LiveMessage, RawReadings, Vessel } from '../../shared/wire/api.ts';
import type { Batch } from '../../shared/wire/batch.ts';
import type { Stage } from '../../shared/wire/names.ts';
import { LOOPBACK } from './serving.ts';

export interface RefusedTopic {
  topic: string;
  code: string;
  because: string;
  count: number;
}

/** A person's or a script's side of the HTTP API. Every call throws where the answer is an error. */
export class Api {
  readonly #base: string;
  readonly #headers: Record<string, string>;

  /** Connections are kept for the next call, unless what the daemon holds is to be counted. */
  constructor(port: number, { keepsConnections = true } = {}) {
    this.#base = `http://${LOOPBACK}:${port}`;
    this.#headers = keepsConnections ? {} : { connection: 'close' };
  }

  async call(method: string, path: string, body?: object): Promise<Response> {
    const answer = await fetch(`${this.#base}${path}`, {
      method,
      headers: { ...this.#headers, ...(body && { 'content-type': 'application/json' }) },
      ...(body && { body: JSON.stringify(body) }),
    });
    if (!answer.ok) throw new Error(`${method} ${path}: ${answer.status} ${await answer.text()}`);
    return answer;
  }

  async get<T>(path: string): Promise<T> {
    return (await (await this.call('GET', path)).json()) as T;
  }

  /** Resolves once readings can come. */
  async ready(): Promise<void> {
    await eventually(
      async () => (await fetch(`${this.#base}/api/v1/health`)).status,
      (status) => status === 200,
    );
  }

  /** Every reading of a channel, those ahead of the daemon's clock too; none of a vessel that is not there yet. */
  async raw(vessel: string, channel = 'liquid-temperature'): Promise<RawReadings> {
    const path = `/api/v1/vessels/${vessel}/readings?channel=${channel}&from=0&to=${Date.UTC(2100, 0, 1)}&points=raw`;
    const answer = await fetch(`${this.#base}${path}`, { headers: this.#headers });
    if (answer.status === 404) return { t: [], value: [], seq: [] };
    return (await answer.json()) as RawReadings;
  }

  vessel(vessel: string): Promise<Vessel> {
    return this.get(`/api/v1/vessels/${vessel}`);
  }

  async refused(): Promise<RefusedTopic[]> {
    return (await this.get<{ refused: RefusedTopic[] }>('/api/v1/refused')).refused;
  }

  async alarms(query = ''): Promise<Alarm[]> {
    return (await this.get<{ alarms: Alarm[] }>(`/api/v1/alarms${query}`)).alarms;
  }

  stateSite(site: string, stated: { altitudeM: number } | { pressureHPa: number }): Promise<Response> {
    return this.call('PUT', `/api/v1/sites/${site}`, stated);
  }

  async openBatch(vessel: string, plan: object = {}): Promise<string> {
    const answer = await this.call('POST', '/api/v1/batches', { vessel, plan });
    return ((await answer.json()) as Batch).id;
  }

  /** Goes on even where something is missing, with a reason. */
  async enter(batch: string, stage: Stage, vessel?: string): Promise<void> {
    const body = { stage, ...(vessel !== undefined && { vessel }), anyway: { reason: 'a test run' } };
    await this.call('POST', `/api/v1/batches/${batch}/stage`, body);
  }
}

/** What a viewer is told over the live socket, from now on. */
export async function look(httpPort: number): Promise<{ heard: LiveMessage[]; close(): void }> {
  const socket = new WebSocket(`ws://${LOOPBACK}:${httpPort}/api/v1/live`);
  const heard: LiveMessage[] = [];
  socket.on('message', (data) => heard.push(JSON.parse(String(data)) as LiveMessage));
  await new Promise<void>((resolve, reject) => {
    socket.once('message', () => resolve());
    socket.once('error', reject);
  });
  return { heard, close: () => socket.terminate() };
}

/**
 * Asks every so many ms until the answer is as wanted, and gives it; with a deadline for a machine
 * under load.
 */
export async function eventually<T>(
  ask: () => Promise<T> | T,
  wanted: (answer: T) => boolean,
  everyMs = 50,
  withinMs = 20_000,
): Promise<T> {
  const deadline = performance.now() + withinMs;
  for (;;) {
    const answer = await ask();
    if (wanted(answer)) return answer;
    if (performance.now() > deadline) {
      throw new Error(`still not as wanted: ${JSON.stringify(answer).slice(0, 2000)}`);
    }
    await wait(everyMs);
  }
}
