import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { CsvRecords } from '../../../daemon/commands/replay-sources/csv-records.ts';

/** Each record as the line it begins in and its fields, each refusal as its line alone. */
function read(lines: readonly (string | null)[], separator = ',', skipLines = 0) {
  const records = new CsvRecords(separator, skipLines);
  const all = [...lines.flatMap((line) => records.push(line)), ...records.end()];
  return all.map((record) => ('fields' in record ? [record.line, ...record.fields] : record.line));
}

const written = (field: string, separator: string): string =>
  /["\r\n]/.test(field) || field.includes(separator) ? `"${field.replaceAll('"', '""')}"` : field;

describe('records', () => {
  test('read back as they were written, each with the line it begins in', () => {
    const field = fc
      .array(fc.constantFrom('1', 'a', ' ', ',', ';', '\t', '"', '\n', '°'), { maxLength: 6 })
      .map((signs) => signs.join(''));
    // An empty line is no record, so a record of one empty field cannot be told from it.
    const row = fc.array(field, { minLength: 1, maxLength: 4 }).filter((fields) => fields.join('') !== '');
    fc.assert(
      fc.property(
        fc.array(row, { maxLength: 8 }),
        fc.constantFrom(',', ';', '\t'),
        fc.constantFrom('\n', '\r\n'),
        (rows, separator, end) => {
          const texts = rows.map((fields) => fields.map((one) => written(one, separator)).join(separator));
          let line = 1;
          const wanted = rows.map((fields, i) => {
            const first = line;
            line += texts[i]!.split('\n').length;
            return [first, ...fields];
          });
          const lines = texts
            .map((text) => text + end)
            .join('')
            .split('\n')
            .slice(0, -1);
          expect(read(lines, separator)).toEqual(wanted);
        },
      ),
      { numRuns: 2000 },
    );
  });

  test('an empty line is passed over and counted', () => {
    expect(read(['a,b', '', '\r', 'c,d\r'])).toEqual([
      [1, 'a', 'b'],
      [4, 'c', 'd'],
    ]);
  });

  test('a quote inside a field that does not begin with one is a sign like any other', () => {
    expect(read(['5" pipe,3', ' "a",b'])).toEqual([
      [1, '5" pipe', '3'],
      [2, ' "a"', 'b'],
    ]);
  });

  test('the lines before the table may hold anything', () => {
    expect(read(['Logger "7', null, 'a,b', '1,2'], ',', 2)).toEqual([
      [3, 'a', 'b'],
      [4, '1', '2'],
    ]);
  });

  describe('with wrong quotes cost their first line alone', () => {
    test('text after a closing quote', () => {
      expect(read(['1,"2"x', '3,4'])).toEqual([1, [2, '3', '4']]);
      expect(read(['1,"2', '"x', '3,4'])).toEqual([1, 2, [3, '3', '4']]);
    });

    test('a quote that is not closed to the end', () => {
      expect(read(['1,2', '3,"4', '5,6', '7,8'])).toEqual([[1, '1', '2'], 2, [3, '5', '6'], [4, '7', '8']]);
    });

    test('a quote that is not closed for very long', () => {
      const rows = Array.from({ length: 1000 }, (_, i) => `${i},0`);
      const all = read(['"1,2', ...rows]);
      expect(all).toEqual([1, ...rows.map((_, i) => [i + 2, String(i), '0'])]);
      const wide = 'x'.repeat(70_000);
      expect(read([`"${wide}`, '3,4'])).toEqual([1, [2, '3', '4']]);
    });

    test('a line that is too long, in a quote and outside', () => {
      expect(read([null, '1,2', '"3', null, '5,6'])).toEqual([1, [2, '1', '2'], 3, 4, [5, '5', '6']]);
    });
  });
});
