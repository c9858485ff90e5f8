import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { COARSE_MS, coarseOf, decodeCoarse, encodeCoarse } from '../../../daemon/store/sqlite/coarse.ts';
import { decodePage, encodePage, type PageReadings } from '../../../daemon/store/sqlite/page-codec.ts';
import { celsiusFromFahrenheit } from '../../../shared/units/temperature.ts';
import { share } from '../../support/thorough.ts';

interface Row {
  atMs: number;
  position: number;
  arrivedMs: number;
  value: number;
  seq: number | null;
  stamped: boolean;
  source: 'device' | 'typed';
}

const pageOf = (rows: readonly Row[]): PageReadings => ({
  atMs: rows.map((row) => row.atMs),
  position: rows.map((row) => row.position),
  arrivedMs: rows.map((row) => row.arrivedMs),
  value: rows.map((row) => row.value),
  seq: rows.map((row) => row.seq),
  stamped: rows.map((row) => row.stamped),
  source: rows.map((row) => row.source),
});

/** The 64 bits of each, since `toEqual` would take one not-a-number or one zero for another. */
function bitsOf(values: ArrayLike<number>): bigint[] {
  const view = new DataView(new ArrayBuffer(8));
  return Array.from(values, (value) => {
    view.setFloat64(0, value);
    return view.getBigUint64(0);
  });
}

function expectSame(actual: PageReadings, expected: PageReadings): void {
  for (const column of ['atMs', 'position', 'arrivedMs', 'value'] as const) {
    expect(bitsOf(actual[column]), column).toEqual(bitsOf(expected[column]));
  }
  for (const column of ['seq', 'stamped', 'source'] as const) {
    expect(Array.from<unknown>(actual[column]), column).toEqual(expected[column]);
  }
}

const comesBack = (page: PageReadings): void => expectSame(decodePage(encodePage(page)), page);

const ascending = (gaps: readonly number[]): number[] => {
  let position = 0;
  return gaps.map((gap) => {
    position += gap;
    return position;
  });
};

const anyValue = fc.double({ noNaN: true, noDefaultInfinity: true });
const anything: fc.Arbitrary<PageReadings> = fc
  .array(
    fc.record({
      atMs: fc.maxSafeInteger(),
      gap: fc.oneof(fc.constant(1), fc.integer({ min: 1, max: 2 ** 40 })),
      arrivedMs: fc.maxSafeInteger(),
      value: anyValue,
      seq: fc.option(fc.maxSafeNat()),
      stamped: fc.boolean(),
      source: fc.constantFrom('device' as const, 'typed' as const),
    }),
    { minLength: 1, maxLength: 80 },
  )
  .map((rows) => {
    const positions = ascending(rows.map((row) => row.gap));
    return pageOf(rows.map(({ gap: _, ...row }, i) => ({ ...row, position: positions[i]! })));
  });

/** As probes send them: a grid with jitter and gaps, values in steps, now and then a jump or a clock set back. */
const alike: fc.Arbitrary<PageReadings> = fc
  .record({
    intervalMs: fc.constantFrom(1, 100, 1000, 60_000),
    startMs: fc.integer({ min: -1e12, max: 2e12 }),
    unit: fc.constantFrom<(whole: number) => number>(
      (whole) => whole / 16,
      (whole) => whole / 10,
      (whole) => Math.fround(whole / 10),
      (whole) => celsiusFromFahrenheit(whole / 10),
      (whole) => whole * 1e18,
      (whole) => -whole / 100,
    ),
    delayMs: fc.integer({ min: -50, max: 50 }),
    steps: fc.array(
      fc.record({
        skipped: fc.oneof({ weight: 20, arbitrary: fc.constant(0) }, fc.integer({ min: -3, max: 300 })),
        jitter: fc.integer({ min: -9, max: 9 }),
        change: fc.oneof({ weight: 20, arbitrary: fc.integer({ min: -2, max: 2 }) }, fc.integer()),
        late: fc.oneof({ weight: 20, arbitrary: fc.constant(0) }, fc.nat(90_000)),
        numbered: fc.oneof({ weight: 20, arbitrary: fc.constant(true) }, fc.boolean()),
      }),
      { minLength: 1, maxLength: 400 },
    ),
  })
  .map(({ intervalMs, startMs, unit, delayMs, steps }) => {
    const turns = ascending(steps.map((step) => 1 + step.skipped));
    const wholes = ascending(steps.map((step) => step.change));
    return pageOf(
      steps.map(({ jitter, late, numbered }, i) => ({
        atMs: startMs + turns[i]! * intervalMs + jitter,
        position: 1 + 6 * i,
        arrivedMs: startMs + turns[i]! * intervalMs + jitter + delayMs + late,
        value: unit(wholes[i]!),
        seq: numbered ? i : null,
        stamped: !numbered,
        source: 'device',
      })),
    );
  });

