import { expect, test } from 'vitest';
import { ManualClock } from '../../support/manual-clock.ts';
import { runDaemon } from '../running-daemon.ts';
import { expectProblem } from './problem.ts';

const START_MS = Date.UTC(2026, 2, 2, 10);
const CSV = '/api/v1/vessels/r1/readings.csv?channel=liquid-temperature';
const at = (ms: number): string => new Date(START_MS + ms).toISOString();

test('a range is sent as CSV, unrounded, both ends included, by time and not by arrival', async () => {
  const daemon = await runDaemon({ clock: new ManualClock(START_MS) });
  const topic = 'esterwatch/v1/reading/barn/r1/liquid-temperature';
  const values = [50.0625, 1 / 3, -3, 61];
  for (const i of [2, 0, 3, 1])
    await daemon.publish(topic, JSON.stringify({ value: values[i], at: START_MS - 4000 + 1000 * i }));
  await daemon.send('POST', '/api/v1/vessels/r1/readings', { channel: 'liquid-temperature', value: 70 });
  const { status, headers, text } = await daemon.get(`${CSV}&from=${START_MS - 4000}&to=${START_MS - 1000}`);
  expect(status).toBe(200);
  expect(headers['content-type']).toContain('text/csv');
  expect(text.split('\n')).toEqual([
    'at,channel,value,source',
    ...values.map((value, i) => `${at(-4000 + 1000 * i)},liquid-temperature,${value},device`),
    '',
  ]);
  const lastHour = await daemon.get(CSV);
  expect(lastHour.text.split('\n')).toHaveLength(7);
  expect(lastHour.text).toContain(`${at(0)},liquid-temperature,70,typed`);
});

test('more than is fetched at a time comes whole, also where many have one time', async () => {
  const daemon = await runDaemon({ clock: new ManualClock(START_MS) });
  const topic = 'esterwatch/v1/reading/barn/r1/liquid-temperature';
  for (let message = 0; message < 6; message++) {
    const readings = Array.from({ length: 4000 }, (_, i) => {
      const seq = 4000 * message + i;
      // The 9,000th to the 15,000th are of one millisecond.
      return { value: seq, seq, at: START_MS - 30_000 + Math.min(seq, 9000) + Math.max(0, seq - 15_000) };
    });
    await daemon.publish(topic, JSON.stringify(readings));
  }
  const lines = (await daemon.get(CSV)).text.trimEnd().split('\n').slice(1);
  expect(lines.map((line) => Number(line.split(',')[2]))).toEqual(
    Array.from({ length: 24_000 }, (_, i) => i),
  );
});

test('what there is nothing of is a header, and what is no range is refused', async () => {
  const daemon = await runDaemon({ clock: new ManualClock(START_MS) });
  await daemon.read('barn/r1/heater', 1);
  expect((await daemon.get(CSV)).text).toBe('at,channel,value,source\n');
  expectProblem(await daemon.get(`${CSV}&from=${START_MS}&to=${START_MS - 1}`), 400, 'body-invalid');
  expectProblem(await daemon.get('/api/v1/vessels/none/readings.csv?channel=heater'), 404, 'vessel-unknown');
  expectProblem(await daemon.get('/api/v1/vessels/r1/readings.csv'), 400, 'body-invalid');
});
