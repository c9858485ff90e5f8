import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { MOST_READINGS, parsePayload, parseReadingObject } from '../../shared/wire/payload.ts';
import { readingPayloadSchema } from '../../shared/wire/payload-schema.ts';
import { REFUSALS } from '../../shared/wire/refusals.ts';

const NOW = Date.parse('2026-03-02T10:15:00.000Z');
const parse = (payload: unknown, { channel = 'liquid-temperature', retained = false } = {}) =>
  parsePayload(typeof payload === 'string' ? payload : JSON.stringify(payload), channel, NOW, retained);
const codes = (payload: unknown, options?: Parameters<typeof parse>[1]) =>
  parse(payload, options).map((one) => ('refused' in one ? one.refused : 'taken'));

describe('a plain decimal number', () => {
  test.for([
    ['61.4', 61.4],
    ['-127', -127],
    ['+5', 5],
    [' 61.4\r\n', 61.4],
    ['6.14e1', 61.4],
    ['.5', 0.5],
    ['61.', 61],
  ] as const)('%j is %d, stamped on arrival', ([text, value]) => {
    expect(parse(text)).toEqual([{ value, atMs: NOW, seq: null, stamped: true }]);
  });

  test.for([
    'NaN',
    'Infinity',
    '-inf',
    '0x1F',
    '61,4',
    '61.4 C',
    'hot',
    '1e400',
    'true',
    'null',
    '"61.4"',
    '--1',
  ])('%j is none', (text) => expect(codes(text)).toEqual(['value-not-number']));

  test.for(['', ' ', '\n'])('%j is empty', (text) => expect(codes(text)).toEqual(['payload-empty']));
});

describe('an object', () => {
  test('with at and seq has its own identity', () => {
    expect(parse({ value: 61.4, at: '2026-03-02T10:14:59.250Z', seq: 1041 })).toEqual([
      { value: 61.4, atMs: NOW - 750, seq: 1041, stamped: false },
    ]);
    expect(parse({ value: 61.4, at: NOW - 1 })).toEqual([
      { value: 61.4, atMs: NOW - 1, seq: null, stamped: false },
    ]);
    expect(parse({ value: 61.4 })).toEqual([{ value: 61.4, atMs: NOW, seq: null, stamped: true }]);
  });

  test.for([
    ['{"value":61.4', 'payload-form'],
    ['{}', 'value-missing'],
    ['{"at":"2026-03-02T10:15:00.000Z"}', 'value-missing'],
    ['{"value":"61.4"}', 'value-not-number'],
    ['{"value":null}', 'value-not-number'],
    ['{"value":1e999}', 'value-not-number'],
    ['{"value":NaN}', 'payload-form'],
    ['{"value":1,"temperature":2}', 'payload-field'],
    ['{"value":1,"Value":2}', 'payload-field'],
    ['{"value":1,"__proto__":2}', 'payload-field'],
    ['{"value":1,"at":"yesterday"}', 'time-form'],
    ['{"value":1,"at":null}', 'time-form'],
    ['{"value":1,"at":"2026-02-30T10:15:00.000Z"}', 'time-form'],
    ['{"value":1,"at":"2026-03-01T24:00:00.000Z"}', 'time-form'],
    ['{"value":1,"at":"2026-03-02T11:15:00.000+01:00"}', 'time-form'],
    ['{"value":1,"at":"2026-03-02T10:15:00.000"}', 'time-form'],
    ['{"value":1,"at":"1999-12-31T23:59:59.999Z"}', 'time-before-2000'],
    ['{"value":1,"at":1772446500}', 'time-before-2000'],
    ['{"value":1,"at":"2027-03-02T10:15:00.000Z"}', 'clock-ahead'],
    ['{"value":1,"seq":-1}', 'seq-form'],
    ['{"value":1,"seq":1.5}', 'seq-form'],
    ['{"value":1,"seq":"7"}', 'seq-form'],
    ['{"value":1,"seq":9007199254740992}', 'seq-form'],
    ['{"value":1,"unit":"C"}', 'unit-unknown'],
    ['{"value":1,"unit":3}', 'unit-unknown'],
  ] as const)('%s is refused: %s', ([text, code]) => {
    expect(codes(text)).toEqual([code]);
    expect(REFUSALS[code]).toMatch(/\.$/);
  });

  test('may be 60 s ahead of the daemon’s clock, and not a millisecond more', () => {
    expect(codes({ value: 1, at: NOW + 60_000 })).toEqual(['taken']);
    expect(codes({ value: 1, at: NOW + 60_001 })).toEqual(['clock-ahead']);
  });

  test('on the first moment of 2000 is taken', () => {
    expect(codes({ value: 1, at: '2000-01-01T00:00:00.000Z' })).toEqual(['taken']);
  });

  test('29 February is a day of leap years alone', () => {
    expect(codes({ value: 1, at: '2024-02-29T12:00:00.000Z' })).toEqual(['taken']);
    expect(codes({ value: 1, at: '2025-02-29T12:00:00.000Z' })).toEqual(['time-form']);
  });
});

