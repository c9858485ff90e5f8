import { createHash } from 'node:crypto';
import { once } from 'node:events';
import { connect } from 'node:net';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { backupInThread, openStore } from '../../../daemon/store/open.ts';
import { restoreStore } from '../../../daemon/store/sqlite/backup.ts';
import { openReadable } from '../../../daemon/store/sqlite/database.ts';
import { isDifference, verifyDatabase } from '../../../daemon/store/sqlite/verify.ts';
import { type BatchEntry, entrySchema } from '../../../shared/wire/entries.ts';
import { ManualClock } from '../../support/manual-clock.ts';
import { jpegOf, pngOf } from '../../support/pictures.ts';
import { ask, type RunningDaemon, runDaemon } from '../running-daemon.ts';
import { temporaryDir } from '../store/fixture.ts';
import { expectProblem } from './problem.ts';

const START_MS = Date.UTC(2026, 2, 2, 10);
const MOST_BYTES = 4 * 1024 * 1024;

let data: string;
let daemon: RunningDaemon;
let clock: ManualClock;
const cleanUps: (() => Promise<void>)[] = [];
beforeAll(async () => {
  data = join(temporaryDir(afterAll), 'data');
  clock = new ManualClock(START_MS);
  daemon = await runDaemon({ clock, data }, (cleanUp) => cleanUps.push(cleanUp));
  await daemon.read('barn/r1/liquid-temperature', 20);
  await daemon.send('PUT', '/api/v1/sites/barn', { altitudeM: 340 });
});
afterAll(async () => {
  for (const cleanUp of cleanUps) await cleanUp();
});

const sha256 = (bytes: Buffer) => createHash('sha256').update(bytes).digest('hex');

const take = (id: string, picture: Buffer, query = '', type: string | null = 'image/jpeg') =>
  ask(
    daemon.httpPort,
    'POST',
    `/api/v1/batches/${id}/photographs${query}`,
    type === null ? {} : { 'content-type': type },
    picture,
  );
const see = (id: string, entry: string) => daemon.get(`/api/v1/batches/${id}/photographs/${entry}`);
const entriesOf = async (id: string): Promise<BatchEntry[]> =>
  (await daemon.get(`/api/v1/batches/${id}`)).json.entries;

async function opened(): Promise<string> {
  const { status, json } = await daemon.send('POST', '/api/v1/batches', { vessel: 'barn:r1' });
  expect(status).toBe(201);
  return json.id;
}
const end = (id: string) => daemon.send('POST', `/api/v1/batches/${id}/stage`, { stage: 'void' });

/** The bytes of an answer, which is no text. */
async function bytesOf(path: string): Promise<Buffer> {
  const answer = await fetch(`http://127.0.0.1:${daemon.httpPort}${path}`);
  expect(answer.status).toBe(200);
  return Buffer.from(await answer.arrayBuffer());
}

