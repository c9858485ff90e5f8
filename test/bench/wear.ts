/**
 * What a daemon writes to the disk with 20 vessels of 6 channels at 1 Hz, each vessel's device sending at its own
 * moment of the second: what wears a memory card. By itself after `npm run build`; MINUTES (70: with the sealing of an
 * hour), VESSELS, CHANNELS and every how many seconds they send (1) may be given. What the file system writes of its
 * own (journal, inodes) is not in it.
 */
import { readFileSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as wait } from 'node:timers/promises';
import { connectAsync } from 'mqtt';
import { readingTopic } from '../../shared/wire/topics.ts';
import { dataFolderOnDisk, LOOPBACK, serve } from '../support/serving.ts';
import { printHead, printRow } from './table.ts';

const [minutes = 70, vessels = 20, channels = 6, everyS = 1] = process.argv.slice(2).map(Number);
const CHANNELS = [
  'liquid-temperature',
  'stirrer-speed',
  'liquid-temperature-2',
  'wall-temperature',
  'stirrer-current',
  'ambient-temperature',
].slice(0, channels);
/** Until the daemon and its devices have found their pace. */
const WARM_UP_S = 30;
const MB = 1e6;
const DAY_S = 86_400;

/** Bytes that a process has had written to the disk (proc(5), `write_bytes`). */
const writtenBytes = (pid: number): number =>
  Number(/^write_bytes: (\d+)$/m.exec(readFileSync(`/proc/${pid}/io`, 'utf8'))![1]);

async function device(port: number, vessel: number, untilMs: number): Promise<number> {
  const client = await connectAsync(`mqtt://${LOOPBACK}:${port}`);
  const phaseMs = (vessel * 1000) / vessels;
  let sent = 0;
  for (let second = Math.ceil(Date.now() / 1000); second * 1000 < untilMs; second += everyS) {
    const aheadMs = second * 1000 + phaseMs - Date.now();
    if (aheadMs > 0) await wait(aheadMs);
    await Promise.all(
      CHANNELS.map((channel, i) => {
        const value = 40 + i + ((second * 7 + vessel) % 32) / 16;
        const payload = JSON.stringify({ value, at: Math.round(second * 1000 + phaseMs), seq: second });
        return client.publishAsync(readingTopic('barn', `v${vessel}`, channel), payload, { qos: 1 });
      }),
    );
    sent += CHANNELS.length;
  }
  await client.endAsync();
  return sent;
}

const { data, remove } = dataFolderOnDisk();
const daemon = await serve({ data });
const endMs = Date.now() + 1000 * (WARM_UP_S + 60 * minutes);
const sending = Promise.all(
  Array.from({ length: vessels }, (_, vessel) => device(daemon.mqttPort!, vessel, endMs)),
);
await wait(1000 * WARM_UP_S);
const [from, fromBytes] = [performance.now(), writtenBytes(daemon.pid)];
const everyMinute: number[] = [];
let before = fromBytes;
for (let minute = 1; minute <= minutes; minute++) {
  await wait(Math.max(0, from + 60_000 * minute - performance.now()));
  const now = writtenBytes(daemon.pid);
  everyMinute.push((now - before) / MB);
  before = now;
}
const seconds = (performance.now() - from) / 1000;
const perS = (before - fromBytes) / seconds;
const sent = (await sending).reduce((sum, of) => sum + of, 0);
const readingsPerS = sent / (WARM_UP_S + 60 * minutes);
daemon.kill('SIGTERM');
await daemon.ended;
const keptBytes = statSync(join(data, 'store.db')).size;
remove();
printHead();
printRow({
  what: `written with ${vessels} vessels × ${CHANNELS.length} channels every ${everyS} s, ${minutes} min, scaled to a day`,
  figure: `${((perS * DAY_S) / 1e9).toFixed(1)} GB a day`,
  beside: `${readingsPerS.toFixed(0)} readings/s; the file has ${(keptBytes / MB).toFixed(1)} MB then`,
  raw: `MB a minute: ${everyMinute.map((mb) => mb.toFixed(1)).join(', ')}`,
});
