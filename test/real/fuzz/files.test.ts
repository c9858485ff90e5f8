import { cpSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as wait } from 'node:timers/promises';
import { connectAsync } from 'mqtt';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { AccessError, AccessFile } from '../../../daemon/access/access-file.ts';
import { Sessions } from '../../../daemon/access/sessions.ts';
import { UsageError } from '../../../daemon/commands/usage.ts';
import { readConfig } from '../../../daemon/config.ts';
import { ReachKeys } from '../../../daemon/reach/keys.ts';
import { SettingsFile } from '../../../daemon/reach/settings.ts';
import { openStore } from '../../../daemon/store/open.ts';
import { openReadable, openWritable } from '../../../daemon/store/sqlite/database.ts';
import { SqliteReader } from '../../../daemon/store/sqlite/reader.ts';
import { isDifference, verifyDatabase } from '../../../daemon/store/sqlite/verify.ts';
import { StoreError } from '../../../daemon/store/store.ts';
import type { Random } from '../../../simulator/random.ts';
import {
  below,
  bytes,
  chance,
  flipped,
  mutatedBytes,
  mutatedJson,
  pick,
} from '../../support/fuzz/mutations.ts';
import { TRIES_TIMEOUT_MS, tryOften } from '../../support/fuzz/tries.ts';
import { dataFolder, esterwatch, LOOPBACK, serve, startHere } from '../../support/serving.ts';

/** A start, or a verification, is over within so long, ms. */
const WITHIN_MS = 30_000;
/** A file is read within this, ms. */
const READ_WITHIN_MS = 10_000;
/** What a store that cannot be used is said to be. */
const SAID = [
  'store-not-ours',
  'store-unreadable',
  'store-unwritable',
  'store-newer',
  'store-older',
  'store-changed',
  'store-missing',
  'store-write-failed',
];

const NOW_MS = Date.now();
const KEEPER = { name: 'Keeper', passphrase: 'a shed full of carboys' };

/** A data folder with something in every file: as it was left by a stop, and as by a power cut. */
const folders = { stopped: '', cut: '' };
/** Of who is signed in there. */
let cookie = '';
const scratch = mkdtempSync(join(tmpdir(), 'esterwatch-files-'));
let last = 0;
/** A path that nothing is at. */
const fresh = (): string => join(scratch, String(last++));

beforeAll(async () => {
  const { data, remove } = dataFolder();
  const daemon = await startHere({ data });
  const base = `http://${LOOPBACK}:${daemon.httpPort}/api/v1`;
  const ask = async (method: string, path: string, body?: object) => {
    const answer = await fetch(`${base}${path}`, {
      method,
      headers: { cookie, ...(body && { 'content-type': 'application/json' }) },
      ...(body && { body: JSON.stringify(body) }),
    });
    if (!answer.ok) throw new Error(`${method} ${path}: ${answer.status} ${await answer.text()}`);
    return answer;
  };
  await ask('PUT', '/vessels/barn:r1', { role: 'reactor' });
  await ask('PUT', '/sites/barn', { altitudeM: 340 });
  const device = await connectAsync(`mqtt://${LOOPBACK}:${daemon.mqttPort}`);
  const publish = async (channel: string, value: (i: number) => number) => {
    const readings = Array.from({ length: 200 }, (_, i) => ({
      value: value(i),
      at: NOW_MS - 1000 * (200 - i),
      seq: i,
    }));
    await device.publishAsync(`esterwatch/v1/reading/barn/r1/${channel}`, JSON.stringify(readings), {
      qos: 1,
    });
  };
  await publish('liquid-temperature', (i) => 55 + (i % 9));
  const batch = (await (await ask('POST', '/batches', { vessel: 'barn:r1' })).json()) as { id: string };
  await ask('POST', `/batches/${batch.id}/entries`, { what: { kind: 'note', text: 'Öl, "warm"' } });
  await ask('POST', `/batches/${batch.id}/stage`, { stage: 'react', anyway: { reason: 'a test run' } });
  await publish('stirrer-speed', (i) => 300 - i);
  await device.publishAsync('esterwatch/v1/reading/barn/r1/liquid-temperature', '71', { qos: 1 });
  await device.publishAsync('esterwatch/v1/reading/barn/r1/liquid-temperature', '71.2', { qos: 1 });
  await device.endAsync();
  await ask('PUT', '/reach/people/Ada', { least: 'high' });
  await ask('GET', '/reach');
  await ask('PUT', `/people/${KEEPER.name}`, {
    rights: ['look', 'work', 'keep'],
    passphrase: KEEPER.passphrase,
  });
  cookie = (await ask('POST', '/session', KEEPER)).headers.get('set-cookie')!.split(';')[0]!;
  await ask('POST', '/tokens', { name: 'plotter', rights: ['look'] });
  await ask('PUT', '/publishers/probe', { site: null });
  // What the rules say comes with the next commit.
  await wait(1200);
  const lay = (folder: string): string => {
    mkdirSync(folder);
    for (const file of [...PRIVATE_FILES, 'store.db', 'store.db-wal', 'mqtt-client-id'])
      cpSync(join(data, file), join(folder, file), { force: true, errorOnExist: false });
    return folder;
  };
  writeFileSync(join(data, 'mqtt-client-id'), 'esterwatch-1\n');
  folders.cut = lay(fresh());
  await daemon.close();
  const store = await openStore(data);
  await store.seal('barn', NOW_MS + 3_600_000);
  await store.close();
  writeFileSync(join(data, 'store.db-wal'), '');
  folders.stopped = lay(fresh());
  remove();
});
afterAll(() => rmSync(scratch, { recursive: true, force: true }));