describe('a photograph', () => {
  test('is an entry that names its hash, and comes back byte for byte', async () => {
    const id = await opened();
    const picture = jpegOf({ width: 640, height: 480, orientation: 6 });
    const made = await take(
      id,
      picture,
      `?text=${encodeURIComponent('ring of Öl & soap')}&by=Ida&at=2026-03-02T09:00:00.000Z`,
    );
    expect(made.status).toBe(201);
    expect(entrySchema.parse(made.json)).toEqual({
      id: `${id}-1`,
      vessel: 'r1',
      at: '2026-03-02T09:00:00.000Z',
      noted: '2026-03-02T10:00:00.000Z',
      by: 'Ida',
      stage: 'idle',
      what: {
        kind: 'photograph',
        text: 'ring of Öl & soap',
        type: 'image/jpeg',
        bytes: picture.length,
        width: 640,
        height: 480,
        sha256: sha256(picture),
      },
      result: null,
      corrects: null,
      correctedBy: null,
    });
    expect(await entriesOf(id)).toEqual([made.json]);
    const answer = await see(id, `${id}-1`);
    expect(answer.status).toBe(200);
    expect(answer.headers).toMatchObject({
      'content-type': 'image/jpeg',
      'x-content-type-options': 'nosniff',
      'content-disposition': `inline; filename="photograph-${id}-1.jpg"`,
      'content-security-policy': "default-src 'none'; sandbox",
      'cache-control': 'private, max-age=31536000, immutable',
    });
    expect(await bytesOf(`/api/v1/batches/${id}/photographs/${id}-1`)).toEqual(picture);
    await end(id);
    // The longest, in letters that take the most room.
    const longest = '語'.repeat(1000);
    const told = await take(id, picture, `?text=${encodeURIComponent(longest)}`);
    expect(told.json.what.text).toBe(longest);
    const afterwards = await take(id, pngOf(), `?at=${START_MS - 5}`, 'image/png');
    expect(afterwards.json).toMatchObject({
      at: new Date(START_MS - 5).toISOString(),
      what: { text: '', type: 'image/png', width: 5, height: 3 },
    });
    expect((await see(id, `${id}-3`)).headers['content-type']).toBe('image/png');
  });

  test('can be corrected by a note, and stays', async () => {
    const id = await opened();
    await take(id, jpegOf());
    const corrects = { entry: `${id}-1`, reason: 'of another batch' };
    const body = { what: { kind: 'note', text: 'no picture' }, corrects };
    expect((await daemon.send('POST', `/api/v1/batches/${id}/entries`, body)).status).toBe(201);
    expect((await entriesOf(id))[0]).toMatchObject({ correctedBy: `${id}-2` });
    expect((await see(id, `${id}-1`)).status).toBe(200);
    await end(id);
  });

  test('is taken up to 4 MiB', { timeout: 30_000 }, async () => {
    const id = await opened();
    const largest = jpegOf({ bytes: MOST_BYTES });
    expect(largest.length).toBe(MOST_BYTES);
    expect((await take(id, largest)).status).toBe(201);
    expect(sha256(await bytesOf(`/api/v1/batches/${id}/photographs/${id}-1`))).toBe(sha256(largest));
    expectProblem(await take(id, Buffer.concat([largest, Buffer.alloc(1)])), 413, 'too-large');
    await end(id);
  });

  test('of no batch is refused before it has been sent', async () => {
    const socket = connect(daemon.httpPort, '127.0.0.1');
    const path = '/api/v1/batches/none/photographs';
    socket.write(
      `POST ${path} HTTP/1.1\r\nHost: localhost\r\nContent-Type: image/png\r\nContent-Length: 4000000\r\n\r\n`,
    );
    const [answer] = (await once(socket, 'data')) as [Buffer];
    socket.destroy();
    expect(answer.toString()).toMatch(/^HTTP\/1\.1 404 [\s\S]*batch-unknown/);
  });

  test('of another type, or none, is refused and changes nothing', async () => {
    const id = await opened();
    for (const type of ['image/gif', 'image/svg+xml', 'application/json', 'text/plain', 'image/jpegx', null])
      expectProblem(await take(id, jpegOf(), '', type), 415, 'not-picture');
    const refused = [
      await take(id, Buffer.from('<svg/>')),
      await take(id, jpegOf(), '', 'image/png'),
      await take(id, pngOf()),
      await take(id, jpegOf().subarray(0, -1)),
      await take(id, Buffer.alloc(0)),
      await take(id, jpegOf(), '?at=soon'),
      await take(id, jpegOf(), '?at=2026-03-03T00:00:00Z'),
      await take(id, jpegOf(), '?vessel=R!'),
      await take(id, jpegOf(), '?by='),
      await take(id, jpegOf(), `?text=${'x'.repeat(1001)}`),
      await take(id, jpegOf(), '?colour=red'),
    ];
    for (const answer of refused) expectProblem(answer, 400, 'body-invalid');
    expectProblem(await take(id, jpegOf(), '?vessel=r9'), 404, 'vessel-unknown');
    expectProblem(await take('none', jpegOf()), 404, 'batch-unknown');
    // Nobody names a picture that is not there.
    const what = { kind: 'photograph', text: '', type: 'image/png', bytes: 1, width: 1, height: 1 };
    const named = { what: { ...what, sha256: 'a'.repeat(64) } };
    expectProblem(await daemon.send('POST', `/api/v1/batches/${id}/entries`, named), 400, 'body-invalid');
    expect(await entriesOf(id)).toEqual([]);
    await end(id);
  });

  test('that is not there is not found', async () => {
    const id = await opened();
    const body = { what: { kind: 'note', text: 'no picture' } };
    await daemon.send('POST', `/api/v1/batches/${id}/entries`, body);
    expectProblem(await see(id, `${id}-1`), 404, 'entry-unknown');
    expectProblem(await see(id, `${id}-2`), 404, 'entry-unknown');
    expectProblem(await see('none', 'x'), 404, 'batch-unknown');
    await end(id);
  });

  test('is one of a hundred at most, by whomever at once', { timeout: 60_000 }, async () => {
    const id = await opened();
    const answers = await Promise.all(
      Array.from({ length: 102 }, (_, i) => take(id, jpegOf({ width: i + 1 }))),
    );
    expect(answers.filter(({ status }) => status === 201)).toHaveLength(100);
    for (const answer of answers.filter(({ status }) => status !== 201))
      expectProblem(answer, 409, 'photographs-full');
    expect(await entriesOf(id)).toHaveLength(100);
    await end(id);
  });

  test('is verified, and goes with a copy', { timeout: 60_000 }, async () => {
    const id = await opened();
    const picture = pngOf({ width: 77 });
    await take(id, picture, '', 'image/png');
    const folder = temporaryDir();
    await backupInThread(data, join(folder, 'copy.db'));
    await restoreStore(join(folder, 'copy.db'), join(folder, 'data'));
    const store = await openStore(join(folder, 'data'));
    const found = await store.photograph(sha256(picture));
    await store.close();
    expect(Buffer.from(found!.content)).toEqual(picture);
    const reader = openReadable(data);
    expect(isDifference(verifyDatabase(reader))).toBe(false);
    reader.close();
    await end(id);
  });

  test('is there after a restart', async () => {
    const id = await opened();
    await take(id, jpegOf({ width: 99 }));
    const before = await entriesOf(id);
    await daemon.stop();
    daemon = await runDaemon({ clock, data }, (cleanUp) => cleanUps.push(cleanUp));
    expect(await entriesOf(id)).toEqual(before);
    expect((await see(id, `${id}-1`)).status).toBe(200);
    expect(daemon.errors).toEqual([]);
  });
});
