/**
 * How much memory a daemon holds that takes in 20 vessels with 6 channels at 1 Hz, and whether it grows over a day of
 * that. By itself after `npm run build`; HOURS (24), and how many times as fast as the clock (120), may be given.
 */
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { createInterface } from 'node:readline';
import { setTimeout as wait } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import { connectAsync, type MqttClient } from 'mqtt';
import { readingTopic } from '../../shared/wire/topics.ts';
import { dataFolderOnDisk, LOOPBACK, serve } from '../support/serving.ts';
import { heldMB, printHead, printRow, USUAL_CHANNELS } from './table.ts';

const [hours = 24, speed = 120] = process.argv.slice(2).map(Number);
const VESSELS = 20;
const REAL_S = 120;
const LOOK_EVERY_S = 5;
/** A device that sends every ten seconds: as many messages as the clock is faster would measure the client. */
const TOGETHER = 10;

/** One reading a channel for each second of the daemon's time, those of `together` seconds in one message. */
async function send(port: number, seconds: number, timesAsFast: number, together: number): Promise<void> {
  const clients: MqttClient[] = await Promise.all(
    Array.from({ length: VESSELS }, () => connectAsync(`mqtt://${LOOPBACK}:${port}`)),
  );
  const [from, fromMs] = [performance.now(), Date.now()];
  for (let second = 0; second < seconds; second += together) {
    const ahead = ((second + together) * 1000) / timesAsFast - (performance.now() - from);
    if (ahead > 0) await wait(ahead);
    await Promise.all(
      clients.flatMap((client, vessel) =>
        USUAL_CHANNELS.map((channel, i) => {
          const readings = Array.from({ length: together }, (_, s) => ({
            value: 40 + i + (((second + s) * 7 + vessel) % 32) / 16,
            at: fromMs + (second + s) * 1000,
          }));
          const payload = JSON.stringify(together === 1 ? readings[0] : readings);
          return client.publishAsync(readingTopic('barn', `v${vessel}`, channel), payload, { qos: 1 });
        }),
      ),
    );
  }
  await Promise.all(clients.map((client) => client.endAsync()));
}

async function watched(pid: number, run: Promise<void>, everyS: number): Promise<number[]> {
  const held: number[] = [];
  const looking = setInterval(() => held.push(heldMB(pid)), everyS * 1000);
  await run;
  clearInterval(looking);
  return held;
}

printHead();
{
  const { data, remove } = dataFolderOnDisk();
  const daemon = await serve({ data });
  const held = await watched(daemon.pid, send(daemon.mqttPort!, REAL_S, 1, 1), LOOK_EVERY_S);
  daemon.kill('SIGTERM');
  await daemon.ended;
  remove();
  printRow({
    what: `memory with ${VESSELS} vessels × ${USUAL_CHANNELS.length} channels at 1 Hz, at most, ${REAL_S} s`,
    figure: `${Math.max(...held).toFixed(0)} MB`,
    aim: 'under 130 MB',
    raw: held
      .filter((_, i) => i % 4 === 0)
      .map((mb) => mb.toFixed(0))
      .join(', '),
  });
}
{
  const { data, remove } = dataFolderOnDisk();
  const path = fileURLToPath(new URL('load/fast-daemon.ts', import.meta.url));
  const child = spawn(process.execPath, ['--import', 'tsx', path, JSON.stringify({ data, speed })], {
    stdio: ['pipe', 'pipe', 'inherit'],
  });
  const [line] = (await once(createInterface({ input: child.stdout }), 'line')) as [string];
  const everyS = 1800 / speed;
  const held = await watched(child.pid!, send(Number(line), hours * 3600, speed, TOGETHER), everyS);
  child.stdin.end();
  await once(child, 'exit');
  remove();
  // What is kept of a day, such as the newest readings of each channel, is there after its first hours.
  const half = held.length >> 1;
  const most = (part: readonly number[]): number => Math.max(...part);
  const [early, late] = [most(held.slice(half / 2, half)), most(held.slice(half))];
  printRow({
    what: `memory with as many at ${speed} times the clock, most in the second half of ${hours} h`,
    figure: `${late.toFixed(0)} MB`,
    beside: `${early.toFixed(0)} MB, in the quarter before`,
    ratio: late / early,
    aim: 'grows by nothing that does not stop',
    raw: held
      .filter((_, i) => i % Math.ceil(held.length / 12) === 0)
      .map((mb) => mb.toFixed(0))
      .join(', '),
  });
}
