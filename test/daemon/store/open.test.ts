import { type ChildProcessByStdio, spawn } from 'node:child_process';
import { once } from 'node:events';
import {
  chmodSync,
  existsSync,
  mkdirSync,
  readdirSync,
  readFileSync,
  rmSync,
  statSync,
  writeFileSync,
} from 'node:fs';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import type { Readable } from 'node:stream';
import { fileURLToPath } from 'node:url';
import { Worker } from 'node:worker_threads';
import Database from 'better-sqlite3';
import { describe, expect, onTestFinished, test, vi } from 'vitest';
import { openHistory, openStore } from '../../../daemon/store/open.ts';
import { packUnits } from '../../../daemon/store/packed-units.ts';
import { openReadable, openWritable } from '../../../daemon/store/sqlite/database.ts';
import { APPLICATION_ID, MIGRATIONS } from '../../../daemon/store/sqlite/schema.ts';
import { isDifference, verifyDatabase } from '../../../daemon/store/sqlite/verify.ts';
import { SqliteWriter } from '../../../daemon/store/sqlite/writer.ts';
import type { StoreError } from '../../../daemon/store/store.ts';
import { action, alarmEvent, reading } from './entries.ts';
import { everyEntryOf, everyReadingOf, temporaryDir } from './fixture.ts';

const newDir = (): string => join(temporaryDir(), 'data');

/** The code with which a store cannot be opened. */
async function refusal(
  dir: string,
  open: (dir: string) => Promise<{ close(): Promise<void> }> = openStore,
): Promise<StoreError['code'] | 'opened'> {
  try {
    await (await open(dir)).close();
    return 'opened';
  } catch (error) {
    expect(error).toMatchObject({ name: 'StoreError' });
    return (error as StoreError).code;
  }
}

function startWriting(
  dir: string,
  firstSeq: number,
  groups: number,
  ...mode: 'sealing'[]
): ChildProcessByStdio<null, Readable, null> {
  const script = fileURLToPath(new URL('./writing-process.ts', import.meta.url));
  const args = ['--import', 'tsx', script, dir, String(firstSeq), String(groups), '25', ...mode];
  const child = spawn(process.execPath, args, { stdio: ['ignore', 'pipe', 'inherit'] });
  onTestFinished(() => {
    child.kill('SIGKILL');
  });
  return child;
}

describe('a store opened again', () => {
  test('holds what was written and goes on with the next position', async () => {
    const dir = newDir();
    const first = await openStore(dir);
    await first.write([
      {
        site: 'barn',
        entries: [reading(), action(), alarmEvent()],
        judged: { position: 3, atMs: 7 },
        snapshot: { position: 3, state: '{}' },
      },
    ]);
    const before = [await first.sites(), await first.alarms({ limit: 9 }), await everyEntryOf(first, 'barn')];
    await first.close();

    const second = await openStore(dir);
    onTestFinished(() => second.close());
    expect([
      await second.sites(),
      await second.alarms({ limit: 9 }),
      await everyEntryOf(second, 'barn'),
    ]).toEqual(before);
    const again = { site: 'barn', entries: [reading(), alarmEvent(), reading({ atMs: 2000 })] };
    expect((await second.write([again]))[0]!.entries).toEqual([
      { result: 'duplicate' },
      { result: 'duplicate' },
      { result: 'stored', position: 4, atMs: 2000 },
    ]);
  });

  test.each([[[]], [['sealing' as const]]])(
    'after the process was killed has every group it acknowledged, whole and once: %j',
    async (mode) => {
      const dir = newDir();
      let acknowledged = -1;
      for (let kill = 0; kill < 3; kill++) {
        const child = startWriting(dir, acknowledged + 1, 1_000_000, ...mode);
        let answers = 0;
        for await (const line of createInterface({ input: child.stdout })) {
          acknowledged = Number(line.replace('stored ', ''));
          if (++answers === 40) child.kill('SIGKILL'); // what it said until it was gone still counts
        }
        expect(answers).toBeGreaterThanOrEqual(40);

        const store = await openStore(dir);
        const { seq } = await store.rawReadings(everyReadingOf('barn'));
        expect(seq).toEqual(Array.from(seq, (_, n) => n));
        expect(seq.length % 25).toBe(0);
        expect(seq.length).toBeGreaterThan(acknowledged);
        expect((await store.sites())[0]!.lastPosition).toBe(seq.length);
        const reader = openReadable(dir);
        expect(isDifference(verifyDatabase(reader))).toBe(false);
        reader.close();
        await store.close();
        acknowledged = seq.length - 1; // a last group may have been stored and not said
      }
    },
    60_000,
  );
});