/** The same JSON or bytes, not quite. */
function spoilt(random: Random, file: Buffer): Buffer {
  if (chance(random, 0.1))
    return pick(random, [Buffer.alloc(0), bytes(random, 200), Buffer.from('null'), Buffer.alloc(4096)]);
  if (chance(random, 0.4)) return mutatedBytes(random, file);
  return Buffer.from(JSON.stringify(mutatedJson(random, JSON.parse(file.toString()))) ?? '');
}

// ---- configuration ----

const CONFIG = {
  data: '/var/lib/esterwatch',
  http: '127.0.0.1:8080',
  mqtt: '[::1]:1883',
  broker: 'mqtt://broker.invalid:1883',
  publicName: 'shed.invalid',
  mqtts: '0.0.0.0:8883',
  tls: { certificate: '/etc/c.pem', key: '/etc/k.pem' },
  ownCertificate: false,
  trustProxy: false,
  publicUrl: 'https://shed.invalid',
  stillWatching: { url: 'https://pulse.invalid/1', everySeconds: 60 },
  topics: [
    { filter: 'shed/+/temp', site: 'shed', vessel: 'r1', channel: 'ph', path: 'a.b', scale: 0.1, offset: -3 },
  ],
  backup: { folder: '/backup', keep: 14 },
  retention: { days: 365 },
};

test(
  'a configuration that is spoilt is read, or refused in a line that names the file',
  { timeout: TRIES_TIMEOUT_MS },
  () =>
    tryOften('configuration files', { withinMs: READ_WITHIN_MS }, (random) => {
      const file = join(scratch, 'config.json');
      writeFileSync(file, spoilt(random, Buffer.from(JSON.stringify(CONFIG))));
      try {
        readConfig(file);
      } catch (error) {
        expect(error).toBeInstanceOf(UsageError);
        expect((error as Error).message).toContain(file);
      }
    }),
);

// ---- files beside the store ----

const PRIVATE_FILES = ['access.json', 'sessions.json', 'reach.json', 'reach-keys.json'] as const;

/** Reads a file as the daemon does; what is wrong with it is said by its own error. */
const READ: Record<(typeof PRIVATE_FILES)[number], (folder: string) => void> = {
  'access.json': (folder) => {
    try {
      new AccessFile(folder, 0).list();
    } catch (error) {
      if (!(error instanceof AccessError)) throw error;
    }
  },
  'sessions.json': (folder) => {
    const sessions = new Sessions(folder, () => NOW_MS);
    expect(sessions.find('a secret that nobody has')).toBeNull();
    sessions.isFrom(KEEPER.name, LOOPBACK);
    sessions.begin('Ada', 'kept', LOOPBACK);
  },
  'reach.json': (folder) => {
    const settings = new SettingsFile(folder, () => {});
    settings.person('Ada');
    settings.setGeneral({
      smtp: null,
      nextAfterMinutes: { critical: 3, high: 15 },
      night: { from: '22:00', to: '07:00' },
    });
    expect(settings.damage).toBeNull();
  },
  'reach-keys.json': (folder) => {
    const keys = new ReachKeys(folder);
    try {
      expect(keys.messageOf(keys.tokenOf('m1'))).toBe('m1');
      expect(keys.messageOf('m1.forged')).toBeNull();
    } catch (error) {
      if (!(error instanceof StoreError)) throw error;
    }
  },
};

