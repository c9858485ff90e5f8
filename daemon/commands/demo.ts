import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { connectAsync } from 'mqtt';
import type { Stage } from '../../shared/wire/names.ts';
import { isoTime } from '../../shared/wire/time.ts';
import { readingTopic } from '../../shared/wire/topics.ts';
import { publishBacklog, publishRun } from '../../simulator/publisher.ts';
import { type RunItem, run } from '../../simulator/run.ts';
import { isScenarioName, SCENARIOS, type ScenarioName } from '../../simulator/scenarios/index.ts';
import { type Clock, machineClock } from '../clock.ts';
import { type Address, isLoopback, parseAddress } from '../config.ts';
import { startDaemon } from '../daemon.ts';
import { openLog } from './log.ts';
import { readNumber, readOptions } from './options.ts';
import { DEFAULT_HTTP, DEFAULT_MQTT, urlHost } from './serve.ts';
import { untilSignal } from './until-signal.ts';
import { UsageError } from './usage.ts';

const DEFAULT_SPEED = 30;
const DEFAULT_SCENARIO: ScenarioName = 'stirrer-stops';
const HELP = `esterwatch demo: a simulated site on a throw-away store, to look at and to try things on.

  --scenario NAME   what happens (${DEFAULT_SCENARIO}); simulate --help names them
  --speed N         so many simulated seconds a second (${DEFAULT_SPEED})
  --http HOST:PORT  where the page listens (${DEFAULT_HTTP})
  --mqtt HOST:PORT  where the broker listens (${DEFAULT_MQTT})
  --help
`;

const SITE = 'larkfield';
const PERSON = 'Ada Brook';
/** The finished batch began so long ago, ms. */
const YESTERDAY_MS = 40 * 3_600_000;

export async function demo(args: string[]): Promise<void> {
  const given = readOptions(
    args,
    {
      scenario: { type: 'string' },
      speed: { type: 'string' },
      http: { type: 'string' },
      mqtt: { type: 'string' },
    },
    HELP,
  );
  if (given === null) return;
  const scenario = given.scenario ?? DEFAULT_SCENARIO;
  if (!isScenarioName(scenario))
    throw new UsageError(`unknown scenario ${scenario}: simulate --help names them`);
  const speed = readNumber(given.speed, '--speed', 1, 1000) ?? DEFAULT_SPEED;
  const http = loopbackAddress(given.http ?? DEFAULT_HTTP, '--http');
  const mqtt = loopbackAddress(given.mqtt ?? DEFAULT_MQTT, '--mqtt');

  const log = await openLog();
  const data = mkdtempSync(join(tmpdir(), 'esterwatch-demo-'));
  const clock = machineClock(speed);
  const remove = () => rmSync(data, { recursive: true, force: true });
  const daemon = await startDaemon({ data, http, mqtt, topics: [], clock, log }).catch((error) => {
    remove();
    throw error;
  });
  const site = new DemoSite(
    `http://${urlHost(http.host)}:${daemon.httpPort}`,
    `mqtt://${urlHost(mqtt.host)}:${daemon.mqttPort}`,
    clock,
    (error) => log.warn(String(error instanceof Error ? error.message : error)),
  );
  const playing = site.play(scenario).catch((error: unknown) => {
    if (!site.closed) log.error({ err: error }, 'the simulated site has stopped');
  });
  const stopped = untilSignal(log, daemon.died, async () => {
    await site.close();
    await playing;
    await daemon.close();
    remove();
  });
  log.info(`page: http://${urlHost(http.host)}:${daemon.httpPort}/ (time runs ${speed} × as fast)`);
  log.info(`readings: mqtt://${urlHost(mqtt.host)}:${daemon.mqttPort}`);
  await stopped;
}

function loopbackAddress(text: string, option: string): Address {
  const at = parseAddress(text, option);
  if (!isLoopback(at.host)) throw new UsageError(`${option}: the demonstration listens on this machine only`);
  return at;
}

/**
 * A simulated site that deals with the daemon as any other would: devices publish over MQTT, a person
 * opens batches and notes stages over HTTP.
 */
class DemoSite {
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
