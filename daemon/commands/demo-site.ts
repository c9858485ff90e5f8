import { connectAsync } from 'mqtt';
import type { Stage } from '../../shared/wire/names.ts';
import { isoTime } from '../../shared/wire/time.ts';
import { readingTopic } from '../../shared/wire/topics.ts';
import { publishBacklog, publishRun } from '../../simulator/publisher.ts';
import { type RunItem, run } from '../../simulator/run.ts';
import { SCENARIOS, type ScenarioName } from '../../simulator/scenarios/index.ts';
import type { Clock } from '../clock.ts';

const SITE = 'larkfield';
const PERSON = 'Ada Brook';
/** The finished batch began so long ago, ms. */
const YESTERDAY_MS = 40 * 3_600_000;

/**
 * A simulated site that deals with the daemon as any other would: devices publish over MQTT, a person
 * opens batches and notes stages over HTTP.
 */
export class DemoSite {
  closed = false;
  readonly #api: string;
  readonly #brokerUrl: string;
  readonly #clock: Clock;
  readonly #onTrouble: (error: unknown) => void;
  #publishing: { finished: Promise<void>; close(): Promise<void> } | undefined;

  constructor(api: string, brokerUrl: string, clock: Clock, onTrouble: (error: unknown) => void) {
    this.#api = api;
    this.#brokerUrl = brokerUrl;
    this.#clock = clock;
    this.#onTrouble = onTrouble;
  }

  /** A batch of yesterday from first to last, then one that is under way and in which things happen. */
  async play(scenario: ScenarioName): Promise<void> {
    const { pressureHPa } = SCENARIOS[scenario].surroundings;
    await this.#call('PUT', `/api/v1/sites/${SITE}`, { pressureHPa });
    const nowMs = Math.floor(this.#clock.wallMs());
    await this.#playBatch('Batch of yesterday', 'ordinary-batch', nowMs - YESTERDAY_MS, 5000);
    await this.#playBatch('Canteen oil, second drum', scenario, Math.floor(this.#clock.wallMs()), 1000);
  }

  async close(): Promise<void> {
    this.closed = true;
    await this.#publishing?.close();
  }

  async #playBatch(
    name: string,
    scenario: ScenarioName,
    startMs: number,
    readingEveryMs: number,
  ): Promise<void> {
    if (this.closed) return;
    const past = startMs < this.#clock.wallMs() - 60_000;
    await this.#makeKnown(startMs);
    const opened = await this.#call('POST', '/api/v1/batches', {
      vessel: `${SITE}:r1`,
      name,
      by: PERSON,
      ...(past && { at: startMs }),
      plan: { watch: { readingEverySeconds: readingEveryMs / 1000 } },
    });
    const { id } = (await opened.json()) as { id: string };
    const items = run(SCENARIOS[scenario], { seed: 1, startMs, readingEveryMs });
    const onStage = async (item: Extract<RunItem, { kind: 'stage' }>) => {
      await this.#enterStage(id, item.vessel, item.stage, past ? item.atMs : undefined);
    };
    const common = {
      brokerUrl: this.#brokerUrl,
      site: SITE,
      run: items,
      onStage,
      onTrouble: this.#onTrouble,
    };
    this.#publishing = past
      ? publishBacklog(common)
      : publishRun({ ...common, clock: simulatorClock(this.#clock) });
    await this.#publishing.finished;
  }

  /** A vessel is there from its first reading; a batch can only be opened on one that is. */
  async #makeKnown(atMs: number): Promise<void> {
    const client = await connectAsync(this.#brokerUrl);
    for (const vessel of ['r1', 'm1']) {
      await client.publishAsync(
        readingTopic(SITE, vessel, 'heater'),
        JSON.stringify({ value: 0, at: isoTime(atMs - 1000) }),
        { qos: 1 },
      );
    }
    await client.endAsync();
  }

  async #enterStage(id: string, vessel: string, stage: Stage, atMs: number | undefined): Promise<void> {
    const body = { stage, vessel: `${SITE}:${vessel}`, by: PERSON, ...(atMs !== undefined && { at: atMs }) };
    const path = `/api/v1/batches/${id}/stage`;
    const answer = await this.#call('POST', path, body, [409]);
    if (answer.status !== 409) return;
    await this.#call('POST', path, { ...body, anyway: { reason: 'shown in the demonstration' } }, [409]);
  }

  async #call(method: string, path: string, body: object, alsoFine: number[] = []): Promise<Response> {
    const answer = await fetch(this.#api + path, {
      method,
      headers: { 'content-type': 'application/json' },
      body: JSON.stringify(body),
    });
    if (!answer.ok && !alsoFine.includes(answer.status)) {
      throw new Error(`${method} ${path}: ${answer.status} ${await answer.text()}`);
    }
    return answer;
  }
}

/** The daemon's clock as the simulator wants one. */
const simulatorClock = (clock: Clock) => ({
  now: () => clock.wallMs(),
  sleep: (ms: number, signal?: AbortSignal): Promise<void> =>
    new Promise((resolve) => {
      const done = () => {
        timer.cancel();
        signal?.removeEventListener('abort', done);
        resolve();
      };
      const timer = clock.after(ms, done);
      signal?.addEventListener('abort', done);
    }),
});