describe('what is retained', () => {
  const retained = { retained: true };
  test('needs a time of its own', () => {
    expect(codes('61.4', retained)).toEqual(['retained-without-time']);
    expect(codes({ value: 61.4 }, retained)).toEqual(['retained-without-time']);
    expect(codes({ value: 61.4, at: NOW - 5 }, retained)).toEqual(['taken']);
    expect(codes([{ value: 61.4 }, { value: 61.5, at: NOW }], retained)).toEqual([
      'retained-without-time',
      'taken',
    ]);
  });

  test('has none where SenML counts it from now', () => {
    expect(codes([{ n: 'a', v: 1 }], retained)).toEqual(['retained-without-time']);
    expect(codes([{ n: 'a', v: 1, t: -30 }], retained)).toEqual(['retained-without-time']);
    expect(codes([{ n: 'a', v: 1, t: NOW / 1000 }], retained)).toEqual(['taken']);
  });
});

describe('units', () => {
  test.for([
    ['liquid-temperature', 'Cel', 61.4, 61.4],
    ['liquid-temperature', 'degF', 148, (148 - 32) / 1.8],
    ['liquid-temperature-2', 'K', 337.65, 64.5],
    ['condensate-temperature', 'degF', 32, 0],
    ['stirrer-speed', '1/min', 300, 300],
    ['pump-flow', 'l/min', 12, 12],
    ['pump-flow', 'L/min', 12, 12],
    ['stirrer-current', 'A', 1.2, 1.2],
    ['heater', '/', 1, 1],
    ['ambient-pressure', 'hPa', 973.1, 973.1],
    ['ambient-pressure', 'Pa', 97_310, 973.1],
    ['room-vapour', 'ppm', 40, 40],
    ['room-humidity', '%RH', 40, 40],
  ] as const)('%s in %s: %d is %d', ([channel, unit, sent, value]) => {
    const [one] = parse({ value: sent, unit }, { channel });
    expect(one).toMatchObject({ value: expect.closeTo(value, 9) });
  });

  test.for([
    ['stirrer-speed', 'Cel'],
    ['liquid-temperature', 'hPa'],
    ['liquid-temperature', 'F'],
    ['ambient-pressure', 'Cel'],
    ['room-vapour', '%'],
  ] as const)('%s cannot be in %s', ([channel, unit]) => {
    expect(codes({ value: 1, unit }, { channel })).toEqual(['unit-unknown']);
  });
});

describe('an array', () => {
  test('is taken or refused element by element', () => {
    expect(
      codes([
        { value: 1, at: NOW - 1000 },
        { value: 'x' },
        5,
        null,
        [],
        { value: 2, at: NOW + 61_000 },
        { value: 3 },
      ]),
    ).toEqual([
      'taken',
      'value-not-number',
      'payload-form',
      'payload-form',
      'payload-form',
      'clock-ahead',
      'taken',
    ]);
  });

  test('is refused where it is empty or too long', () => {
    expect(codes('[]')).toEqual(['payload-empty']);
    expect(codes(Array.from({ length: MOST_READINGS }, () => ({ value: 1 })))).toHaveLength(MOST_READINGS);
    expect(codes(Array.from({ length: MOST_READINGS + 1 }, () => ({ value: 1 })))).toEqual([
      'array-too-long',
    ]);
  });
});

