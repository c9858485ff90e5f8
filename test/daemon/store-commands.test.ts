import {
  copyFileSync,
  existsSync,
  mkdirSync,
  readdirSync,
  readFileSync,
  statSync,
  writeFileSync,
} from 'node:fs';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { describe, expect, onTestFinished, test } from 'vitest';
import { openStore } from '../../daemon/store/open.ts';
import { runCommand } from '../support/command.ts';
import { startHere } from '../support/serving.ts';
import { reading } from './store/entries.ts';
import { alterBlock, everyEntryOf, temporaryDir } from './store/fixture.ts';

/** A folder with a store in `data`, in which a site has some readings. */
async function folderWithStore(): Promise<string> {
  const folder = temporaryDir();
  const store = await openStore(join(folder, 'data'));
  for (let i = 1; i <= 20; i++) await store.write([{ site: 'barn', entries: [reading({ atMs: 1000 * i })] }]);
  await store.close();
  return folder;
}

function change(file: string, how: string | ((database: Database.Database) => void)): void {
  const database = new Database(file);
  if (typeof how === 'string') database.exec(how);
  else how(database);
  database.close();
}

const HEAD = '[0-9a-f]{64}';

describe('verify', () => {
  test('says in one line that a store is whole, with each site’s head', async () => {
    const folder = await folderWithStore();
    const { code, out, err } = await runCommand(folder, ['verify']);
    expect([code, err]).toEqual([0, '']);
    expect(out).toMatch(
      new RegExp(`^whole: 20 entries of 1 site; barn 20 ${HEAD} \\(not sealed yet: .*\\)\\n$`),
    );
  });

  test('says in one line where it is not as it was written', async () => {
    const folder = await folderWithStore();
    change(join(folder, 'data/store.db'), (database) =>
      alterBlock(database, 1, 7, ([one]) => [{ ...one!, value: 60 }]),
    );
    const { code, out, err } = await runCommand(folder, ['verify', '--data', 'data']);
    expect([code, err]).toEqual([1, '']);
    expect(out).toMatch(
      /^not as written: .*barn, entries 7 to 7, of 2025-06-15T.*r1\/liquid-temperature.*\n$/,
    );
  });

  test('finds an earlier head again, and says where the history does not lead to it', async () => {
    const folder = await folderWithStore();
    const { out } = await runCommand(folder, ['verify']);
    const head = new RegExp(HEAD).exec(out)![0];
    const store = await openStore(join(folder, 'data'));
    await store.write([{ site: 'barn', entries: [reading({ atMs: 99_000 })] }]);
    await store.close();
    const found = await runCommand(folder, ['verify', '--head', head.toUpperCase()]);
    expect([found.code, found.out]).toEqual([0, expect.stringContaining(`; found barn 20 ${head}\n`)]);
    const other = await runCommand(folder, ['verify', '--head', '0'.repeat(64)]);
    expect([other.code, other.out]).toEqual([1, expect.stringMatching(/^not as written: .*0{64}.*\n$/)]);
    const wrong = await runCommand(folder, ['verify', '--head', '1f0c']);
    expect([wrong.code, wrong.out]).toEqual([2, '']);
  });

  test('does so beside a daemon', async () => {
    const folder = await folderWithStore();
    const daemon = await startHere({ data: join(folder, 'data') });
    onTestFinished(() => daemon.close());
    expect((await runCommand(folder, ['verify'])).code).toBe(0);
  });

  test('a copy is verified where it lies, and one that is damaged is not as it was written', async () => {
    const folder = await folderWithStore();
    expect((await runCommand(folder, ['backup', '--to', 'copy.db'])).code).toBe(0);
    expect((await runCommand(folder, ['verify', '--from', 'copy.db'])).code).toBe(0);
    writeFileSync(
      join(folder, 'none.db'),
      'nothing of the kind, but long enough to be read as a header'.repeat(9),
    );
    const { code, out, err } = await runCommand(folder, ['verify', '--from', 'none.db']);
    expect([code, out, err]).toEqual([1, expect.stringMatching(/^not as written: .*\n$/), '']);
    expect((await runCommand(folder, ['verify', '--from', 'copy.db', '--data', 'data'])).code).toBe(2);
  });

  test('without a store it is wrong use', async () => {
    const { code, out, err } = await runCommand(temporaryDir(), ['verify']);
    expect([code, out]).toEqual([2, '']);
    expect(err).toMatch(/^esterwatch: .*\n$/);
  });
});

