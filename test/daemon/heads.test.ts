import { join } from 'node:path';
import { setImmediate } from 'node:timers/promises';
import { connectAsync } from 'mqtt';
import { expect, onTestFinished, test } from 'vitest';
import { openReadable } from '../../daemon/store/sqlite/database.ts';
import {
  type Difference,
  isDifference,
  verifyDatabase,
  type Whole,
} from '../../daemon/store/sqlite/verify.ts';
import { ManualClock } from '../support/manual-clock.ts';
import { patiently } from '../support/patiently.ts';
import { type RunningDaemon, runDaemon } from './running-daemon.ts';
import { temporaryDir } from './store/fixture.ts';

const START_MS = Date.UTC(2026, 2, 2, 22);

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

test('the head of what is sealed is published as soon as there is one, with each day and with the start', async () => {
  const data = join(temporaryDir(), 'data');
  const clock = new ManualClock(START_MS);
  const daemon = await runDaemon({ clock, data });
  const heads = await published(daemon);
  await daemon.read('barn/r1/liquid-temperature', 50);
  await daemon.read('shed/r1/liquid-temperature', 20);
  const passMinutes = async (minutes: number) => {
    for (let minute = 0; minute < minutes; minute++) {
      clock.advance(60_000);
      await setImmediate();
    }
  };
  await passMinutes(10);
  expect(heads.size).toBe(0); // nothing is sealed
  await passMinutes(60);
  await patiently(async () => {
    await passMinutes(1);
    expect(heads.size).toBe(2);
  });
  const first = { ...heads.get('esterwatch/v1/head/barn')! };
  expect(first.at).toMatch(/^2026-03-02T23:/);
  await daemon.read('barn/r1/liquid-temperature', 52);
  await passMinutes(40);
  expect(heads.get('esterwatch/v1/head/barn')).toEqual(first); // once a day
  await passMinutes(40);
  await patiently(async () => {
    await passMinutes(1);
    expect(heads.get('esterwatch/v1/head/barn')!.at).toMatch(/^2026-03-03T00:/);
  });
  // However far it goes on: each is found again, and one that was never there is not.
  await daemon.read('barn/r1/liquid-temperature', 53);
  for (const { entries, head } of [first, heads.get('esterwatch/v1/head/barn')!])
    expect(whole(data, head).found).toEqual({ site: 'barn', entries, head });
  expect(isDifference(verified(data, '0'.repeat(64)))).toBe(true);
  await daemon.stop();

  const again = await runDaemon({ clock, data });
  const atStart = await published(again);
  await patiently(() => expect(atStart.size).toBe(2));
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
