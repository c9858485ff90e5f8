import { Readable } from 'node:stream';
import { describe, expect, test } from 'vitest';
import type { z } from 'zod';
import { csvRun } from '../../../daemon/commands/replay-sources/csv.ts';
import { mappingSchema } from '../../../daemon/commands/replay-sources/csv-mapping.ts';
import { UsageError } from '../../../daemon/commands/usage.ts';
import { gather } from './gather.ts';

type Mapping = z.input<typeof mappingSchema>;

const mapping = (some: Partial<Mapping> = {}): Mapping => ({
  time: { column: 'time' },
  columns: [{ column: 'T', vessel: 'r1', channel: 'liquid-temperature' }],
  vessels: [{ vessel: 'r1' }],
  ...some,
});

/** What follows the vessel lines: readings as `at vessel channel value`, stages, refused lines by number. */
async function play(text: string, some: Partial<Mapping> = {}): Promise<unknown[]> {
  const vessels = mapping(some).vessels.length;
  const lines = await gather(csvRun(Readable.from([Buffer.from(text)]), mappingSchema.parse(mapping(some))));
  return lines.slice(vessels).map((line) => {
    if (typeof line !== 'string') return line.line;
    const { type, at, vessel, channel, value, stage } = JSON.parse(line);
    return type === 'reading'
      ? `${at.slice(11, 19)} ${vessel} ${channel} ${value}`
      : `${at.slice(11, 19)} ${vessel} ${stage}`;
  });
}

const T1 = '2026-03-02T10:00:00Z';
const T2 = '2026-03-02T10:00:01Z';

describe('a CSV file', () => {
  test('begins with the vessel lines of its mapping', async () => {
    const vessels = [
      {
        vessel: 'r1',
        role: 'reactor' as const,
        site: { altitudeM: 340 },
        plan: { reactionTemperatureC: 50, limits: { nearMarginC: 5 } },
      },
      { vessel: 's1' },
    ];
    const run = csvRun(Readable.from(['time,T\n']), mappingSchema.parse(mapping({ vessels })));
    const lines = await gather(run);
    expect(lines.map((line) => JSON.parse(line as string))).toEqual(
      vessels.map((vessel) => ({ type: 'vessel', ...vessel })),
    );
  });

  test('gives a reading for each mapped cell that holds a number', async () => {
    expect(
      await play(`x,T,time,S\n,50.5,${T1},200\n9,,${T2},-1e1\n`, {
        columns: [
          { column: 'T', vessel: 'r1', channel: 'liquid-temperature' },
          { column: 'S', vessel: 'm1', channel: 'stirrer-speed' },
        ],
        vessels: [{ vessel: 'r1' }, { vessel: 'm1' }],
      }),
    ).toEqual([
      '10:00:00 r1 liquid-temperature 50.5',
      '10:00:00 m1 stirrer-speed 200',
      '10:00:01 m1 stirrer-speed -10',
    ]);
  });

  test.for([
    [';', true, 'time;T', '61,4', 61.4],
    ['\t', false, 'time\tT', '61.4', 61.4],
    [',', true, 'time,T', '"61,4"', 61.4],
  ] as const)('separator %j, decimal comma %s', async ([separator, decimalComma, header, cell, value]) => {
    expect(await play(`${header}\n${T1}${separator}${cell}\n`, { separator, decimalComma })).toEqual([
      `10:00:00 r1 liquid-temperature ${value}`,
    ]);
  });

  test.for([
    [{ unit: 'Cel' }, '61.4', 61.4],
    [{ unit: 'degF' }, '140', 60],
    [{ unit: 'K' }, '273.15', 0],
    [{ scale: 0.1, offset: -5 }, '650', 60],
    [{ scale: 2 }, '30', 60],
    [{ offset: 2 }, '30', 32],
  ] as const)('%j makes %s into %s °C', async ([unit, cell, value]) => {
    const columns = [{ column: 'T', vessel: 'r1', channel: 'liquid-temperature', ...unit }];
    expect(await play(`time,T\n${T1},${cell}\n`, { columns })).toEqual([
      `10:00:00 r1 liquid-temperature ${value}`,
    ]);
  });

  test('columns by their number need no header', async () => {
    const columns = [{ column: 2, vessel: 'r1', channel: 'liquid-temperature' }];
    expect(await play(`any\n${T1},50\n${T2},51\n`, { columns, time: { column: 1 }, skipLines: 1 })).toEqual([
      '10:00:00 r1 liquid-temperature 50',
      '10:00:01 r1 liquid-temperature 51',
    ]);
  });

  test('a date and a time of day may stand in two columns, text over several lines in others', async () => {
    const time = { column: ['date', 'clock'], form: 'D.M.YYYY H:mm', offset: '+01:00' };
    expect(
      await play('date,clock,T,note\n2.3.2026,11:00,50,"a\nb, ""c"""\n2.3.2026,11:01,51,\n', { time }),
    ).toEqual(['10:00:00 r1 liquid-temperature 50', '10:01:00 r1 liquid-temperature 51']);
  });

  test('stages come in among the rows by their time, before what was read then', async () => {
    const stages = [
      { at: '2026-03-02T10:00:05.000Z', vessel: 'r1', stage: 'settle' as const },
      { at: T2, vessel: 'r1', stage: 'react' as const },
      { at: '2026-03-02T09:00:00Z', vessel: 'r1', stage: 'warm' as const },
    ];
    expect(await play(`time,T\n${T1},50\n${T2},51\n`, { stages })).toEqual([
      '09:00:00 r1 warm',
      '10:00:00 r1 liquid-temperature 50',
      '10:00:01 r1 react',
      '10:00:01 r1 liquid-temperature 51',
      '10:00:05 r1 settle',
    ]);
  });

  test('what cannot be understood is refused by its line, and the rest is taken', async () => {
    const columns = [
      { column: 'T', vessel: 'r1', channel: 'liquid-temperature' },
      { column: 'S', vessel: 'r1', channel: 'stirrer-speed' },
    ];
    const rows = [
      'time,T,S',
      `${T1},50,1`,
      'yesterday,50,1',
      `${T2},---,2`,
      `${T2},5`,
      `${T2},5,0,5`,
      `${T2},"5"5,2`,
      ',,',
      '',
      `${T1},50,1`,
      '1999-12-31T23:59:59Z,50,1',
      `${T2},50,3,,`,
      `${T2},NaN,0x10`,
      `${T2},1e999,4`,
    ];
    expect(await play(rows.join('\r\n'), { columns })).toEqual([
      '10:00:00 r1 liquid-temperature 50',
      '10:00:00 r1 stirrer-speed 1',
      3,
      4,
      '10:00:01 r1 stirrer-speed 2',
      5,
      6,
      7,
      10,
      11,
      '10:00:01 r1 liquid-temperature 50',
      '10:00:01 r1 stirrer-speed 3',
      13,
      13,
      14,
      '10:00:01 r1 stirrer-speed 4',
    ]);
  });

  test('seconds taken for milliseconds, and the other way round, give no readings', async () => {
    expect(await play('time,T\n1772442307,50\n', { time: { column: 'time', form: 'epoch-ms' } })).toEqual([
      2,
    ]);
    expect(await play('time,T\n1772442307250,50\n', { time: { column: 'time', form: 'epoch-s' } })).toEqual([
      2,
    ]);
  });

  test.for([
    ['time,t\n', {}],
    ['time,T,T\n', {}],
    [
      `${T1},50\n`,
      { time: { column: 1 }, columns: [{ column: 3, vessel: 'r1', channel: 'liquid-temperature' }] },
    ],
  ] as [string, Partial<Mapping>][])('%j lacks a column', async ([text, some]) => {
    await expect(play(text, some)).rejects.toThrow(UsageError);
  });
});