test(
  'a file of the data folder that is spoilt is read, or said to be damaged',
  { timeout: TRIES_TIMEOUT_MS },
  () =>
    tryOften('files of the data folder', { withinMs: READ_WITHIN_MS }, (random) => {
      const name = pick(random, PRIVATE_FILES);
      const folder = fresh();
      mkdirSync(folder);
      writeFileSync(join(folder, name), spoilt(random, readFileSync(join(folders.stopped, name))));
      READ[name](folder);
      rmSync(folder, { recursive: true });
    }),
);

// ---- the store ----

/** Bits flipped, sectors lost, files cut. */
function damaged(random: Random, file: Buffer): Buffer {
  const SECTOR = 512;
  const PAGE = 4096;
  if (file.length === 0) return chance(random, 0.2) ? bytes(random, 100) : file;
  switch (below(random, 6)) {
    case 0:
      return file.subarray(0, below(random, file.length));
    case 1: {
      const from = SECTOR * below(random, file.length / SECTOR);
      const lost = pick(random, [Buffer.alloc(SECTOR), Buffer.alloc(SECTOR, 0xff), bytes(random, SECTOR)]);
      return Buffer.concat([file.subarray(0, from), lost, file.subarray(from + SECTOR)]);
    }
    case 2: {
      // A page where another belongs.
      const [from, to] = [0, 0].map(() => PAGE * below(random, file.length / PAGE));
      const moved = Buffer.from(file);
      file.copy(moved, to, from, from! + PAGE);
      return moved;
    }
    default:
      return flipped(random, file);
  }
}

function damagedFolder(random: Random): string {
  const folder = fresh();
  const from = pick(random, [folders.stopped, folders.cut]);
  cpSync(from, folder, { recursive: true });
  const name = from === folders.cut && chance(random, 0.4) ? 'store.db-wal' : 'store.db';
  const path = join(folder, name);
  writeFileSync(path, damaged(random, readFileSync(path)));
  return folder;
}

/** Everything that a store says; where it cannot say it, why. */
function saidBy(folder: string): string {
  const reader = new SqliteReader(openReadable(folder));
  try {
    const ask = (what: () => unknown): unknown => {
      try {
        const answer = what();
        return answer instanceof Uint8Array ? Buffer.from(answer).toString() : answer;
      } catch (error) {
        return `cannot: ${(error as Error).message}`;
      }
    };
    const channels = ['liquid-temperature', 'stirrer-speed'];
    const query = { site: 'barn', vessel: 'r1', fromMs: 0, toMs: 8.64e15 };
    return JSON.stringify([
      ask(() => reader.sites()),
      ask(() => reader.heads()),
      ask(() => reader.actions('barn')),
      ask(() => reader.channels('barn')),
      ask(() => reader.entriesAfter('barn', 0, 10_000)),
      ...channels.map((channel) => ask(() => reader.rawReadings({ ...query, channel }))),
      ...channels.map((channel) => ask(() => reader.buckets({ ...query, channel, points: 50 }))),
      ask(() => reader.alarms({ open: false, limit: 100 })),
    ]);
  } finally {
    reader.close();
  }
}

/** Whether a store is whole, or why it cannot be used. */
function verdictOn(folder: string): 'whole' | 'changed' | StoreError['code'] {
  try {
    // As the daemon does first, which also takes the log over.
    openWritable(folder).close();
    const database = openReadable(folder);
    try {
      return isDifference(verifyDatabase(database)) ? 'changed' : 'whole';
    } finally {
      database.close();
    }
  } catch (error) {
    if (error instanceof StoreError) return error.code;
    throw error;
  }
}

