import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { isScenarioName, type ScenarioName } from '../../simulator/scenarios/index.ts';
import { machineClock } from '../clock.ts';
import { type Address, isLoopback, parseAddress } from '../config.ts';
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

  // Loaded once the options are known to be good, as every verb does with what is large.
  const { startDaemon } = await import('../daemon.ts');
  const { DemoSite } = await import('./demo-site.ts');
  const log = await (await import('./log.ts')).openLog();
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