describe('one writer', () => {
  test('keeps a second one of the same process out until it is closed', async () => {
    const dir = newDir();
    const store = await openStore(dir);
    expect(await refusal(dir)).toBe('store-in-use');
    expect(await refusal(dir)).toBe('store-in-use'); // the refused one did not free the lock
    await store.close();
    expect(await refusal(dir)).toBe('opened');
  });

  test('keeps one of another process out until it is dead', async () => {
    const dir = newDir();
    const child = startWriting(dir, 0, 1_000_000);
    await once(child.stdout, 'data');
    expect(await refusal(dir)).toBe('store-in-use');
    child.kill('SIGKILL');
    await once(child, 'exit');
    expect(await refusal(dir)).toBe('opened');
  }, 30_000);
});

describe('a closed store', () => {
  test('has done what was asked before, and refuses what comes after', async () => {
    const dir = newDir();
    const store = await openStore(dir);
    await store.write([
      { site: 'barn', entries: Array.from({ length: 50_000 }, () => reading({ stamped: true })) },
    ]);
    const queried = Promise.all([1, 2, 3].map(() => store.rawReadings(everyReadingOf('barn'))));
    const written = store.write([{ site: 'barn', entries: [reading()] }]);
    const closed = store.close();
    await expect(store.write([])).rejects.toMatchObject({ code: 'store-closed' });
    await expect(store.sites()).rejects.toMatchObject({ code: 'store-closed' });
    await Promise.all([closed, store.close()]);
    expect((await written)[0]!.entries[0]!.result).toBe('stored');
    expect((await queried).at(-1)!.t.length).toBeGreaterThanOrEqual(50_000);
    // The writer was the last to close, although queries took longer: no log is left beside the database.
    expect(readdirSync(dir).sort()).toEqual(['lock', 'store.db']);
    expect(await refusal(dir)).toBe('opened');
  });

  test('is what a store becomes whose thread dies: what waits is rejected, and the lock is free', async () => {
    const dir = newDir();
    const calls = vi.spyOn(Worker.prototype, 'postMessage');
    onTestFinished(() => calls.mockRestore());
    const store = await openStore(dir);
    const written = Array.from({ length: 100 }, () =>
      store.write([{ site: 'barn', entries: Array.from({ length: 500 }, () => reading({ stamped: true })) }]),
    );
    const results = Promise.allSettled(written);
    await (calls.mock.contexts[0] as Worker).terminate();
    expect((await results).at(-1)).toMatchObject({ status: 'rejected', reason: { code: 'store-closed' } });
    await expect(store.write([])).rejects.toMatchObject({ code: 'store-closed' });
    await store.close();
    expect(await refusal(dir)).toBe('opened');
  });
});

describe('a folder', () => {
  test('and its files are the owner’s alone', async () => {
    const dir = newDir();
    const store = await openStore(dir);
    await store.write([{ site: 'barn', entries: [reading()] }]);
    await store.sites();
    const modes = () =>
      Object.fromEntries(readdirSync(dir).map((name) => [name, statSync(join(dir, name)).mode & 0o777]));
    const own = { lock: 0o600, 'store.db': 0o600, 'store.db-shm': 0o600, 'store.db-wal': 0o600 };
    expect(statSync(dir).mode & 0o777).toBe(0o700);
    expect(modes()).toEqual(own);
    await store.close();

    for (const name of readdirSync(dir)) chmodSync(join(dir, name), 0o644);
    const again = await openStore(dir);
    onTestFinished(() => again.close());
    expect(modes()).toEqual(own);
  });

  test('that is a file, lies under a file, or where nothing can be made is refused', async () => {
    const dir = temporaryDir();
    const file = join(dir, 'file');
    writeFileSync(file, '');
    expect(await refusal(file)).toBe('store-unwritable');
    expect(await refusal(join(file, 'data'))).toBe('store-unwritable');
    expect(await refusal('/proc/esterwatch')).toBe('store-unwritable');
    mkdirSync(join(dir, 'taken', 'store.db'), { recursive: true });
    expect(await refusal(join(dir, 'taken'))).toBe('store-unwritable');
  });
});