describe('SenML', () => {
  // The examples are those of RFC 8428, sections 5.1.1 to 5.1.4, each as far as one channel can carry it.
  test('5.1.1, a single datapoint', () => {
    expect(parse('[{"n":"urn:dev:ow:10e2073a01080063","u":"Cel","v":23.1}]')).toEqual([
      { value: 23.1, atMs: NOW, seq: null, stamped: true },
    ]);
  });

  test('5.1.2, several names: a channel has one', () => {
    const pack = [
      { bn: 'urn:dev:ow:10e2073a01080063:', n: 'voltage', u: 'V', v: 120.1 },
      { n: 'current', u: 'A', v: 1.2 },
    ];
    expect(codes(pack, { channel: 'mains' })).toEqual(['senml-name']);
    expect(codes(pack.slice(0, 1), { channel: 'mains' })).toEqual(['taken']);
  });

  test('5.1.3, base time, and times relative to it', () => {
    const pack = [
      {
        bn: 'urn:dev:ow:10e2073a0108006:',
        bt: 1.276020076001e9,
        bu: 'A',
        bver: 10,
        n: 'current',
        t: -5,
        v: 1.2,
      },
      { n: 'current', t: -4, v: 1.3 },
      { n: 'current', v: 1.7 },
    ];
    expect(parse(pack, { channel: 'stirrer-current' })).toEqual([
      { value: 1.2, atMs: 1_276_020_071_001, seq: null, stamped: false },
      { value: 1.3, atMs: 1_276_020_072_001, seq: null, stamped: false },
      { value: 1.7, atMs: 1_276_020_076_001, seq: null, stamped: false },
    ]);
  });

  test('5.1.4, base unit; t of 60 and 120 s resolve to 1320067524 and 1320067584', () => {
    const pack = [
      { bn: 'urn:dev:ow:10e2073a01080063', bt: 1.320067464e9, bu: '%RH', v: 20 },
      { t: 60, v: 20.3 },
      { t: 120, v: 20.7 },
    ];
    expect(parse(pack, { channel: 'room-humidity' })).toEqual([
      { value: 20, atMs: 1_320_067_464_000, seq: null, stamped: false },
      { value: 20.3, atMs: 1_320_067_524_000, seq: null, stamped: false },
      { value: 20.7, atMs: 1_320_067_584_000, seq: null, stamped: false },
    ]);
    expect(codes(pack)).toEqual(['unit-unknown', 'unit-unknown', 'unit-unknown']);
  });

  test('a record’s own unit goes before the base unit, and base values add', () => {
    expect(
      parse([
        { bn: 'a', bu: 'degF', bv: 20, v: 12 },
        { u: 'Cel', v: 5 },
      ]).map((one) => 'value' in one && one.value),
    ).toEqual([0, 25]);
  });

  test('times under 2^28 s count from the arrival', () => {
    expect(parse([{ n: 'a', v: 1, t: -30 }])).toEqual([
      { value: 1, atMs: NOW - 30_000, seq: null, stamped: false },
    ]);
    expect(codes([{ n: 'a', v: 1, t: 60 }])).toEqual(['taken']);
    expect(codes([{ n: 'a', v: 1, t: 61 }])).toEqual(['clock-ahead']);
    expect(codes([{ n: 'a', v: 1, t: 2 ** 28 - 1 }])).toEqual(['clock-ahead']);
    // 2^28 s is in 1978.
    expect(codes([{ n: 'a', v: 1, t: 2 ** 28 }])).toEqual(['time-before-2000']);
  });

  test.for([
    [[{ n: 'a', u: 'Cel' }], 'value-missing'],
    [[{ n: 'a', vs: 'hot' }], 'value-missing'],
    [[{ n: 'a', s: 3 }], 'value-missing'],
    [[{ n: 'a', bv: 3 }], 'value-missing'],
    [[{ n: 'a', v: '23.1' }], 'value-not-number'],
    [[{ v: 23.1, u: 'Cel' }], 'senml-name'],
    [[{ n: '-a', v: 23.1 }], 'senml-name'],
    [[{ n: 'a b', v: 23.1 }], 'senml-name'],
    [
      [
        { n: 'a', v: 1 },
        { n: 'b', v: 2 },
      ],
      'senml-name',
    ],
    [
      [
        { bn: 'a', v: 1 },
        { bn: 'b', v: 2 },
      ],
      'senml-name',
    ],
    [[{ n: 'a', bver: 11, v: 1 }], 'senml-version'],
    [[{ n: 'a', must_: 1, v: 1 }], 'senml-field'],
    [[{ n: 'a', t: 'now', v: 1 }], 'senml-field'],
    [[{ n: 5, v: 1 }], 'senml-field'],
    [[{ n: 'a', v: 1 }, 7], 'payload-form'],
    [[{ n: 'a', v: 1, t: 1e300 }], 'time-form'],
  ] as const)('%j is refused whole: %s', ([pack, code]) => {
    expect(codes(pack)).toEqual([code]);
  });

  test('a field that is not known and need not be is passed over', () => {
    expect(codes([{ n: 'a', v: 1, colour: 'red' }])).toEqual(['taken']);
  });
});

