import { connectAsync, type MqttClient, UniqueMessageIdProvider } from 'mqtt';
import { expect, onTestFinished, test } from 'vitest';
import { Api } from '../support/api.ts';
import { dataFolder, LOOPBACK, startHere } from '../support/serving.ts';

const TOPIC = 'esterwatch/v1/reading/shed/r1/liquid-temperature';
const AT_ONCE = 20;
const ROUNDS = 8;

async function start() {
  const { data, remove } = dataFolder();
  onTestFinished(remove);
  const daemon = await startHere({ data });
  onTestFinished(daemon.close);
  /** A device whose messages are numbered from 1 on. */
  const device = (): Promise<MqttClient> =>
    connectAsync(`mqtt://${LOOPBACK}:${daemon.mqttPort}`, {
      clientId: 'probe',
      reconnectPeriod: 0,
      messageIdProvider: new UniqueMessageIdProvider(),
    });
  return { device, api: new Api(daemon.httpPort) };
}

test.each(['cut off', 'still there'] as const)(
  'a device that comes back while its connection before is %s: all that it sees acknowledged is stored',
  async (before) => {
    const { device, api } = await start();
    const startMs = Date.now() - 3_600_000;
    const acknowledged: number[] = [];
    let seq = 0;
    const reading = () => JSON.stringify({ value: 50, at: startMs + ++seq * 1000, seq });
    for (let round = 0; round < ROUNDS; round++) {
      const first = await device();
      for (let i = 0; i < AT_ONCE; i++) first.publish(TOPIC, reading(), { qos: 2 });
      // Its messages have been sent and are on their way to the disk.
      await new Promise((resolve) => setTimeout(resolve, 1));
      if (before === 'cut off') first.stream.destroy();
      const second = await device();
      await Promise.all(
        Array.from({ length: AT_ONCE }, async () => {
          const payload = reading();
          const own = seq;
          await second.publishAsync(TOPIC, payload, { qos: 2 });
          acknowledged.push(own);
        }),
      );
      await second.endAsync();
      first.end(true);
    }
    const stored = new Set((await api.raw('shed:r1')).seq);
    expect(acknowledged).toHaveLength(ROUNDS * AT_ONCE);
    expect(acknowledged.filter((own) => !stored.has(own))).toEqual([]);
  },
);

test('what is large is not kept for those who subscribe later', async () => {
  const { device } = await start();
  const publisher = await device();
  const large = `{"value":50,"at":1772000000000}${' '.repeat(2000)}`;
  await publisher.publishAsync(TOPIC, large, { qos: 1, retain: true });
  await publisher.publishAsync(`${TOPIC}-2`, '{"value":50,"at":1772000000000}', { qos: 1, retain: true });
  const topics: string[] = [];
  publisher.on('message', (topic) => topics.push(topic));
  await publisher.subscribeAsync('esterwatch/v1/reading/#');
  // What is retained comes in order before the answer to the next thing that is asked.
  await publisher.publishAsync('elsewhere', 'x', { qos: 1 });
  await expect.poll(() => topics).toContain(`${TOPIC}-2`);
  expect(topics).not.toContain(TOPIC);
  await publisher.endAsync();
});