describe('a mapping that means nothing is refused', () => {
  const column = { column: 'T', vessel: 'r1', channel: 'liquid-temperature' };
  test.for<[string, object]>([
    ['columns.0.vessel', { columns: [{ ...column, vessel: 'r2' }] }],
    ['stages.0.vessel', { stages: [{ at: T1, vessel: 'r2', stage: 'react' }] }],
    ['stages.0.at', { stages: [{ at: '10:00', vessel: 'r1', stage: 'react' }] }],
    ['stages.0.stage', { stages: [{ at: T1, vessel: 'r1', stage: 'boil' }] }],
    ['columns.1', { columns: [column, { ...column, column: 'U' }] }],
    ['columns.0', { columns: [{ ...column, unit: 'K', scale: 2 }] }],
    ['columns.0.unit', { columns: [{ ...column, channel: 'stirrer-speed', unit: 'K' }] }],
    ['columns.0.unit', { columns: [{ ...column, unit: 'degC' }] }],
    ['columns', { columns: [] }],
    ['vessels', { vessels: [] }],
    ['vessels.0.plan.limits', { vessels: [{ vessel: 'r1', plan: { limits: { nearMargin: 5 } } }] }],
    ['time.form', { time: { column: 'time', form: 'HH:mm', offset: 'Z' } }],
    ['time.offset', { time: { column: 'time', offset: 'CET' } }],
    ['separator', { separator: '|' }],
    ['', { header: true }],
  ])('%s: %j', ([path, some]) => {
    const parsed = mappingSchema.safeParse({ ...mapping(), ...some });
    expect(parsed.error?.issues.map((issue) => issue.path.join('.'))).toContain(path);
  });
});