describe('a page', () => {
  test('gives back any readings, bit for bit and in order', () => {
    fc.assert(fc.property(anything, comesBack), { numRuns: share(500) });
  });

  test('gives back readings as probes send them', () => {
    fc.assert(fc.property(alike, comesBack), { numRuns: share(500) });
  });

  test('gives back zeros of either sign and the ends of the range of doubles', () => {
    const values = [0, -0, Number.MIN_VALUE, -Number.MIN_VALUE, Number.MAX_VALUE, -Number.MAX_VALUE, 1 / 3];
    for (const column of [values, [-0], [-0, -0, 0.0625, 0], [0.1 + 0.2, 0.3]]) {
      comesBack(pageOf(column.map((value, i) => ({ ...PLAIN, position: i + 1, value }))));
    }
    const few = Array.from({ length: 40 }, (_, i) => ({
      ...PLAIN,
      position: i,
      value: i % 3 === 0 ? -0 : i % 3,
    }));
    comesBack(pageOf(few));
  });

  // Of the first release of this form. Should a change break it, pages on disk would be lost: it needs a new form.
  const KEPT =
    'AQHIh7wZHO4E7jOXNOWdPga4sPzWN2oLSBuogdqqtJR5+oix9THx0XfGvNNMIZhj2VMdWC+JXnhiaSR9I6I50fK/BM+kHM6rxajY' +
    'oRwsHdyZiOXIwK2eNTFVDEeNZEKnZkezYMVVKf0pLmbbAykzDsWitIagpczr69IAIwzrf5X5Rhp7Z1yZPAAEVKH/oScQ9QPLQDMO' +
    'jyHZi6nfmnNjUvAPBQogU6Jo99t2IXjKgQOGIAIpsZcItpwsjIU8a1MMIrmwAGd+NnA4SZE832UrIAMDQgG4LmJAYMGh8ZgWDw2I' +
    'P90uaFUgAimxq8e4MOx+2s/akVXEhKEWwArYpWV5oQLEAAA=';

  test('as it was written once is still read', () => {
    const noise = (i: number): number => ((i * i * 7) % 13) + (i ** 3 % 17) + ((i * i * 5) % 11) - 18;
    const rows = Array.from({ length: 120 }, (_, i): Row => {
      // Five are missing, later the clock is set back.
      const atMs = 1.7725e12 + 1000 * (i < 60 ? i : i + 5) - (i < 90 ? 0 : 1_234_567) + noise(i);
      const value = (880 + Math.round(noise(i + 500) / 8)) / 16;
      const untimed = noise(i) % 3 === 0 || i > 110;
      const seq = untimed ? null : i;
      return {
        ...PLAIN,
        atMs,
        position: 5 + 6 * i + ((i * i) >> 5),
        arrivedMs: atMs + 12,
        value,
        seq,
        stamped: untimed,
      };
    });
    expectSame(decodePage(Buffer.from(KEPT, 'base64')), pageOf(rows));
  });

  test('gives back a page of 36,000', () => {
    comesBack(steadyPage(36_000));
  });

  test('is refused where it is not of readings that belong together', () => {
    const page = steadyPage(3);
    for (const wrong of [
      { atMs: [] },
      { atMs: [1, 2] },
      { atMs: [1, 2.5, 3] },
      { arrivedMs: [1, 2, 2 ** 53] },
      { position: [1, 2, 2] },
      { value: [1, Number.NaN, 3] },
      { value: [1, Number.POSITIVE_INFINITY, 3] },
      { seq: [1, -1, null] },
    ]) {
      expect(() => encodePage({ ...page, ...wrong }), JSON.stringify(wrong)).toThrow(RangeError);
    }
    expect(() => encodePage(pageOf([]))).toThrow(RangeError);
  });
});

const PLAIN: Row = {
  atMs: 0,
  position: 1,
  arrivedMs: 0,
  value: 0,
  seq: null,
  stamped: false,
  source: 'device',
};

/** Jitter of a fixed pattern without a short period. */
const steadyPage = (count: number): PageReadings =>
  pageOf(
    Array.from({ length: count }, (_, i) => ({
      ...PLAIN,
      atMs: i * 100 + ((i * i) % 11),
      position: 5 * i,
      arrivedMs: i * 100 + 20,
      value: (900 + ((i * i) % 7)) / 16,
    })),
  );

