import { Readable } from 'node:stream';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { MOST_LINE_LENGTH, readLines } from '../../../daemon/commands/replay-sources/lines.ts';
import { ndjsonRun } from '../../../daemon/commands/replay-sources/ndjson.ts';
import { parseReplayLine } from '../../../shared/wire/replay-line.ts';
import { parseIsoMs } from '../../../shared/wire/time.ts';
import { gather } from './gather.ts';

/** The lines of a text that comes in chunks of bytes, cut at these places. */
async function linesOf(text: string, cuts: readonly number[] = []): Promise<(string | null)[]> {
  return gather(readLines(inChunks(text, cuts)));
}

function inChunks(text: string, cuts: readonly number[]): Readable {
  const bytes = Buffer.from(text);
  const places = [0, ...cuts.map((cut) => cut % (bytes.length + 1)).sort((a, b) => a - b), bytes.length];
  return Readable.from(places.slice(1).map((to, i) => bytes.subarray(places[i], to)));
}

describe('lines', () => {
  const piece = fc.constantFrom('a', '{"x":1}', '\n', '\n', '\r\n', '°', '水', '😀', '"', ' ', '\u2028');

  test('are the same wherever the bytes are cut', async () => {
    await fc.assert(
      fc.asyncProperty(
        fc.array(piece, { maxLength: 60 }),
        fc.array(fc.nat(), { maxLength: 20 }),
        async (pieces, cuts) => {
          const text = pieces.join('');
          const wanted = text.split('\n');
          if (wanted.at(-1) === '') wanted.pop();
          expect(await linesOf(text, cuts)).toEqual(wanted);
        },
      ),
      { numRuns: 500 },
    );
  });

  test('come without the byte order mark of their text', async () => {
    expect(await linesOf('\uFEFFa\n\uFEFFb')).toEqual(['a', '\uFEFFb']);
  });

  test('that are too long are passed over, with those around them whole', async () => {
    const long = 'x'.repeat(MOST_LINE_LENGTH + 1);
    const cuts = Array.from({ length: 30 }, (_, i) => i * 100_000);
    for (const some of [[], cuts]) {
      const lines = await linesOf(`a\n${long}\nb\n${long.slice(1)}\n${long}${long}`, some);
      expect(lines.map((line) => line?.length ?? null)).toEqual([1, null, 1, MOST_LINE_LENGTH, null]);
    }
  });

  test('a run keeps its numbers past a line that is too long', async () => {
    const text = `{}\n${'x'.repeat(MOST_LINE_LENGTH + 1)}\n[]\n`;
    const lines = await gather(ndjsonRun(inChunks(text, [1, 70_000])));
    expect(lines).toEqual(['{}', { type: 'refused', line: 2, because: expect.any(String) }, '', '[]']);
  });
});

describe('a time', () => {
  /** What the standard's form and the calendar of the language say. */
  function reference(text: string): number | undefined {
    if (!/^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}(\.\d{1,9})?Z$/.test(text)) return undefined;
    const ms = Date.parse(text);
    // It lets 30 February and 24:00 roll over.
    return Number.isNaN(ms) || new Date(ms).toISOString().slice(0, 10) !== text.slice(0, 10) ? undefined : ms;
  }

  test('with any sign of it changed, left out or put in is one only where its form still is', () => {
    const two = (max: number) => fc.integer({ min: 0, max }).map((n) => String(n).padStart(2, '0'));
    const year = fc.integer({ min: 0, max: 9999 }).map((n) => String(n).padStart(4, '0'));
    const fraction = fc.stringMatching(/^(\.\d{1,10})?$/);
    const time = fc
      .tuple(year, two(13), two(32), two(24), two(60), two(60), fraction)
      .map(([y, m, d, h, min, s, f]) => `${y}-${m}-${d}T${h}:${min}:${s}${f}Z`);
    const sign = fc.constantFrom('', '', '0', '9', '-', ':', '.', 'T', 'Z', ' ', 'x', '+', '٣');
    let taken = 0;
    fc.assert(
      fc.property(time, fc.nat({ max: 30 }), sign, fc.nat({ max: 2 }), (text, at, put, gone) => {
        const changed = text.slice(0, at) + put + text.slice(at + gone);
        for (const some of [text, changed]) expect(parseIsoMs(some), some).toBe(reference(some));
        if (parseIsoMs(changed) !== undefined) taken++;
      }),
      { numRuns: 5000 },
    );
    expect(taken).toBeGreaterThan(100);
  });
});

describe('a reading line', () => {
  test('is the same with its fields in the common order and in any other', () => {
    const time = fc.constantFrom(
      '2026-03-02T10:00:00.000Z',
      '2026-03-02T10:00:00.000Z',
      '2026-03-02T10:00:00.000Z',
      '2026-03-02T10:00:00Z',
      '2026-03-02T10:00:00Z',
      '2026-02-30T10:00:00Z',
      '10',
    );
    const name = fc.constantFrom(
      'r1',
      'r1',
      'r1',
      'r1',
      'liquid-temperature',
      'liquid-temperature',
      'liquid-temperature',
      'R1',
      '',
      '-r',
      'a'.repeat(41),
    );
    const number = fc.oneof(
      fc.double({ noNaN: true }).map(String),
      fc.constantFrom('-0', '1e5', '1E-5', '01', '.5', '5.', '+1', '1e999', '-', '"1"', 'null'),
    );
    let taken = 0;
    fc.assert(
      fc.property(time, fc.option(time), name, name, number, (at, arrived, vessel, channel, value) => {
        const arrivedField = arrived === null ? '' : `"arrived":"${arrived}",`;
        const rest = `"vessel":"${vessel}","channel":"${channel}","value":${value}`;
        const plain = parseReplayLine(`{"type":"reading","at":"${at}",${arrivedField}${rest}}`);
        expect(plain).toEqual(parseReplayLine(`{${arrivedField}${rest},"at":"${at}","type":"reading"}`));
        if (plain.type === 'reading') taken++;
      }),
      { numRuns: 2000 },
    );
    expect(taken).toBeGreaterThan(100);
  });
});
