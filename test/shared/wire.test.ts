import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { channelKind, isLiquidTemperature, isName } from '../../shared/wire/names.ts';
import { parseReplayLine, replayLineSchema } from '../../shared/wire/replay-line.ts';
import { isoTime, parseIsoMs, parseWireTimeMs } from '../../shared/wire/time.ts';
import { alarmTopic, beatTopic, parseDeviceTopic, readingTopic } from '../../shared/wire/topics.ts';

describe('names', () => {
  test.for(['a', '0', 'a-', '1-2', 'constructor', 'a'.repeat(40)])('%s is one', (name) => {
    expect(isName(name)).toBe(true);
  });
  test.for([
    '',
    '-',
    '-a',
    'A',
    'aB',
    'a_b',
    'a.b',
    'a b',
    'ä',
    'a\n',
    '+',
    '#',
    '__proto__',
    'a'.repeat(41),
  ])('%j is none', (name) => expect(isName(name)).toBe(false));
});

test('liquid temperatures are numbered from 2; the first bears no number or any', () => {
  expect(
    ['liquid-temperature', 'liquid-temperature-2', 'liquid-temperature-99'].every(isLiquidTemperature),
  ).toBe(true);
  expect(
    ['liquid-temperature-', 'liquid-temperature-02', 'liquid-temperature-top'].some(isLiquidTemperature),
  ).toBe(false);
  expect(channelKind('constructor')).toBe('other');
});

describe('topics', () => {
  test('of readings and presence give their names', () => {
    expect(parseDeviceTopic('esterwatch/v1/reading/a/b/c')).toEqual({
      kind: 'reading',
      site: 'a',
      vessel: 'b',
      channel: 'c',
    });
    expect(parseDeviceTopic(readingTopic('barn', 'r1', 'liquid-temperature'))).toEqual({
      kind: 'reading',
      site: 'barn',
      vessel: 'r1',
      channel: 'liquid-temperature',
    });
    expect(parseDeviceTopic('esterwatch/v1/presence/barn/probe-1')).toEqual({
      kind: 'presence',
      site: 'barn',
      device: 'probe-1',
    });
  });

  test('of the daemon are reserved', () => {
    expect(parseDeviceTopic(alarmTopic('barn', 'r1')).kind).toBe('reserved');
    expect(parseDeviceTopic(beatTopic('barn')).kind).toBe('reserved');
  });

  test.for([
    ['esterwatch/v1/reading/barn/r1', 'misnamed'],
    ['esterwatch/v1/reading/barn/r1/liquid-temperature/2', 'misnamed'],
    ['esterwatch/v1/reading/Barn/r1/liquid-temperature', 'misnamed'],
    ['esterwatch/v1/reading//r1/liquid-temperature', 'misnamed'],
    [`esterwatch/v1/reading/${'a'.repeat(41)}/r1/liquid-temperature`, 'misnamed'],
    [`esterwatch/v1/reading/${'a'.repeat(40)}/r1/liquid-temperature`, 'reading'],
    ['esterwatch/v1/presence/barn', 'misnamed'],
    ['esterwatch/v1/presence/barn/a/b', 'misnamed'],
    ['esterwatch/v1/other/barn', 'unknown'],
    ['esterwatch/v2/reading/a/b/c', 'unknown'],
    ['/esterwatch/v1/reading/a/b/c', 'unknown'],
    ['esterwatch', 'unknown'],
    ['', 'unknown'],
  ] as const)('%s is %s', ([topic, kind]) => {
    expect(parseDeviceTopic(topic).kind).toBe(kind);
  });
});

