/**
 * How much memory a daemon takes while a hundred channels come at 10 Hz, each reading by itself, acknowledged, and
 * somebody asks for the last hour of one of them now and then. Linux only. `npm run bench:store-memory -- [SECONDS]`
 * (600), after `npm run build`.
 */
import { readFileSync } from 'node:fs';
import { setTimeout as wait } from 'node:timers/promises';
import { connectAsync } from 'mqtt';
import { readingTopic } from '../../shared/wire/topics.ts';
import { dataFolderOnDisk, LOOPBACK, serve } from '../support/serving.ts';

const seconds = Number(process.argv[2] ?? 600);
const CHANNELS = 100;
const HZ = 10;
const MEGABYTE = 1024 * 1024;
const MOST_MB = 150;

const residentMb = (pid: number): number =>
  (Number(/^VmRSS:\s+(\d+) kB/m.exec(readFileSync(`/proc/${pid}/status`, 'utf8'))![1]) * 1024) / MEGABYTE;

const { data, remove } = dataFolderOnDisk();
const daemon = await serve({ data });
const client = await connectAsync(`mqtt://${LOOPBACK}:${daemon.mqttPort}`);
const topics = Array.from({ length: CHANNELS }, (_, i) =>
  readingTopic('barn', `r${Math.floor(i / 10)}`, `probe-${i % 10}`),
);
const resident: number[] = [];
let [sent, acknowledged, furthestBehind] = [0, 0, 0];
const startMs = Date.now();
try {
  for (let tick = 0; tick < seconds * HZ; tick++) {
    const at = startMs + (1000 / HZ) * tick;
    await wait(Math.max(0, at - Date.now()));
    for (const [i, topic] of topics.entries()) {
      const value = 55 + Math.round(16 * Math.sin(tick / 600 + i)) / 16;
      sent++;
      void client.publishAsync(topic, JSON.stringify({ value, at, seq: tick }), { qos: 1 }).then(() => {
        acknowledged++;
      });
    }
    furthestBehind = Math.max(furthestBehind, sent - acknowledged);
    if (tick % HZ === 0) resident.push(residentMb(daemon.pid));
    if (tick % (30 * HZ) === 0) {
      const url = `http://${LOOPBACK}:${daemon.httpPort}/api/v1/vessels/r1/readings?channel=probe-3&from=${at - 3_600_000}`;
      for (const points of ['500', 'raw']) await (await fetch(`${url}&points=${points}`)).arrayBuffer();
    }
  }
  for (let i = 0; i < 100 && acknowledged < sent; i++) await wait(100);
  const most = Math.max(...resident);
  const minute = (at: number): string =>
    `${resident[Math.min(resident.length - 1, Math.floor(at * (resident.length - 1)))]!.toFixed(0)}`;
  process.stdout.write(
    [
      `${sent} readings of ${CHANNELS} channels in ${((Date.now() - startMs) / 1000).toFixed(0)} s, ${acknowledged} acknowledged, at most ${furthestBehind} on their way, node ${process.version}`,
      '| what | figure | aim |',
      '| --- | --- | --- |',
      `| memory of the daemon, most | ${most.toFixed(0)} MB | under ${MOST_MB} MB |`,
      `| at the beginning, after a quarter, half, three quarters, at the end | ${[0, 0.25, 0.5, 0.75, 1].map(minute).join(', ')} MB |  |`,
      '',
    ].join('\n'),
  );
} finally {
  await client.endAsync(true);
  daemon.kill('SIGTERM');
  await daemon.ended;
  remove();
}