describe('the parser of reading objects', () => {
  const time = fc.oneof(
    fc
      .date({ noInvalidDate: true, min: new Date(0), max: new Date('2100-01-01') })
      .map((date) => date.toISOString()),
    fc
      .tuple(
        fc.nat(13),
        fc.nat(32),
        fc.nat(25),
        fc.nat(60),
        fc.nat(60),
        fc.constantFrom('', '.5', '.123456789'),
      )
      .map(([month, day, hour, minute, second, rest]) => {
        const two = (n: number) => String(n).padStart(2, '0');
        return `2024-${two(month)}-${two(day)}T${two(hour)}:${two(minute)}:${two(second)}${rest}Z`;
      }),
    fc.constantFrom(
      '2026-02-30T10:00:00.000Z',
      '2026-03-01T24:00:00Z',
      '2026-03-01T10:00:00',
      '2026-03-01',
      '',
    ),
    fc.double(),
    fc.integer(),
  );
  const anything = fc.oneof(
    fc.string(),
    fc.double(),
    fc.integer(),
    fc.boolean(),
    fc.constant(null),
    fc.jsonValue(),
  );
  const near = fc.record(
    {
      value: fc.oneof(
        { weight: 4, arbitrary: fc.double({ noNaN: true, noDefaultInfinity: true }) },
        { weight: 1, arbitrary: anything },
      ),
      at: fc.oneof({ weight: 4, arbitrary: time }, { weight: 1, arbitrary: anything }),
      seq: fc.oneof(
        { weight: 4, arbitrary: fc.maxSafeNat() },
        { weight: 1, arbitrary: fc.oneof(fc.double(), anything) },
      ),
      unit: fc.oneof(
        { weight: 4, arbitrary: fc.constantFrom('Cel', 'degF', 'K', '') },
        { weight: 1, arbitrary: anything },
      ),
      extra: anything,
    },
    { requiredKeys: [] },
  );
  const usuallyWithoutExtra = fc
    .tuple(near, fc.integer({ min: 0, max: 5 }))
    .map(([{ extra, ...rest }, chance]) => (chance === 0 ? { ...rest, extra } : rest));

  test('takes what the schema takes and refuses what it refuses', () => {
    let taken = 0;
    let refused = 0;
    fc.assert(
      fc.property(
        fc.oneof({ weight: 9, arbitrary: usuallyWithoutExtra }, { weight: 1, arbitrary: anything }),
        (sent) => {
          const json: unknown = JSON.parse(JSON.stringify(sent));
          const bySchema = readingPayloadSchema.safeParse(json).success;
          expect(!('refused' in parseReadingObject(json))).toBe(bySchema);
          if (bySchema) taken++;
          else refused++;
        },
      ),
      { numRuns: 5000 },
    );
    // The two must have met both kinds, or nothing was shown.
    expect(Math.min(taken, refused)).toBeGreaterThan(500);
  });

  test('never throws, whatever text comes', () => {
    fc.assert(
      fc.property(
        fc.oneof(
          fc.string(),
          fc.json(),
          fc.json().map((json) => `[${json}]`),
        ),
        (text) => {
          for (const one of parse(text)) {
            if ('refused' in one) expect(REFUSALS).toHaveProperty(one.refused);
            else expect(Number.isFinite(one.value) && Number.isSafeInteger(one.atMs)).toBe(true);
          }
        },
      ),
      { numRuns: 2000 },
    );
  });
});