describe('damaged bytes', () => {
  /** Either an error of ours or readings; what it may not do is fail by accident, hang or fill the memory. */
  const survives = (bytes: Uint8Array): void => {
    let decoded: PageReadings;
    try {
      decoded = decodePage(bytes, 5000);
    } catch (error) {
      expect((error as Error).message).toMatch(/^damaged page/);
      return;
    }
    expect(decoded.atMs.length).toBeLessThanOrEqual(5000);
    expect(() => encodePage(decoded)).not.toThrow();
  };

  test('of any kind are read or refused', () => {
    fc.assert(fc.property(fc.uint8Array({ maxLength: 200 }), survives), { numRuns: share(2000) });
    fc.assert(
      fc.property(fc.uint8Array({ maxLength: 200 }), (bytes) => survives(Uint8Array.from([1, 1, ...bytes]))),
      { numRuns: share(3000) },
    );
  });

  test('are read or refused where one of a page is another', () => {
    const changed = fc.tuple(fc.oneof(anything, alike), fc.nat(), fc.integer({ min: 1, max: 255 }));
    fc.assert(
      fc.property(changed, ([page, place, by]) => {
        const bytes = encodePage(page);
        bytes[place % bytes.length]! ^= by;
        survives(bytes);
      }),
      { numRuns: share(1500) },
    );
  });

  test('are refused where a page is cut short or goes on', () => {
    const bytes = encodePage(steadyPage(500));
    for (let length = 0; length < bytes.length; length++) {
      expect(() => decodePage(bytes.subarray(0, length)), `${length} bytes`).toThrow(/^damaged page/);
    }
    expect(() => decodePage(Uint8Array.from([...bytes, 0]))).toThrow(/^damaged page/);
  });

  test('are refused where they claim more readings than may be', () => {
    const bytes = encodePage(steadyPage(500));
    expect(decodePage(bytes, 500).atMs.length).toBe(500);
    expect(() => decodePage(bytes, 499)).toThrow(/^damaged page/);
  });
});

describe('coarse steps', () => {
  const readings = fc.array(
    fc.record({ atMs: fc.integer({ min: -1e6, max: 1e6 }), whole: fc.integer({ min: -4000, max: 4000 }) }),
    { maxLength: 200 },
  );

  test('hold each reading once, with its extremes and its sum', () => {
    fc.assert(
      fc.property(readings, fc.integer({ min: 1, max: 1e6 }), (rows, stepMs) => {
        const atMs = rows.map((row) => row.atMs);
        // Sixteenths add up exactly, in whatever order.
        const value = rows.map((row) => row.whole / 16);
        const steps = coarseOf({ atMs, value }, stepMs);
        const starts = [...new Set(atMs.map((at) => at - (((at % stepMs) + stepMs) % stepMs)))];
        expect(steps.map((step) => step.fromMs)).toEqual(starts.sort((a, b) => a - b));
        for (const step of steps) {
          const within = value.filter((_, i) => atMs[i]! >= step.fromMs && atMs[i]! < step.fromMs + stepMs);
          expect(step.count).toBe(within.length);
          expect(step.sum).toBe(within.reduce((a, b) => a + b, 0));
          expect(step.least).toBe(within.reduce((a, b) => Math.min(a, b)));
          expect(step.most).toBe(within.reduce((a, b) => Math.max(a, b)));
        }
      }),
    );
  });

  test('of an hour come back as they were packed', () => {
    const hour = 7 * 3_600_000;
    const ofAnHour = fc.array(
      fc.record({
        atMs: fc.integer({ min: hour, max: hour + 3_599_999 }),
        value: fc.double({ noNaN: true, noDefaultInfinity: true, min: -1e300, max: 1e300 }),
      }),
      { minLength: 1, maxLength: 200 },
    );
    fc.assert(
      fc.property(ofAnHour, (rows) => {
        const columns = { atMs: rows.map(({ atMs }) => atMs), value: rows.map(({ value }) => value) };
        const steps = coarseOf(columns, COARSE_MS);
        expect(decodeCoarse(hour, encodeCoarse(hour, steps))).toEqual(steps);
      }),
    );
    expect(() => decodeCoarse(hour, encodeCoarse(hour, []))).toThrow();
    expect(() => decodeCoarse(hour, new Uint8Array(0))).toThrow();
  });
});