describe('backup and restore', () => {
  test('a store that a daemon writes is copied, and put back it is the same', async () => {
    const folder = await folderWithStore();
    const daemon = await startHere({ data: join(folder, 'data') });
    const copied = await runCommand(folder, ['backup', '--to', 'copy.db']);
    await daemon.close();
    expect([copied.code, copied.err]).toEqual([0, '']);
    expect(statSync(join(folder, 'copy.db')).mode & 0o777).toBe(0o600);
    const back = await runCommand(folder, ['restore', '--from', 'copy.db', '--data', 'elsewhere/data']);
    expect([back.code, back.out]).toEqual([0, copied.out]);
    const store = await openStore(join(folder, 'elsewhere/data'));
    onTestFinished(() => store.close());
    const entries = await everyEntryOf(store, 'barn');
    expect(entries.filter(({ kind }) => kind === 'reading')).toHaveLength(20);
    expect(readdirSync(folder).sort()).toEqual(['copy.db', 'data', 'elsewhere']);
  });

  test('a store that a newer version has made its own is refused as it is, and a copy from before goes on', async () => {
    const folder = await folderWithStore();
    expect((await runCommand(folder, ['backup', '--to', 'before.db'])).code).toBe(0);
    const store = join(folder, 'data/store.db');
    change(store, (database) => {
      const version = database.pragma('user_version', { simple: true }) as number;
      database.pragma(`user_version = ${version + 1}`);
    });
    const made = readFileSync(store);
    const free = ['--http', '127.0.0.1:0', '--mqtt', '127.0.0.1:0'];
    for (const args of [['serve', ...free], ['verify'], ['backup', '--to', 'after.db']]) {
      const { code, out, err } = await runCommand(folder, args);
      expect([code, out]).toEqual([2, '']);
      expect(err).toMatch(/^esterwatch: .+newer version.+restore.+\n$/);
    }
    expect(readFileSync(store).equals(made)).toBe(true);
    const back = await runCommand(folder, ['restore', '--from', 'before.db', '--data', 'again']);
    expect([back.code, back.err]).toEqual([0, '']);
    const opened = await openStore(join(folder, 'again'));
    expect(await everyEntryOf(opened, 'barn')).toHaveLength(20);
    await opened.close();
  });

  test('nothing is written over', async () => {
    const folder = await folderWithStore();
    copyFileSync(join(folder, 'data/store.db'), join(folder, 'copy.db'));
    expect((await runCommand(folder, ['backup', '--to', 'copy.db'])).code).toBe(2);
    expect((await runCommand(folder, ['restore', '--from', 'copy.db', '--data', 'data'])).code).toBe(2);
    expect((await runCommand(folder, ['verify'])).code).toBe(0);
  });

  test('what an earlier store has left beside its file keeps a copy from being put there', async () => {
    const folder = await folderWithStore();
    expect((await runCommand(folder, ['backup', '--to', 'copy.db'])).code).toBe(0);
    mkdirSync(join(folder, 'new'));
    writeFileSync(join(folder, 'new/store.db-wal'), 'an old log');
    const { code, err } = await runCommand(folder, ['restore', '--from', 'copy.db', '--data', 'new']);
    expect(code).toBe(2);
    expect(err).toContain('store.db-wal');
  });

  test('a copy with tables or triggers of somebody else is not put back, and nothing of it is run', async () => {
    const folder = await folderWithStore();
    expect((await runCommand(folder, ['backup', '--to', 'copy.db'])).code).toBe(0);
    const trigger =
      'CREATE TRIGGER t AFTER UPDATE ON site BEGIN INSERT INTO site (name) SELECT name FROM site; END';
    change(join(folder, 'copy.db'), `${trigger}; PRAGMA user_version = 2`);
    const { code, out } = await runCommand(folder, ['restore', '--from', 'copy.db', '--data', 'new']);
    expect([code, out, existsSync(join(folder, 'new/store.db'))]).toEqual([2, '', false]);
  });

  test('a history that was changed is neither kept nor put back', async () => {
    const folder = await folderWithStore();
    expect((await runCommand(folder, ['backup', '--to', 'copy.db'])).code).toBe(0);
    for (const file of ['data/store.db', 'copy.db'])
      change(join(folder, file), 'DELETE FROM block WHERE position = 20');
    const copied = await runCommand(folder, ['backup', '--to', 'again.db']);
    expect([copied.code, copied.err, existsSync(join(folder, 'again.db'))]).toEqual([1, '', false]);
    expect(copied.out).toMatch(/^not as written: /);
    const back = await runCommand(folder, ['restore', '--from', 'copy.db', '--data', 'new']);
    expect([back.code, existsSync(join(folder, 'new/store.db'))]).toEqual([1, false]);
  });

  test('what is no store, or not there, or cannot be written to, is said in one line', async () => {
    const folder = await folderWithStore();
    mkdirSync(join(folder, 'taken'));
    for (const args of [
      ['backup'],
      ['restore', '--data', 'new'],
      ['backup', '--data', 'none', '--to', 'copy.db'],
      ['backup', '--to', 'none/copy.db'],
      ['backup', '--to', 'taken'],
      ['restore', '--from', 'none.db', '--data', 'new'],
      ['restore', '--from', 'data/lock', '--data', 'new'],
    ]) {
      const { code, out, err } = await runCommand(folder, args);
      expect([args, code, out]).toEqual([args, 2, '']);
      expect(err).toMatch(/^esterwatch: .+\n$/);
    }
    expect(existsSync(join(folder, 'new/store.db'))).toBe(false);
  });
});
