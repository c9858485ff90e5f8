import { join } from 'node:path';
import { expect, onTestFinished, test, vi } from 'vitest';
import { RecordMaker } from '../../../daemon/record/record-maker.ts';
import { Records } from '../../../daemon/record/records.ts';
import { SqliteReader } from '../../../daemon/store/sqlite/reader.ts';
import { type BatchRecord, recordSchema } from '../../../shared/wire/record.ts';
import { ManualClock } from '../../support/manual-clock.ts';
import { runDaemon } from '../running-daemon.ts';
import { temporaryDir } from '../store/fixture.ts';

const START_MS = Date.UTC(2026, 2, 2, 10);
const MINUTE_MS = 60_000;
/** So many minutes after the start. */
const after = (minutes: number): number => START_MS + minutes * MINUTE_MS;

/** Four vessels, each with a reading that is no batch's, and a batch on r1 from minute 1 on. */
async function opened() {
  const data = join(temporaryDir(), 'data');
  const clock = new ManualClock(START_MS);
  const daemon = await runDaemon({ clock, data });
  onTestFinished(() => expect(daemon.errors).toEqual([]));
  for (const vessel of ['r1', 't1', 't2', 't3']) await daemon.read(`barn/${vessel}/liquid-temperature`, 1);
  await daemon.send('PUT', '/api/v1/sites/barn', { altitudeM: 340 });
  clock.advance(MINUTE_MS);
  const open = async (body: object = {}): Promise<string> => {
    const { status, json } = await daemon.send('POST', '/api/v1/batches', { vessel: 'barn:r1', ...body });
    expect(status).toBe(201);
    return json.id;
  };
  const post = async (id: string, call: string, body: object): Promise<void> =>
    expect((await daemon.send('POST', `/api/v1/batches/${id}/${call}`, body)).status).toBe(200);
  /** A reading at a minute, with the minute as its value. */
  const read = async (vessel: string, minute: number) => {
    clock.advance(after(minute) - clock.wallMs());
    await daemon.read(`barn/${vessel}/liquid-temperature`, minute);
  };
  /** Values of the CSV by vessel; the record counts as many. */
  const valuesOf = async (id: string): Promise<Record<string, number[]>> => {
    const csv = await daemon.get(`/api/v1/batches/${id}/record?format=csv`);
    const values: Record<string, number[]> = {};
    for (const row of csv.text.trimEnd().split('\n').slice(1)) {
      const [, channel, value] = row.split(',') as [string, string, string];
      const vessel = channel.includes('/') ? channel.split('/')[0]! : 'r1';
      values[vessel] = [...(values[vessel] ?? []), Number(value)];
    }
    const record: BatchRecord = recordSchema.parse(
      (await daemon.get(`/api/v1/batches/${id}/record?format=json`)).json,
    );
    for (const { vessel, readings } of record.channels) expect(readings).toBe(values[vessel]!.length);
    return values;
  };
  return { data, daemon, clock, id: await open(), open, post, read, valuesOf };
}

test('a batch whose end is noted afterwards has no reading of after it, nor one of the next batch', async () => {
  const { id, open, post, read, valuesOf } = await opened();
  for (const minute of [5, 30, 60, 61, 90]) await read('r1', minute);
  await post(id, 'stage', { stage: 'void', at: after(60) });
  expect(await valuesOf(id)).toEqual({ r1: [5, 30, 60] });
  const next = await open({ at: after(61) });
  expect(await valuesOf(next)).toEqual({ r1: [61, 90] });
  expect(await valuesOf(id)).toEqual({ r1: [5, 30, 60] });
});

test('an end that is said to be of before the beginning breaks no record', async () => {
  const { id, post, read, valuesOf } = await opened();
  await read('r1', 5);
  await post(id, 'move', { from: 'r1', to: 't1', litres: 90, what: 'ester' });
  await read('t1', 6);
  await post(id, 'stage', { stage: 'void', at: after(-60) });
  expect(await valuesOf(id)).toEqual({});
});

test('a vessel that is moved out of counts until it was, and a reactor that glycerol is drained from goes on', async () => {
  const { id, post, read, valuesOf } = await opened();
  await read('r1', 5);
  await post(id, 'move', { from: 'r1', to: 't2', litres: 14, what: 'glycerol' });
  for (const vessel of ['r1', 't2']) await read(vessel, 10);
  for (const vessel of ['r1', 't1', 't2', 't3']) await read(vessel, 20);
  await post(id, 'move', { from: 'r1', to: 't1', litres: 90, what: 'ester', at: after(15) });
  await post(id, 'move', { from: 't2', to: 't3', litres: 14, what: 'glycerol', at: after(16) });
  for (const vessel of ['r1', 't1', 't2', 't3']) await read(vessel, 30);
  expect(await valuesOf(id)).toEqual({ r1: [5, 10], t1: [20, 30], t2: [10], t3: [20, 30] });
});

test('a year that is written wrongly does not have every hour since looked through', async () => {
  const { data, id, post, read, valuesOf } = await opened();
  await read('r1', 5);
  await post(id, 'stage', { stage: 'warm', at: Date.UTC(2000, 0, 2) });
  await read('r1', 6);
  // What there was on the vessel since then is the batch's own.
  expect(await valuesOf(id)).toEqual({ r1: [1, 5, 6] });
  const asked = vi.spyOn(SqliteReader.prototype, 'readingsCsv');
  onTestFinished(() => asked.mockRestore());
  const maker = new RecordMaker(data);
  onTestFinished(() => maker.close());
  expect(maker.beginCsv(id)).toBe(true);
  let csv = '';
  for (let part = maker.nextCsv(); part !== null; part = maker.nextCsv()) csv += part;
  expect(csv.trimEnd().split('\n')).toHaveLength(4);
  expect(asked.mock.calls.length).toBeLessThan(10);
});

test('who does not take a CSV loses it after 30 s, and others can have records made', async () => {
  const { data, clock, daemon, id, post } = await opened();
  const series = (from: number) =>
    JSON.stringify(Array.from({ length: 4000 }, (_, i) => ({ value: i, at: after(1) + 5 * (from + i) })));
  clock.advance(MINUTE_MS);
  await daemon.publish('esterwatch/v1/reading/barn/r1/liquid-temperature', series(0), series(4000));
  await post(id, 'stage', { stage: 'void' });
  const records = new Records(data, clock);
  const begun = async () => {
    const stream = records.csv(id);
    const failed = new Promise<Error>((resolve) => stream.on('error', resolve));
    await new Promise((resolve) => stream.once('readable', resolve));
    return { stream, failed };
  };
  const [stalled, slow] = [await begun(), await begun()];
  expect(records.hasRoom).toBe(false);
  let taken = 0;
  const take = async () => {
    const more = new Promise((resolve) => slow.stream.once('readable', resolve));
    taken += slow.stream.read().toString().match(/\n/g)!.length;
    await more;
  };
  clock.advance(29_000);
  await take();
  expect(stalled.stream.destroyed).toBe(false);
  clock.advance(1000);
  expect((await stalled.failed).message).toMatch(/nobody/);
  await expect.poll(() => records.hasRoom).toBe(true);
  clock.advance(28_000);
  expect(slow.stream.destroyed).toBe(false);
  for await (const part of slow.stream) taken += part.toString().match(/\n/g)!.length;
  expect(taken).toBe(1 + 8000);
  expect(records.hasRoom).toBe(true);
});
