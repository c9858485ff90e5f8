import { connectAsync, type MqttClient } from 'mqtt';
import { expect, onTestFinished, test } from 'vitest';
import { Api, eventually } from '../support/api.ts';
import { startMosquitto } from '../support/mosquitto.ts';
import { dataFolder, LOOPBACK, type Served, serve } from '../support/serving.ts';

const COUNT = 500;
/** Under way at once, as a device that does not wait for each answer. */
const UNDER_WAY = 20;
const TOPIC = 'esterwatch/v1/reading/shed/r1/liquid-temperature';
const AT_MS = Date.parse('2026-03-02T10:15:00.000Z');
const atOf = (seq: number) => AT_MS + seq * 1000;
const valueAt = (seq: number) => 40 + (seq % 64) / 64;
const reading = (seq: number) =>
  JSON.stringify({ value: valueAt(seq), at: new Date(atOf(seq)).toISOString(), seq });

/** Publishes those from `from` up to `to`, some at once; tells of each that was acknowledged. */
async function publish(
  device: MqttClient,
  from: number,
  to: number,
  acknowledged: (seq: number) => void = () => {},
): Promise<void> {
  let next = from;
  const one = async () => {
    while (next < to) {
      const seq = next++;
      await device.publishAsync(TOPIC, reading(seq), { qos: 1 });
      acknowledged(seq);
    }
  };
  await Promise.all(Array.from({ length: UNDER_WAY }, one));
}

const ended = async (served: Served, signal: NodeJS.Signals) =>
  expect((await served.ended).signal).toBe(signal);

/** Everything stored is something sent, once. */
function expectNothingInvented(stored: { t: number[]; value: number[]; seq: (number | null)[] }): void {
  expect(new Set(stored.seq).size).toBe(stored.seq.length);
  expect(stored.t).toEqual(stored.seq.map((seq) => atOf(seq!)));
  expect(stored.value).toEqual(stored.seq.map((seq) => valueAt(seq!)));
}

test('killed among 500 readings: every acknowledged one is there after the restart, once', async () => {
  const { data, remove } = dataFolder();
  onTestFinished(remove);
  const first = await serve({ data });
  onTestFinished(() => first.kill('SIGKILL'));
  const device = await connectAsync(`mqtt://${LOOPBACK}:${first.mqttPort}`, { reconnectPeriod: 0 });
  const acknowledged: number[] = [];
  const publishing = publish(device, 0, COUNT, (seq) => {
    if (acknowledged.push(seq) === 150) first.kill('SIGKILL');
  }).catch(() => {});
  await ended(first, 'SIGKILL');
  device.end(true);
  await publishing;
  expect(acknowledged.length).toBeGreaterThanOrEqual(150);
  expect(acknowledged.length).toBeLessThan(COUNT);

  const second = await serve({ data });
  onTestFinished(() => second.kill('SIGKILL'));
  const api = new Api(second.httpPort);
  const stored = await api.raw('shed:r1');
  expect(acknowledged.filter((seq) => !stored.seq.includes(seq))).toEqual([]);
  expectNothingInvented(stored);
  // At most what was under way had been stored and not yet acknowledged.
  expect(stored.seq.length).toBeLessThanOrEqual(acknowledged.length + UNDER_WAY);

  // A device that does not know what arrived sends everything again.
  const again = await connectAsync(`mqtt://${LOOPBACK}:${second.mqttPort}`);
  await publish(again, 0, COUNT);
  await again.endAsync();
  const all = await api.raw('shed:r1');
  expect(all.seq).toEqual(Array.from({ length: COUNT }, (_, seq) => seq));
  expectNothingInvented(all);
  expect(await api.refused()).toEqual([]);
});

test('killed at an outside broker: what it had not acknowledged comes again, and all are there once', async () => {
  const { data, remove } = dataFolder();
  onTestFinished(remove);
  const mosquitto = await startMosquitto();
  onTestFinished(mosquitto.stop);
  const broker = `mqtt://${LOOPBACK}:${mosquitto.port}`;
  const first = await serve({ data, broker });
  onTestFinished(() => first.kill('SIGKILL'));
  await new Api(first.httpPort).ready();
  const device = await connectAsync(broker);
  await publish(device, 0, COUNT / 2);
  await eventually(
    () => new Api(first.httpPort).raw('shed:r1'),
    ({ t }) => t.length > 0,
    1,
  );
  first.kill('SIGKILL');
  await ended(first, 'SIGKILL');
  await publish(device, COUNT / 2, COUNT);
  await device.endAsync();

  const second = await serve({ data, broker });
  onTestFinished(() => second.kill('SIGKILL'));
  const stored = await eventually(
    () => new Api(second.httpPort).raw('shed:r1'),
    ({ t }) => t.length >= COUNT,
  );
  expect(stored.seq).toEqual(Array.from({ length: COUNT }, (_, seq) => seq));
  expectNothingInvented(stored);
});
