import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { connectAsync } from 'mqtt';
import { describe, expect, onTestFinished, test } from 'vitest';
import { recordedBatch } from '../../daemon/record/recorded-batch.ts';
import { openStore } from '../../daemon/store/open.ts';
import { openReadable } from '../../daemon/store/sqlite/database.ts';
import { isDifference, verifyDatabase } from '../../daemon/store/sqlite/verify.ts';
import type { Store } from '../../daemon/store/store.ts';
import { gather } from '../daemon/replay-sources/gather.ts';
import { everyEntryOf } from '../daemon/store/fixture.ts';
import { replayedAlarms, storedAlarms } from '../support/alarm-lines.ts';
import { Api, eventually, look } from '../support/api.ts';
import { LOOPBACK, startHere } from '../support/serving.ts';

/** A disk of so many kB that exists for one test; undefined where this user may mount none. */
function smallDisk(kilobytes: number): string | undefined {
  const folder = mkdtempSync(join(tmpdir(), 'esterwatch-disk-'));
  const mounted = spawnSync('mount', ['-t', 'tmpfs', '-o', `size=${kilobytes}k`, 'tmpfs', folder]);
  onTestFinished(() => {
    if (mounted.status === 0) spawnSync('umount', ['--lazy', folder]);
    rmSync(folder, { recursive: true, force: true });
  });
  return mounted.status === 0 ? folder : undefined;
}

describe('a full disk', () => {
  test('acknowledges nothing, warns all the same, says so, and goes on by itself', async ({ skip }) => {
    const disk = smallDisk(4096);
    if (disk === undefined) return skip('this user may not mount a file system');
    const data = join(disk, 'data');
    let store: Store | undefined;
    const daemon = await startHere({
      data,
      openStore: async (dir) => {
        store = await openStore(dir);
        return store;
      },
    });
    onTestFinished(() => daemon.close());
    const api = new Api(daemon.httpPort);
    const device = await connectAsync(`mqtt://${LOOPBACK}:${daemon.mqttPort}`);
    onTestFinished(() => device.endAsync(true));
    let acknowledged = 0;
    const measure = (value: number): Promise<void> =>
      device
        .publishAsync('esterwatch/v1/reading/shed/r1/liquid-temperature', String(value), { qos: 1 })
        .then(() => {
          acknowledged++;
        });
    await measure(60);
    await api.stateSite('shed', { altitudeM: 0 });
    const batch = await api.openBatch('shed:r1');
    await api.enter(batch, 'react');
    const viewer = await look(daemon.httpPort);

    // What is left of the disk is taken by somebody else.
    const ballast = join(disk, 'ballast');
    expect(spawnSync('dd', ['if=/dev/zero', `of=${ballast}`, 'bs=4096']).status).not.toBe(0);
    const waiting = [62, 62.1, 64.7, 64.8].map(measure);
    const raised = () =>
      viewer.heard.flatMap((message) =>
        message.type === 'alarm' && message.event === 'raised' ? [message.alarm] : [],
      );
    await eventually(raised, (names) => names.includes('boiling-reached'));
    expect(acknowledged).toBe(1);
    const health = await fetch(`http://${LOOPBACK}:${daemon.httpPort}/api/v1/health`);
    expect(health.status).toBe(503);
    expect(await health.json()).toMatchObject({ ready: false, store: { writing: false } });
    const isTold = () =>
      viewer.heard.some((message) => message.type === 'beat' && message.notKept !== undefined);
    await eventually(isTold, (told) => told);
    expect((await api.alarms('?standing=true')).map(({ alarm }) => alarm)).toContain('boiling-reached');
    expect(acknowledged).toBe(1);
    // What the same device sends next is judged as well, though it has no answer to the first.
    waiting.push(measure(62.4));
    const cleared = () =>
      viewer.heard.flatMap((message) =>
        message.type === 'alarm' && message.event === 'cleared' ? [message.alarm] : [],
      );
    await eventually(cleared, (names) => names.includes('boiling-reached'));
    // Silence is judged, too: the clock goes on.
    await eventually(raised, (names) => names.includes('reading-late'));

    rmSync(ballast);
    await Promise.all(waiting);
    await eventually(
      async () => (await fetch(`http://${LOOPBACK}:${daemon.httpPort}/api/v1/health`)).status,
      (status) => status === 200,
    );
    for (const value of [62, 60]) await measure(value);
    const entries = await eventually(
      () => everyEntryOf(store!, 'shed'),
      (all) =>
        storedAlarms(all).some(({ alarm, event }) => alarm === 'boiling-reached' && event === 'cleared'),
    );
    const values = entries.flatMap((entry) => (entry.kind === 'reading' ? entry.value : []));
    expect(values).toEqual([60, 62, 62.1, 64.7, 64.8, 62.4, 62, 60]);
    const replayed = replayedAlarms(await gather((await recordedBatch(store!, batch))!));
    expect(storedAlarms(entries)).toEqual(replayed);
    const reader = openReadable(data);
    onTestFinished(() => void reader.close());
    expect(isDifference(verifyDatabase(reader))).toBe(false);
  }, 60_000);

  test('from the start on is said in one line, and nothing is left behind that is taken for a store', async ({
    skip,
  }) => {
    const disk = smallDisk(64);
    if (disk === undefined) return skip('this user may not mount a file system');
    expect(spawnSync('dd', ['if=/dev/zero', `of=${join(disk, 'ballast')}`, 'bs=4096']).status).not.toBe(0);
    await expect(openStore(join(disk, 'data'))).rejects.toMatchObject({
      code: expect.stringMatching(/^store-(unwritable|write-failed)$/),
    });
    rmSync(join(disk, 'ballast'));
    const store = await openStore(join(disk, 'data')).catch((error: unknown) => error);
    // 64 kB may be too little for a store; then that is said again.
    if (store instanceof Error) expect(store).toMatchObject({ code: expect.stringMatching(/^store-/) });
    else await (store as Store).close();
  });
});
