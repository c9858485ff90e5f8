import { existsSync, mkdirSync, readdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { openReadableFile } from '../../daemon/store/sqlite/database.ts';
import { isDifference, verifyDatabase } from '../../daemon/store/sqlite/verify.ts';
import { ManualClock } from '../support/manual-clock.ts';
import { patiently } from '../support/patiently.ts';
import { runDaemon } from './running-daemon.ts';
import { temporaryDir } from './store/fixture.ts';

const START_MS = Date.UTC(2026, 2, 2, 10);
const DAY_MS = 24 * 3_600_000;

const isWhole = (file: string): boolean => {
  const database = openReadableFile(file, file);
  try {
    return !isDifference(verifyDatabase(database));
  } finally {
    database.close();
  }
};

test('a verified copy a day, the newest are kept, and other files are left alone', async () => {
  const folder = temporaryDir();
  const clock = new ManualClock(START_MS);
  const daemon = await runDaemon({ clock, backup: { folder, keep: 2 } });
  const copies = () => readdirSync(folder).filter((name) => name.endsWith('.db'));
  await patiently(() => expect(copies()).toEqual(['esterwatch-2026-03-02.db']));
  // One of somebody else, one of a clock that ran ahead, and one that a killed daemon left.
  for (const name of [
    'esterwatch-notes.db',
    'esterwatch-2099-01-01.db',
    'esterwatch-2026-02-01.db.0123abcd.copying',
  ])
    writeFileSync(join(folder, name), 'mine');
  await daemon.read('barn/r1/liquid-temperature', 50);
  for (const day of ['03', '04']) {
    clock.setWallBy(DAY_MS);
    await patiently(() => {
      // A look that comes before the copy before is over makes none.
      clock.advance(10 * 60_000);
      expect(copies()).toContain(`esterwatch-2026-03-${day}.db`);
    });
  }
  await patiently(() =>
    expect(readdirSync(folder).sort()).toEqual([
      'esterwatch-2026-03-03.db',
      'esterwatch-2026-03-04.db',
      'esterwatch-2099-01-01.db',
      'esterwatch-notes.db',
    ]),
  );
  for (const day of ['03', '04']) expect(isWhole(join(folder, `esterwatch-2026-03-${day}.db`))).toBe(true);
  const { json } = await daemon.get('/api/v1/health');
  expect(json.backup).toEqual({ last: expect.stringMatching(/^2026-03-04T/), because: null });
});

test('one that fails is said, makes no folder, does not make the daemon unready, and is tried again', async () => {
  const folder = join(temporaryDir(), 'stick');
  const clock = new ManualClock(START_MS);
  const daemon = await runDaemon({ clock, backup: { folder, keep: 2 } });
  const health = async () => await daemon.get('/api/v1/health');
  await patiently(async () => expect((await health()).json.backup.because).toContain(folder));
  expect((await health()).status).toBe(200);
  expect(existsSync(folder)).toBe(false);
  mkdirSync(folder);
  clock.advance(10 * 60_000);
  await patiently(async () => expect((await health()).json.backup).toMatchObject({ because: null }));
  expect(readdirSync(folder)).toEqual(['esterwatch-2026-03-02.db']);
});

test('without a word in the configuration there is none', async () => {
  const daemon = await runDaemon({ clock: new ManualClock(START_MS) });
  expect((await daemon.get('/api/v1/health')).json.backup).toBeNull();
});
