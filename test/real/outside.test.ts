import { setTimeout as wait } from 'node:timers/promises';
import { connectAsync } from 'mqtt';
import pino from 'pino';
import { expect, onTestFinished, test } from 'vitest';
import { Api, eventually } from '../support/api.ts';
import { Link } from '../support/link.ts';
import { freePort, startMosquitto } from '../support/mosquitto.ts';
import { MosquittoClients } from '../support/mosquitto-clients.ts';
import { dataFolder, LOOPBACK, serve, startHere } from '../support/serving.ts';

const reading = (site: string) => `esterwatch/v1/reading/${site}/r1/liquid-temperature`;

function freshData(): string {
  const { data, remove } = dataFolder();
  onTestFinished(remove);
  return data;
}

test('a daemon that is killed leaves word at each of its sites that nobody watches', async () => {
  const mosquitto = await startMosquitto();
  onTestFinished(mosquitto.stop);
  const served = await serve({ data: freshData(), broker: `mqtt://${LOOPBACK}:${mosquitto.port}` });
  onTestFinished(() => served.kill('SIGKILL'));
  await new Api(served.httpPort).ready();
  const clients = new MosquittoClients(mosquitto.port);
  const beat = (site: string, state: string) =>
    eventually(
      () => clients.retained(`esterwatch/v1/beat/${site}`),
      (text) => text.includes(`"state":"${state}"`),
    );
  for (const site of ['shed', 'barn']) {
    await clients.publish(reading(site), '50');
    await beat(site, 'watching');
  }
  // Each site's word is with the broker once the second beat is there.
  const first = await clients.retained('esterwatch/v1/beat/barn');
  await eventually(
    () => clients.retained('esterwatch/v1/beat/barn'),
    (text) => text !== first,
  );
  served.kill('SIGKILL');
  for (const site of ['shed', 'barn']) await beat(site, 'gone');
});

test('a broker that is not there is told of once, with what to look at and without its password', async () => {
  const said: string[] = [];
  const daemon = await startHere({
    data: freshData(),
    mqtt: `mqtt://shed:secret@${LOOPBACK}:${await freePort()}`,
    log: pino({ level: 'warn' }, { write: (line) => void said.push(JSON.parse(line).msg) }),
  });
  onTestFinished(daemon.close);
  // It tries again every second.
  await wait(3500);
  const told = said.filter((line) => line.includes('nothing listens at'));
  expect(told).toEqual([expect.stringContaining('--broker')]);
  expect(said.join()).not.toContain('secret');
});

test('a broker that was away: the daemon says so, comes back by itself, and goes on', async () => {
  const mosquitto = await startMosquitto();
  const { port } = mosquitto;
  const daemon = await startHere({ data: freshData(), mqtt: `mqtt://${LOOPBACK}:${port}` });
  onTestFinished(daemon.close);
  const api = new Api(daemon.httpPort);
  await api.ready();
  await mosquitto.stop();
  const health = () => fetch(`http://${LOOPBACK}:${daemon.httpPort}/api/v1/health`);
  await eventually(
    async () => (await health()).status,
    (status) => status === 503,
  );
  expect((await (await health()).json()).because).toHaveLength(1);

  const again = await startMosquitto(port);
  onTestFinished(again.stop);
  await api.ready();
  const clients = new MosquittoClients(port);
  await clients.publish(reading('shed'), '{"value":50,"at":"2026-03-02T10:15:00.000Z"}');
  await eventually(
    () => api.raw('shed:r1'),
    ({ t }) => t.length === 1,
  );
});

test('a broker that does not answer any more does not hold up the stop', async () => {
  const mosquitto = await startMosquitto();
  onTestFinished(mosquitto.stop);
  const link = await Link.open(mosquitto.port);
  onTestFinished(() => link.close());
  const served = await serve({ data: freshData(), broker: `mqtt://${LOOPBACK}:${link.port}` });
  onTestFinished(() => served.kill('SIGKILL'));
  const api = new Api(served.httpPort);
  await api.ready();
  const clients = new MosquittoClients(mosquitto.port);
  await clients.publish(reading('shed'), '50');
  await eventually(
    () => api.raw('shed:r1'),
    ({ t }) => t.length === 1,
  );
  link.stall();
  served.kill('SIGTERM');
  expect(await served.ended).toMatchObject({ code: 0, signal: null });
});

test('topics that the configuration gained are asked for, although the session is an old one', async () => {
  const mosquitto = await startMosquitto();
  onTestFinished(mosquitto.stop);
  const own = { data: freshData(), mqtt: `mqtt://${LOOPBACK}:${mosquitto.port}` };
  const before = await startHere(own);
  await new Api(before.httpPort).ready();
  await before.close();

  const mapping = { filter: 'garage/+/state', site: 'garage', vessel: 'r1', channel: 'liquid-temperature' };
  const after = await startHere({
    ...own,
    topics: [{ ...mapping, path: 'probe.f', scale: 5 / 9, offset: -160 / 9 }],
  });
  onTestFinished(after.close);
  const api = new Api(after.httpPort);
  await api.ready();
  const device = await connectAsync(own.mqtt);
  await device.publishAsync('garage/node-7/state', '{"probe":{"f":140}}', { qos: 1 });
  await device.endAsync();
  const { value } = await eventually(
    () => api.raw('garage:r1'),
    ({ t }) => t.length === 1,
  );
  expect(value[0]).toBeCloseTo(60, 9);
});
