import { execFileSync } from 'node:child_process';
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, onTestFinished, test } from 'vitest';
import { type BatchRecord, recordSchema } from '../../../shared/wire/record.ts';
import { runCommand } from '../../support/command.ts';
import { ManualClock } from '../../support/manual-clock.ts';
import { type RunningDaemon, runDaemon } from '../running-daemon.ts';
import { temporaryDir } from '../store/fixture.ts';
import { expectProblem } from './problem.ts';

const START_MS = Date.UTC(2026, 2, 2, 10);
const NAME = 'Öl <b>from</b> "Łódź" & more';

/** A batch that settled too early and was rejected, with an alarm that somebody acknowledged. */
async function rejectedBatch(): Promise<{ daemon: RunningDaemon; data: string; id: string; sent: number[] }> {
  const data = join(temporaryDir(), 'data');
  const clock = new ManualClock(START_MS);
  const daemon = await runDaemon({ clock, data });
  const sent: number[] = [];
  const series = async (channel: string, seconds: number, valueAt: (second: number) => number) => {
    const startMs = clock.wallMs() - 1000 * seconds;
    const readings = Array.from({ length: seconds }, (_, i) => ({
      value: valueAt(i),
      at: startMs + 1000 * (i + 1),
    }));
    for (const { value } of readings) sent.push(value);
    await daemon.publish(`esterwatch/v1/reading/barn/${channel}`, JSON.stringify(readings));
  };
  await daemon.read('barn/r1/liquid-temperature', 20);
  await daemon.read('barn/m1/liquid-temperature', 20);
  await daemon.send('PUT', '/api/v1/sites/barn', { altitudeM: 340 });
  const plan = { watch: { requiredReactionMinutes: 10, requiredSettleHours: 2 } };
  clock.advance(1000);
  const opened = await daemon.send('POST', '/api/v1/batches', { vessel: 'barn:r1', name: NAME, plan });
  const { id } = opened.json;
  const enter = async (body: object) =>
    expect((await daemon.send('POST', `/api/v1/batches/${id}/stage`, { by: 'Ida', ...body })).status).toBe(
      200,
    );
  await enter({ stage: 'warm' });
  for (const what of [
    { kind: 'weighing', what: 'oil', kg: 91.25 },
    { kind: 'volume', what: 'fuel', litres: 80, atC: 30 },
    { kind: 'handed-out', use: 'given-away', litres: 12.5, to: 'the mill' },
  ]) {
    const noted = await daemon.send('POST', `/api/v1/batches/${id}/entries`, { by: 'Ida', what });
    expect(noted.status, noted.text).toBe(201);
  }
  await enter({ stage: 'methoxide', vessel: 'barn:m1' });
  clock.advance(60_000);
  await series('m1/liquid-temperature', 60, (i) => 21 + i / 16);
  await enter({ stage: 'dose' });
  await enter({ stage: 'react' });
  clock.advance(120_000);
  await series('r1/liquid-temperature', 120, (i) => 50 + i / 8);
  await series('r1/stirrer-speed', 120, () => 310);
  await enter({ stage: 'settle', anyway: { reason: 'the pump broke' } });
  const { alarms } = (await daemon.get('/api/v1/alarms')).json;
  expect(alarms.length).toBeGreaterThan(0);
  const acknowledge = `/api/v1/alarms/${alarms[0].id}/acknowledge`;
  expect((await daemon.send('POST', acknowledge, { by: 'Uwe', reason: 'heater off' })).status).toBeLessThan(
    300,
  );
  clock.advance(1000);
  await enter({ stage: 'rejected' });
  clock.advance(10_000);
  await daemon.read('barn/r1/liquid-temperature', 99); // not the batch's any more
  return { daemon, data, id, sent };
}

const textOf = (pdf: string): string =>
  execFileSync('pdftotext', ['-layout', pdf, '-'], { encoding: 'utf8' });

