import { join } from 'node:path';
import { connectAsync } from 'mqtt';
import { expect, onTestFinished, test, vi } from 'vitest';
import { openReadable } from '../../daemon/store/sqlite/database.ts';
import { verifyDatabase, type Whole } from '../../daemon/store/sqlite/verify.ts';
import { ManualClock } from '../support/manual-clock.ts';
import { type RunningDaemon, runDaemon } from './running-daemon.ts';
import { temporaryDir } from './store/fixture.ts';

const START_MS = Date.UTC(2026, 2, 2, 22);
const HOUR_MS = 3_600_000;

/** What is published on head topics, by topic, the newest of each. */
async function published(
  daemon: RunningDaemon,
): Promise<Map<string, { at: string; entries: number; head: string }>> {
  const client = await connectAsync(`mqtt://127.0.0.1:${daemon.mqttPort}`);
  onTestFinished(() => client.endAsync(true));
  const heads = new Map();
  client.on('message', (topic, payload) => heads.set(topic, JSON.parse(String(payload))));
  await client.subscribeAsync('esterwatch/v1/head/#', { qos: 1 });
  return heads;
}

function whole(data: string): Whole {
  const database = openReadable(data);
  try {
    return verifyDatabase(database) as Whole;
  } finally {
    database.close();
  }
}

test('the head of each site is published with the start and with each day, as verify finds it', async () => {
  const data = join(temporaryDir(), 'data');
  const clock = new ManualClock(START_MS);
  const first = await runDaemon({ clock, data });
  await first.read('barn/r1/liquid-temperature', 50);
  await first.stop();

  const daemon = await runDaemon({ clock, data });
  const heads = await published(daemon);
  await vi.waitFor(() => expect(heads.size).toBe(1));
  const atStart = heads.get('esterwatch/v1/head/barn')!;
  expect(atStart.at).toBe('2026-03-02T22:00:00.000Z');
  await daemon.read('barn/r1/liquid-temperature', 51);
  await daemon.read('shed/r1/liquid-temperature', 20);
  clock.advance(HOUR_MS);
  expect(heads.size).toBe(1);
  clock.advance(HOUR_MS + 60_000);
  await vi.waitFor(() => expect(heads.size).toBe(2));
  const { sites } = whole(data);
  for (const { site, entries, head } of sites) {
    await vi.waitFor(() => expect(heads.get(`esterwatch/v1/head/${site}`)).toMatchObject({ entries, head }));
  }
  expect(heads.get('esterwatch/v1/head/barn')!.head).not.toBe(atStart.head);
});

test('nobody else publishes on them', async () => {
  const daemon = await runDaemon({ clock: new ManualClock(START_MS) });
  const heads = await published(daemon);
  const client = await connectAsync(`mqtt://127.0.0.1:${daemon.mqttPort}`);
  onTestFinished(() => client.endAsync(true));
  await client.publishAsync('esterwatch/v1/head/barn', '{}', { qos: 1, retain: true });
  const { json } = await daemon.get('/api/v1/refused');
  expect(json.refused).toMatchObject([{ topic: 'esterwatch/v1/head/barn', code: 'topic-reserved' }]);
  expect(heads.size).toBe(0);
});
