import { expect, test } from 'vitest';
import { eventually } from '../support/api.ts';
import { ManualClock } from '../support/manual-clock.ts';
import { runDaemon } from './running-daemon.ts';

const START_MS = Date.UTC(2026, 2, 2, 10);
const TEMPERATURE = 'esterwatch/v1/reading/barn/r1/liquid-temperature';

/** What a device sends of the last seconds in one message, in an order; the alarms of it. */
async function alarmsOf(order: (readings: object[]) => object[]) {
  const clock = new ManualClock(START_MS + 60_000);
  const daemon = await runDaemon({ clock });
  const values = [55, 55, 250, 55, 55];
  const readings = values.map((value, i) => ({ value, at: START_MS + 1000 * (i + 1), seq: i }));
  await daemon.publish(TEMPERATURE, JSON.stringify(order(readings)));
  // Alarms are written with the next commit.
  return eventually(
    async () => (await daemon.get('/api/v1/alarms?from=0')).json.alarms,
    (alarms) => alarms[0]?.event === 'cleared',
  );
}

test('an array is judged in the order of its times, whatever order it comes in', async () => {
  const inOrder = await alarmsOf((readings) => readings);
  expect(inOrder).toMatchObject([
    { alarm: 'probe-out-of-range', at: '2026-03-02T10:00:03.000Z', clearedAt: '2026-03-02T10:00:04.000Z' },
  ]);
  expect(await alarmsOf((readings) => readings.toReversed())).toEqual(inOrder);
});

test('of two readings of one identity in an array the first counts', async () => {
  const clock = new ManualClock(START_MS + 60_000);
  const daemon = await runDaemon({ clock });
  const reading = (seconds: number, value: number) => ({ value, at: START_MS + 1000 * seconds, seq: 1 });
  await daemon.publish(TEMPERATURE, JSON.stringify([reading(2, 51), reading(1, 50), reading(2, 52)]));
  const { json } = await daemon.get(
    '/api/v1/vessels/barn:r1/readings?channel=liquid-temperature&points=raw&from=0',
  );
  expect(json).toMatchObject({ t: [1, 2].map((s) => START_MS + 1000 * s), value: [50, 51] });
  expect((await daemon.get('/api/v1/refused')).json).toMatchObject({
    refused: [{ code: 'value-conflict', count: 1 }],
  });
});