describe('the record of a batch', () => {
  let made: Awaited<ReturnType<typeof rejectedBatch>>;
  let ask: (format: string, more?: string) => ReturnType<RunningDaemon['get']>;
  const setUp = async () => {
    made = await rejectedBatch();
    ask = (format, more = '') => made.daemon.get(`/api/v1/batches/${made.id}/record?format=${format}${more}`);
  };

  test('as JSON, CSV, HTML and PDF, over HTTP and by command', { timeout: 120_000 }, async () => {
    await setUp();
    const { id, sent, data } = made;

    const json = await ask('json');
    expect(json.headers['content-type']).toMatch(/^application\/json/);
    const record: BatchRecord = recordSchema.parse(json.json);
    expect(record).toMatchObject({
      batch: { id, name: NAME, stage: 'rejected' },
      outcome: { stage: 'rejected', by: 'Ida' },
      deviations: [{ stage: 'settle', by: 'Ida', reason: 'the pump broke' }],
    });
    const { balance, yield: gave } = (await made.daemon.get(`/api/v1/batches/${id}/balance`)).json;
    expect(record.balance).toEqual(balance);
    expect(record.yield).toEqual(gave);
    expect(record.balance.missing.map(({ what }) => what)).toEqual(['glycerol']);
    const counts = Object.fromEntries(
      record.channels.map((one) => [`${one.vessel} ${one.channel}`, one.readings]),
    );
    expect(counts).toEqual({
      'm1 liquid-temperature': 60,
      'r1 liquid-temperature': 120,
      'r1 stirrer-speed': 120,
    });
    const own = record.vessels.find(({ vessel }) => vessel === 'r1')!;
    expect(own.highestLiquidC).toBe(50 + 119 / 8);
    expect(own.creditedReactionMinutes).toBeGreaterThan(0);
    expect(own.creditedReactionMinutes).toBeLessThanOrEqual(2);
    expect(own.conversionPercent).toBeGreaterThan(0); // though the vessel has left the batch
    expect(record.alarms.find(({ acknowledged }) => acknowledged !== null)!.acknowledged).toMatchObject({
      by: 'Uwe',
    });

    const replayed = await runCommand(temporaryDir(), ['replay', '--batch', id, '--data', data]);
    const summaries = replayed.out
      .trimEnd()
      .split('\n')
      .map((line) => JSON.parse(line));
    expect(record.vessels).toEqual(
      summaries.filter(({ type }) => type === 'summary').map(({ type: _, ...figures }) => figures),
    );

    const csv = await ask('csv');
    expect(csv.headers['content-type']).toMatch(/^text\/csv/);
    const [head, ...rows] = csv.text.trimEnd().split('\n');
    expect(head).toBe('at,channel,value,source');
    const fields = rows.map((row) => row.split(','));
    expect(fields.every((row) => row.length === 4)).toBe(true);
    expect(fields.map(([, , value]) => Number(value)).sort((a, b) => a - b)).toEqual(
      sent.toSorted((a, b) => a - b),
    );
    expect(fields.map(([at]) => at)).toEqual(fields.map(([at]) => at).sort());
    expect(new Set(fields.map(([, channel]) => channel))).toEqual(
      new Set(['liquid-temperature', 'stirrer-speed', 'm1/liquid-temperature']),
    );

    const html = await ask('html');
    expect(html.headers['content-security-policy']).toBe(
      "default-src 'none'; style-src 'unsafe-inline'; img-src data:",
    );
    expect(html.text).toContain('&lt;b&gt;from&lt;/b&gt;');
    expect(html.text).not.toContain('<b>from');
    expect(html.text).not.toMatch(/(src|href)=|url\(|@import/);
    expect(html.text).toContain('the pump broke');
    expect(html.text).toContain('<h2>Balance</h2>');
    expect(html.text).toContain('<td>In: oil</td><td>91.25 kg</td>');
    expect(html.text).toContain('12.5 L of fuel given away: the mill');

    const folder = temporaryDir();
    for (const [paper, size] of [
      ['a4', '595.28 x 841.89'],
      ['letter', '612 x 792'],
    ]) {
      const pdf = join(folder, `${paper}.pdf`);
      const out = [
        'export',
        '--data',
        data,
        '--batch',
        id,
        '--format',
        'pdf',
        '--paper',
        paper!,
        '--out',
        pdf,
      ];
      expect(await runCommand(folder, out)).toMatchObject({ code: 0, err: '' });
      const info = execFileSync('pdfinfo', [pdf], { encoding: 'utf8' });
      expect(info).toContain(size);
      const pages = Number(/Pages: +(\d+)/.exec(info)![1]);
      const text = textOf(pdf);
      for (let page = 1; page <= pages; page++) expect(text).toContain(`page ${page} of ${pages}`);
      for (const word of [
        'Öl <b>from</b>',
        'Rejected by Ida',
        'the pump broke',
        'heater off',
        'methanol boils',
        'Does not add up',
        'fuel measured, 80 L at 30 °C',
        record.chain.head.slice(0, 20),
      ])
        expect(text).toContain(word);
      expect(readFileSync(pdf).length).toBeLessThan(1_000_000);
    }
    const overHttp = await ask('pdf', '&paper=letter');
    expect(overHttp.headers['content-type']).toBe('application/pdf');
    const exported = [
      'export',
      '--data',
      data,
      '--batch',
      id,
      '--format',
      'csv',
      '--out',
      join(folder, 'out.csv'),
    ];
    expect((await runCommand(folder, exported)).code).toBe(0);
    expect(readFileSync(join(folder, 'out.csv'), 'utf8')).toBe(csv.text);
    expect(readdirSync(folder).filter((name) => name.includes('writing'))).toEqual([]);
    expect(made.daemon.errors).toEqual([]);
  });

  test('of no batch, or in no form that there is, is refused', async () => {
    const daemon = await runDaemon({ clock: new ManualClock(START_MS) });
    onTestFinished(() => expect(daemon.errors).toEqual([]));
    expectProblem(await daemon.get('/api/v1/batches/none/record?format=pdf'), 404, 'batch-unknown');
    expectProblem(await daemon.get('/api/v1/batches/none/record?format=doc'), 400, 'body-invalid');
    const folder = temporaryDir();
    for (const args of [
      ['--batch', 'b1', '--out', 'x.csv', '--data', 'none', '--format', 'csv'],
      ['--batch', 'b1', '--out', 'x', '--format', 'doc'],
      ['--out', 'x', '--format', 'csv'],
    ]) {
      const { code, out, err } = await runCommand(folder, ['export', ...args]);
      expect([code, out, err.trimEnd().split('\n').length]).toEqual([2, '', 1]);
    }
    expect(readdirSync(folder)).toEqual([]);
  });
});
