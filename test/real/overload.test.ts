import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { readFileSync } from 'node:fs';
import { createInterface } from 'node:readline';
import { fileURLToPath } from 'node:url';
import { connectAsync } from 'mqtt';
import { expect, onTestFinished, test } from 'vitest';
import { WebSocket } from 'ws';
import { readingTopic } from '../../shared/wire/topics.ts';
import { Api, eventually, look } from '../support/api.ts';
import { endWithTests } from '../support/children.ts';
import type { Flooded, FloodOptions } from '../support/flood.ts';
import { dataFolderOnDisk, LOOPBACK, serve } from '../support/serving.ts';
import { isThorough } from '../support/thorough.ts';

const SITE = 'flood';
const CONNECTIONS = 100;
/** Of these, senders that nothing but their socket holds up. */
const GREEDY = 10;
/** Looks at each: fewer would not show that it lasts. */
const FEWEST_LOOKS = 5;
/**
 * What the daemon has read of a connection and not answered, bytes: what its socket holds ready and what was read last, 64
 * KiB each, and as much again for answers that are on their way.
 */
const MOST_TAKEN = 4 * 65_536;
/** One alarm after the other, for so long, but a few on any machine, ms. */
const FLOODED_MS = isThorough ? 30_000 : 3000;
const FEWEST_ALARMS = 3;
/** What a flood may make of a daemon of some 110 MB: each connection has a chunk of 64 KiB and its readings in memory, MB. */
const MOST_RESIDENT_MB = 400;
/**
 * An alarm comes in time even so, ms. Generous: on two cores with five times as much to do beside it took up to 8 s, and 30
 * to 50 while the daemon took in all that each connection had sent.
 */
const IN_TIME_MS = 20_000;

const FLOOD = fileURLToPath(new URL('../support/flood.ts', import.meta.url));

async function startFlood(options: FloodOptions): Promise<{ stop(): Promise<Flooded> }> {
  const child = endWithTests(
    spawn(process.execPath, ['--import', 'tsx', FLOOD, JSON.stringify(options)], {
      stdio: ['pipe', 'pipe', 'inherit'],
    }),
  );
  onTestFinished(() => void child.kill('SIGKILL'));
  const lines = createInterface({ input: child.stdout });
  await once(lines, 'line');
  return {
    stop: async () => {
      const said = once(lines, 'line') as Promise<[string]>;
      child.stdin.end();
      return JSON.parse((await said)[0]) as Flooded;
    },
  };
}

const mostResidentMb = (pid: number): number =>
  Number(/^VmHWM:\s+(\d+)/m.exec(readFileSync(`/proc/${pid}/status`, 'utf8'))![1]) / 1024;

test('more than the machine takes: alarms come in time, senders are held up, nothing acknowledged is lost', {
  timeout: 300_000,
}, async () => {
  const { data, remove } = dataFolderOnDisk();
  onTestFinished(remove);
  let served = await serve({ data });
  onTestFinished(() => served.kill('SIGKILL'));
  const { httpPort, mqttPort } = served;
  const metric = async (name: string): Promise<number> => {
    const text = await (await fetch(`http://${LOOPBACK}:${httpPort}/metrics`)).text();
    return Number(new RegExp(`^${name} (\\d+)`, 'm').exec(text)![1]);
  };
  const page = await look(httpPort);
  onTestFinished(page.close);
  // Looks on and reads nothing.
  const asleep = new WebSocket(`ws://${LOOPBACK}:${httpPort}/api/v1/live`);
  asleep.on('error', () => {});
  await once(asleep, 'open');
  asleep.pause();
  onTestFinished(() => asleep.terminate());
  const probe = await connectAsync(`mqtt://${LOOPBACK}:${mqttPort}`, { reconnectPeriod: 0 });
  onTestFinished(() => probe.endAsync(true));

  const flood = await startFlood({
    mqttPort: mqttPort!,
    connections: CONNECTIONS,
    greedy: GREEDY,
    site: SITE,
    httpPort,
    paths: [
      '/api/v1/vessels',
      `/api/v1/vessels/${SITE}:v0/readings?channel=liquid-temperature&points=raw&from=0`,
    ],
    requests: 20,
  });
  const tookMs: number[] = [];
  const untilMs = performance.now() + FLOODED_MS;
  for (let i = 0; i < FEWEST_ALARMS || performance.now() < untilMs; i++) {
    const vessel = `hot${i}`;
    const topic = readingTopic('barn', vessel, 'liquid-temperature');
    await probe.publishAsync(topic, '50', { qos: 1 });
    const fromMs = performance.now();
    await Promise.all([
      // What a probe that has lost its power says: an alarm at once.
      probe.publishAsync(topic, '-127', { qos: 1 }),
      eventually(
        () => page.heard.some((message) => message.type === 'alarm' && message.vessel === vessel),
        (heard) => heard,
        5,
        IN_TIME_MS,
      ).then(() => tookMs.push(performance.now() - fromMs)),
    ]);
  }
  // Who does not keep up is cut off, and comes back for what is so now. An ordinary run does not wait for it under load.
  if (isThorough) {
    await eventually(
      () => metric('esterwatch_viewers'),
      (viewers) => viewers === 1,
      200,
      IN_TIME_MS,
    );
  }
  const back = await look(httpPort);
  onTestFinished(back.close);
  await eventually(
    () =>
      back.heard.some(
        (message) => message.type === 'estimate' && message.vessel === `hot${tookMs.length - 1}`,
      ),
    (heard) => heard,
  );
  const residentMb = mostResidentMb(served.pid);
  expect(residentMb).toBeLessThan(MOST_RESIDENT_MB);

  served.kill('SIGKILL');
  await served.ended;
  const { senders, looks, answers } = await flood.stop();
  // What the daemon has no room for stays in the sockets, all the time, and yet each sender gets on.
  expect(looks).toHaveLength(GREEDY);
  for (const [i, seen] of looks.entries()) {
    expect(seen.length, `v${i}`).toBeGreaterThanOrEqual(FEWEST_LOOKS);
    expect(
      seen.filter(({ waiting, unread }) => waiting === 0 || unread === 0),
      `v${i}`,
    ).toEqual([]);
    expect(Math.max(...seen.map(({ taken }) => taken)), `v${i}`).toBeLessThanOrEqual(MOST_TAKEN);
    expect(seen.at(-1)!.acknowledged, `v${i}`).toBeGreaterThan(seen[0]!.acknowledged);
  }
  // Nobody who asked was told that something failed; 0 is the end of the daemon.
  expect(Object.keys(answers).filter((status) => status !== '0' && status !== '200')).toEqual([]);
  expect(answers[200]).toBeGreaterThan(0);

  served = await serve({ data });
  const api = new Api(served.httpPort);
  let lost = 0;
  for (const [i, { acknowledged }] of senders.entries()) {
    const { seq } = await api.raw(`${SITE}:v${i}`);
    const there = new Set(seq);
    expect(there.size, `v${i}: none twice`).toBe(seq.length);
    for (let number = 0; number < acknowledged; number++) if (!there.has(number)) lost++;
  }
  expect(lost).toBe(0);
  const total = senders.reduce((sum, { acknowledged }) => sum + acknowledged, 0);
  expect(total).toBeGreaterThan(10 * CONNECTIONS);
  if (isThorough) {
    const ms = tookMs.toSorted((a, b) => a - b).map(Math.round);
    const said = {
      total,
      residentMb,
      answers,
      alarms: ms.length,
      ms: [ms[ms.length >> 1], ms.at(-1)],
    };
    process.stderr.write(`overload: ${JSON.stringify(said)}\n`);
  }
});
