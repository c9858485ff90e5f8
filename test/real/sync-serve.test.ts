import { copyFileSync, readFileSync, statfsSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { connectAsync } from 'mqtt';
import { build } from 'vite';
import { describe, expect, onTestFinished, test } from 'vitest';
import { eventually } from '../support/api.ts';
import { dataFolderOnDisk, LOOPBACK, serve } from '../support/serving.ts';
import { answersIn, readTrace, straceArguments, type TracedAnswer } from '../support/sync-trace.ts';

/** Linux, `include/uapi/linux/magic.h`: a file system in memory, where a sync proves nothing. */
const TMPFS_MAGIC = 0x01021994;
const DAEMON = fileURLToPath(new URL('../../daemon/', import.meta.url));
const READINGS = 8;

/** The daemon under a trace while one reading after another is published and acknowledged. */
async function traceServing(folder: string, main?: string): Promise<TracedAnswer[]> {
  expect(statfsSync(folder).type).not.toBe(TMPFS_MAGIC);
  const trace = join(folder, 'trace');
  // -D: the daemon itself is the process that was started, and gets its signals.
  const under = ['strace', '-D', ...straceArguments(trace)];
  const served = await serve({ data: join(folder, 'data'), under, ...(main !== undefined && { main }) });
  onTestFinished(() => served.kill('SIGKILL'));
  const device = await connectAsync(`mqtt://${LOOPBACK}:${served.mqttPort}`);
  for (let seq = 1; seq <= READINGS; seq++) {
    const reading = JSON.stringify({ value: 50, at: 1_772_446_500_000 + seq, seq });
    await device.publishAsync('esterwatch/v1/reading/shed/r1/liquid-temperature', reading, { qos: 1 });
  }
  await device.endAsync();
  served.kill('SIGTERM');
  expect((await served.ended).code).toBe(0);

  const socket = `${LOOPBACK}:${served.mqttPort}->`;
  // PUBACK: 40 02 and the packet identifier (MQTT 3.1.1, 3.4), in one piece or several; 40 prints as @.
  const answers = () =>
    answersIn(
      readTrace(readFileSync(trace, 'utf8')),
      (path) => path.endsWith('/store.db-wal'),
      ({ path, args }) => path.includes(socket) && /"@(\\2|", iov_len=1}, {iov_base="\\2")/.test(args),
    );
  return eventually(answers, ({ length }) => length === READINGS);
}

function folderOnDisk(): string {
  const { data, remove } = dataFolderOnDisk();
  onTestFinished(remove);
  return dirname(data);
}

// strace is Linux's alone.
describe.skipIf(process.platform !== 'linux')('serve on a real disk', () => {
  test('a PUBACK goes out after the write-ahead log was written and synced', {
    timeout: 90_000,
  }, async () => {
    const answers = await traceServing(folderOnDisk());
    expect(answers.filter(({ logWrites, synced }) => logWrites === 0 || !synced)).toEqual([]);
  });

  test('the check above finds every PUBACK of a build that does not wait for the disk', {
    timeout: 90_000,
  }, async () => {
    const folder = folderOnDisk();
    const outDir = join(folder, 'dist/daemon');
    let isHasty = false;
    await build({
      root: DAEMON,
      logLevel: 'warn',
      build: { outDir },
      plugins: [
        {
          name: 'hasty',
          transform(code, id) {
            if (!id.endsWith('/store/sqlite/database.ts')) return null;
            // `PRAGMA synchronous`: 2 is FULL, 1 is NORMAL.
            const hasty = code.replace('SYNCHRONOUS_FULL = 2', 'SYNCHRONOUS_FULL = 1');
            isHasty = hasty !== code;
            return { code: hasty, map: null };
          },
        },
      ],
    });
    expect(isHasty).toBe(true);
    // It says its version out of it.
    copyFileSync(join(DAEMON, '../package.json'), join(folder, 'package.json'));
    const answers = await traceServing(folder, join(outDir, 'main.js'));
    expect(answers.filter(({ logWrites, synced }) => logWrites > 0 && !synced)).toHaveLength(READINGS);
  });
});