describe('a database', () => {
  const make = (fill: (database: Database.Database) => void): string => {
    const dir = temporaryDir();
    const database = new Database(join(dir, 'store.db'));
    fill(database);
    database.close();
    return dir;
  };

  test('of another program is refused and left as it is', async () => {
    const unmarked = make((database) => database.exec('CREATE TABLE recipe (name TEXT)'));
    expect(await refusal(unmarked)).toBe('store-not-ours');
    const marked = make((database) => database.pragma('application_id = 42'));
    expect(await refusal(marked)).toBe('store-not-ours');
    const database = new Database(join(unmarked, 'store.db'));
    onTestFinished(() => {
      database.close();
    });
    expect(database.pragma('journal_mode', { simple: true })).toBe('delete');
    expect(database.pragma('application_id', { simple: true })).toBe(0);
    expect(await refusal(unmarked)).toBe('store-not-ours');
  });

  test('that is none is refused', async () => {
    const dir = temporaryDir();
    writeFileSync(join(dir, 'store.db'), 'a letter to nobody, longer than the head of a database'.repeat(99));
    expect(await refusal(dir)).toBe('store-not-ours');
  });

  test('of a newer version is refused', async () => {
    const dir = newDir();
    await (await openStore(dir)).close();
    const database = new Database(join(dir, 'store.db'));
    expect(database.pragma('user_version', { simple: true })).toBe(MIGRATIONS.length);
    expect(database.pragma('application_id', { simple: true })).toBe(APPLICATION_ID);
    database.pragma(`user_version = ${MIGRATIONS.length + 1}`);
    database.close();
    expect(await refusal(dir)).toBe('store-newer');
  });

  test('that is gone while its log is there is not begun anew over it', async () => {
    for (const empty of [true, false]) {
      const dir = newDir();
      mkdirSync(dir);
      writeFileSync(join(dir, 'store.db-wal'), 'commits');
      if (empty) writeFileSync(join(dir, 'store.db'), '');
      expect(await refusal(dir)).toBe('store-not-ours');
      expect(readFileSync(join(dir, 'store.db-wal'), 'utf8')).toBe('commits');
    }
  });

  test('whose lock was taken away is written by one only, who was last', async () => {
    const dir = newDir();
    const first = await openStore(dir);
    onTestFinished(() => first.close());
    await first.write([{ site: 'barn', entries: [reading()] }]);
    rmSync(join(dir, 'lock'));
    const second = await openStore(dir);
    onTestFinished(() => second.close());
    await second.write([{ site: 'barn', entries: [reading({ atMs: 2000 })] }]);
    for (const atMs of [3000, 4000]) {
      const written = first.write([{ site: 'barn', entries: [reading({ atMs })] }]);
      await expect(written).rejects.toMatchObject({ code: 'store-in-use' });
    }
    await second.write([{ site: 'barn', entries: [reading({ atMs: 5000 })] }]);
    const reader = openReadable(dir);
    onTestFinished(() => void reader.close());
    expect(verifyDatabase(reader)).toMatchObject({ sites: [{ entries: 3 }] });
  });

  test('is opened for its history only where it is ours and of this version', async () => {
    const nowhere = newDir();
    expect(await refusal(nowhere, openHistory)).toBe('store-missing');
    expect(existsSync(nowhere)).toBe(false);
    const other = make((database) => database.exec('CREATE TABLE recipe (name TEXT)'));
    expect(await refusal(other, openHistory)).toBe('store-not-ours');
    const empty = make((database) => database.pragma(`application_id = ${APPLICATION_ID}`));
    expect(await refusal(empty, openHistory)).toBe('store-missing');
    const older = make((database) => {
      database.pragma(`application_id = ${APPLICATION_ID}`);
      database.pragma(`user_version = ${MIGRATIONS.length - 1}`);
    });
    expect(await refusal(older, openHistory)).toBe('store-older');
    const newer = make((database) => {
      database.pragma(`application_id = ${APPLICATION_ID}`);
      database.pragma(`user_version = ${MIGRATIONS.length + 1}`);
    });
    expect(await refusal(newer, openHistory)).toBe('store-newer');
    const folder = temporaryDir();
    mkdirSync(join(folder, 'store.db'));
    expect(await refusal(folder, openHistory)).toBe('store-unreadable');
  });

  test('shows its history beside a writer, and keeps no writer out', async () => {
    const dir = newDir();
    const store = await openStore(dir);
    const history = await openHistory(dir);
    await store.write([{ site: 'barn', entries: [reading()] }]);
    expect(await history.entriesAfter('barn', 0, 10)).toEqual([{ ...reading(), position: 1 }]);
    await store.close();
    const next = await openStore(dir);
    await next.write([{ site: 'barn', entries: [reading({ atMs: 2000 })] }]);
    expect(await history.entriesAfter('barn', 1, 10)).toHaveLength(1);
    await history.close();
    await next.close();
  });

  test('waits for the disk at every commit, also after writing', () => {
    const opened = openWritable(newDir());
    onTestFinished(() => opened.close());
    new SqliteWriter(opened).write(packUnits([{ site: 'barn', entries: [reading()] }]));
    expect(opened.database.pragma('journal_mode', { simple: true })).toBe('wal');
    expect(opened.database.pragma('synchronous', { simple: true })).toBe(2);
  });
});
