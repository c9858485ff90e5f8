import { join } from 'node:path';
import { setImmediate } from 'node:timers/promises';
import { connectAsync } from 'mqtt';
import { expect, onTestFinished, test, vi } from 'vitest';
import { openReadable } from '../../daemon/store/sqlite/database.ts';
import {
  type Difference,
  isDifference,
  verifyDatabase,
  type Whole,
} from '../../daemon/store/sqlite/verify.ts';
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

function verified(data: string, head?: string): Whole | Difference {
  const database = openReadable(data);
  try {
    return verifyDatabase(database, head);
  } finally {
    database.close();
  }
}

function whole(data: string, head?: string): Whole {
  const result = verified(data, head);
  expect(isDifference(result)).toBe(false);
  return result as Whole;
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
  // Sealed in time for the next day, and going on.
  for (let minutes = 0; minutes < 70; minutes += 5) {
    clock.advance(5 * 60_000);
    await setImmediate();
  }
  await vi.waitFor(() => {
    for (const { sealed } of whole(data).sites) expect(sealed).not.toBeNull();
  });
  await daemon.read('barn/r1/liquid-temperature', 52);
  expect(heads.size).toBe(1);
  clock.advance(HOUR_MS);
  await vi.waitFor(() => expect(heads.size).toBe(2));
  const later = heads.get('esterwatch/v1/head/barn')!;
  expect(later.head).not.toBe(atStart.head);
  // However far it goes on: that head is found again, and one that was never there is not.
  await daemon.read('barn/r1/liquid-temperature', 53);
  for (const [topic, { entries, head }] of heads) {
    expect(whole(data, head).found).toEqual({ site: topic.split('/').at(-1), entries, head });
  }
  expect(isDifference(verified(data, '0'.repeat(64)))).toBe(true);
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