test('a database that is damaged is found so, or says what it said', {
  timeout: TRIES_TIMEOUT_MS,
}, async () => {
  const original: Record<string, string> = {};
  for (const folder of Object.values(folders)) {
    const copy = fresh();
    cpSync(folder, copy, { recursive: true });
    expect(verdictOn(copy)).toBe('whole');
    original[folder] = saidBy(copy);
  }
  const met = new Map<string, number>();
  await tryOften('databases', { withinMs: WITHIN_MS }, (random) => {
    const folder = damagedFolder(random);
    const verdict = verdictOn(folder);
    met.set(verdict, (met.get(verdict) ?? 0) + 1);
    // Of a log that was cut the end may be gone, as after a power cut.
    if (verdict === 'whole') expect(isBeginning(saidBy(folder), Object.values(original))).toBe(true);
    else {
      if (verdict !== 'changed') expect(SAID).toContain(verdict);
      try {
        saidBy(folder);
      } catch (error) {
        // The store's threads give what SQLite says a name of their own.
        expect((error as { code: string }).code).toMatch(/^(store-|SQLITE_(CORRUPT|NOTADB|ERROR))/);
      }
    }
    rmSync(folder, { recursive: true });
  });
  expect(met.get('changed') ?? 0).toBeGreaterThan(0);
});

/** Whether every entry that is said is one of those that were written. */
function isBeginning(said: string, originals: readonly string[]): boolean {
  if (originals.includes(said)) return true;
  const entriesOf = (text: string) => (JSON.parse(text) as unknown[])[4] as unknown[];
  if (said.includes('"cannot: ')) return false;
  const entries = entriesOf(said);
  return originals.some((text) => {
    const all = entriesOf(text);
    return (
      entries.length < all.length &&
      entries.every((entry, i) => JSON.stringify(entry) === JSON.stringify(all[i]))
    );
  });
}

type Health = { ready: boolean; store: { because: string | null } };

const READINGS = 'vessels/barn:r1/readings?from=0&channel=liquid-temperature';
/** What reads every table. */
const ASKED = [
  'vessels',
  'batches',
  'alarms',
  'alarms/measures',
  'alarms?alarm=probe-out-of-range',
  READINGS,
  `${READINGS}&points=raw`,
  'vessels/barn:r1/timeline?from=0',
  'vessels/barn:r1/boiling?from=0',
];

test('the daemon on such a folder serves, or ends and says why', { timeout: TRIES_TIMEOUT_MS }, () =>
  tryOften('starts on damaged folders', { withinMs: 2 * WITHIN_MS, atOnce: 2 }, async (random) => {
    const folder = damagedFolder(random);
    for (const name of PRIVATE_FILES)
      if (chance(random, 0.15))
        writeFileSync(join(folder, name), spoilt(random, readFileSync(join(folder, name))));
    const mistakes: string[] = [];
    const served = await serve({ data: folder }).catch((error: Error) => error);
    if (served instanceof Error) {
      expect(served.message).toMatch(/^serve ended with 2: (\{.*\n)*esterwatch: [^\n]+\n(\(node.*\n)*$/);
    } else {
      const ask = (path: string) =>
        fetch(`http://${LOOPBACK}:${served.httpPort}/api/v1/${path}`, {
          headers: { cookie },
          signal: AbortSignal.timeout(WITHIN_MS),
        });
      try {
        const { ready, store } = (await (await ask('health')).json()) as Health;
        // It watches on where nothing can be written any more, and says so.
        if (!ready) expect(store.because).toEqual(expect.any(String));
        for (const path of ASKED) if ((await ask(path)).status === 500) mistakes.push(path);
      } finally {
        served.kill('SIGTERM');
      }
      const { code, stderr } = await served.ended;
      expect(code, stderr).toBe(0);
    }
    const verified = await esterwatch(['verify', '--data', folder]);
    expect([0, 1, 2], verified.stderr).toContain(verified.code);
    expect(mistakes).toEqual([]);
    if (verified.code !== 0 && verified.stderr !== '')
      expect(verified.stderr).toMatch(/^esterwatch: [^\n]+\n$/);
    rmSync(folder, { recursive: true, force: true });
  }),
);