describe('times', () => {
  test('what is written from a time reads back as it', () => {
    fc.assert(
      fc.property(
        fc.date({
          noInvalidDate: true,
          min: new Date('0000-01-01T00:00:00Z'),
          max: new Date('9999-12-31T23:59:59.999Z'),
        }),
        (date) => {
          expect(parseIsoMs(date.toISOString())).toBe(date.getTime());
        },
      ),
    );
  });

  test('a time goes out as the platform writes it, one right after another and far apart', () => {
    const date = fc.double({ min: -8.64e15, max: 8.64e15, noNaN: true });
    const after = fc.array(fc.integer({ min: -90_000, max: 90_000 }), { maxLength: 20 });
    fc.assert(
      fc.property(date, after, (ms, steps) => {
        for (const step of [0, ...steps]) {
          const other = Math.min(8.64e15, Math.max(-8.64e15, ms + step));
          expect(isoTime(other)).toBe(new Date(other).toISOString());
        }
      }),
      { numRuns: 1000 },
    );
    expect(isoTime(9e15)).toBe(new Date(8.64e15).toISOString());
    expect(() => isoTime(Number.NaN)).toThrow(RangeError);
  });

  test('only days that the calendar has are times', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 1900, max: 2100 }),
        fc.integer({ min: 0, max: 13 }),
        fc.integer({ min: 0, max: 32 }),
        (year, month, day) => {
          const leap = year % 4 === 0 && (year % 100 !== 0 || year % 400 === 0);
          const days = [31, leap ? 29 : 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31][month - 1] ?? 0;
          const text = `${year}-${String(month).padStart(2, '0')}-${String(day).padStart(2, '0')}T10:00:00Z`;
          expect(parseIsoMs(text) !== undefined).toBe(day >= 1 && day <= days);
        },
      ),
      { numRuns: 2000 },
    );
  });

  test('epoch milliseconds are rounded, and those that no date can hold are none', () => {
    expect(parseWireTimeMs(1.6)).toBe(2);
    expect(parseWireTimeMs(8.64e15)).toBe(8.64e15);
    expect(parseWireTimeMs(8.64e15 + 2)).toBeUndefined();
    expect(parseWireTimeMs(Number.NaN)).toBeUndefined();
    expect(parseWireTimeMs(undefined)).toBeUndefined();
  });
});

describe('reading lines of a recorded run', () => {
  const wild = fc.oneof(
    fc.string(),
    fc.double(),
    fc.integer(),
    fc.boolean(),
    fc.constant(null),
    fc.jsonValue(),
  );
  const mostly = (good: fc.Arbitrary<unknown>) =>
    fc.oneof({ weight: 8, arbitrary: good }, { weight: 1, arbitrary: wild });
  const name = fc.constantFrom(
    'r1',
    'liquid-temperature',
    'a',
    'constructor',
    'a'.repeat(40),
    'R1',
    '',
    'a'.repeat(41),
    '-a',
  );
  const time = fc.oneof(
    {
      weight: 6,
      arbitrary: fc
        .date({ noInvalidDate: true, min: new Date(0), max: new Date('2100-01-01') })
        .map((date) => date.toISOString()),
    },
    { weight: 2, arbitrary: fc.integer() },
    {
      weight: 1,
      arbitrary: fc.constantFrom('2026-02-30T10:00:00.000Z', '2026-03-01T24:00:00Z', '10:00', 8.7e15),
    },
  );
  const line = fc
    .record(
      {
        at: mostly(time),
        arrived: mostly(time),
        vessel: mostly(fc.constantFrom('r1', 'r1', 'a')),
        channel: mostly(name),
        value: mostly(fc.double({ noNaN: true, noDefaultInfinity: true })),
        seq: mostly(fc.maxSafeNat()),
        typed: mostly(fc.boolean()),
        stamped: mostly(fc.boolean()),
        extra: wild,
      },
      { requiredKeys: ['at', 'vessel', 'channel', 'value'] },
    )
    .chain((fields) =>
      fc.constantFrom(0, 1, 2, 3, 4, 5).map((chance) => {
        const { extra, ...rest } = fields;
        if (chance === 0 && extra !== undefined) return { type: 'reading', ...fields };
        if (chance === 1) return { type: 'reading', ...rest, value: undefined };
        return { type: 'reading', ...rest };
      }),
    );

  test('are taken and refused exactly as the schema does', () => {
    let taken = 0;
    let refused = 0;
    fc.assert(
      fc.property(line, (sent) => {
        const text = JSON.stringify(sent);
        const bySchema = replayLineSchema.safeParse(JSON.parse(text)).success;
        expect(parseReplayLine(text).type === 'reading').toBe(bySchema);
        if (bySchema) taken++;
        else refused++;
      }),
      { numRuns: 5000 },
    );
    expect(Math.min(taken, refused)).toBeGreaterThan(500);
  });

  test.for([
    '',
    'null',
    '5',
    '[]',
    '"reading"',
    '{}',
    '{"type":"other"}',
    '{"type":"constructor"}',
    '{"type":"reading"}',
    '{"type"',
  ])('%j is refused', (text) => expect(parseReplayLine(text).type).toBe('refused'));
});
