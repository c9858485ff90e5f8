/**
 * From the reading that raises an alarm, as it is published, to the e-mail and the signed POST that were accepted, on an
 * idle daemon in this process with a store on the disk: twenty of each, one after the other. `npm run bench:reach`,
 * after `npm run build`. The SMTP server and the receiver run in this process too, so that nothing of a network is in it.
 */
import { once } from 'node:events';
import { createServer } from 'node:http';
import type { AddressInfo } from 'node:net';
import { setTimeout as wait } from 'node:timers/promises';
import { connectAsync } from 'mqtt';
import { SMTPServer } from 'smtp-server';
import { readingTopic } from '../../shared/wire/topics.ts';
import { Api, eventually } from '../support/api.ts';
import { dataFolderOnDisk, LOOPBACK, startHere } from '../support/serving.ts';

const RUNS = 20;
const MOST_MS = 1000;
/** Near boiling, and far enough below for the alarm to clear: no liquid changes faster than the rules take. */
const [NEAR_C, CALM_C] = [62.5, 60];

const accepted = { mail: [] as number[], post: [] as number[] };
const smtp = new SMTPServer({
  authOptional: true,
  disabledCommands: ['STARTTLS', 'AUTH'],
  logger: false,
  onData: (stream, _session, done) => {
    stream.resume();
    stream.on('end', () => {
      accepted.mail.push(performance.now());
      done();
    });
  },
});
smtp.listen(0, LOOPBACK);
await once(smtp.server, 'listening');
const receiver = createServer((request, response) => {
  request.resume();
  request.on('end', () => {
    accepted.post.push(performance.now());
    response.writeHead(204).end();
  });
}).listen(0, LOOPBACK);
await once(receiver, 'listening');
const portOf = (server: { address(): unknown }): number => (server.address() as AddressInfo).port;

const { data, remove } = dataFolderOnDisk();
const daemon = await startHere({ data, publicUrl: 'https://watch.example.org' });
const api = new Api(daemon.httpPort);
const from = 'shed@example.org';
await api.call('PUT', '/api/v1/reach', {
  smtp: { host: LOOPBACK, port: portOf(smtp.server), security: 'none', from },
});
await api.call('PUT', '/api/v1/reach/people/Ada', {
  email: 'ada@example.org',
  post: { url: `http://${LOOPBACK}:${portOf(receiver)}/`, secret: 'a secret of the siren' },
});
const device = await connectAsync(`mqtt://${LOOPBACK}:${daemon.mqttPort}`);
const read = (value: number) =>
  device.publishAsync(readingTopic('barn', 'r1', 'liquid-temperature'), String(value), { qos: 1 });
await read(CALM_C);
await api.stateSite('barn', { pressureHPa: 1013.25 });
await api.enter(await api.openBatch('barn:r1'), 'react');

const took = { mail: [] as number[], post: [] as number[] };
for (let run = 0; run < RUNS; run++) {
  await wait(1000);
  const before = { mail: accepted.mail.length, post: accepted.post.length };
  const startMs = performance.now();
  await read(NEAR_C);
  for (const way of ['mail', 'post'] as const) {
    await eventually(
      () => accepted[way].length,
      (count) => count > before[way],
    );
    took[way].push(accepted[way][before[way]]! - startMs);
  }
  await wait(1000);
  await read(CALM_C);
}

await device.endAsync();
await daemon.close();
receiver.close();
await new Promise<void>((resolve) => void smtp.close(() => resolve()));
remove();

for (const way of ['mail', 'post'] as const) {
  const sorted = took[way].toSorted((a, b) => a - b);
  const median = (sorted[RUNS / 2 - 1]! + sorted[RUNS / 2]!) / 2;
  const worst = sorted.at(-1)!;
  process.stdout.write(
    `${way}: median ${median.toFixed(0)} ms, worst ${worst.toFixed(0)} ms of ${RUNS}; wanted: under ${MOST_MS} ms\n`,
  );
  if (worst >= MOST_MS) process.exitCode = 1;
}
