import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { timeReader } from '../../../daemon/commands/replay-sources/time-form.ts';

/** What a text is in a form, as an ISO time; undefined where it does not have it. */
function read(form: string, offset: string | undefined, text: string): string | undefined {
  const reader = timeReader(form, offset);
  if (typeof reader === 'string') throw new Error(reader);
  const ms = reader(text);
  return ms === undefined ? undefined : new Date(ms).toISOString();
}

const WANTED = '2026-03-02T09:05:07.250Z';

describe('times as loggers write them', () => {
  test.for([
    ['iso', undefined, '2026-03-02T09:05:07.250Z'],
    ['iso', undefined, '2026-03-02 10:05:07,25+01:00'],
    ['iso', undefined, '2026-03-02 10:05:07.250 +0100'],
    ['iso', '+01:00', '2026-03-02 10:05:07.2500'],
    // What the text says goes before what the mapping says.
    ['iso', '+01:00', '2026-03-02 09:05:07.25Z'],
    ['iso', '-05:30', '2026-03-02T03:35:07.250'],
    ['epoch-s', undefined, '1772442307.25'],
    ['epoch-s', undefined, '1772442307,25'],
    ['epoch-ms', undefined, '1772442307250'],
    ['DD.MM.YYYY HH:mm:ss,SSS', '+01:00', '02.03.2026 10:05:07,25'],
    ['D/M/YY H:mm:ss.SSS', '+0100', '2/3/26 10:05:07.250'],
    ['M/D/YYYY h:mm:ss.SSS A', '+01:00', '3/2/2026 10:05:07.25 AM'],
    ['M/D/YYYY hh:mm:ss.SSSA', '-12:00', '3/1/2026 09:05:07.25pm'],
    ['YYYYMMDDHHmmssSSS', 'Z', '20260302090507250'],
    ['[YYYY-MM-DD] (HH:mm:ss.SSS)', 'Z', '[2026-03-02] (09:05:07.250)'],
  ] as const)('%s, offset %s: %s', ([form, offset, text]) => {
    expect(read(form, offset, text)).toBe(WANTED);
  });

  test('seconds may be left out', () => {
    expect(read('iso', 'Z', '2026-03-02 09:05')).toBe('2026-03-02T09:05:00.000Z');
    expect(read('DD.MM.YYYY HH:mm', 'Z', '02.03.2026 09:05')).toBe('2026-03-02T09:05:00.000Z');
  });

  test('12 AM is midnight and 12 PM noon', () => {
    expect(read('M/D/YYYY h:mm A', 'Z', '3/2/2026 12:05 AM')).toBe('2026-03-02T00:05:00.000Z');
    expect(read('M/D/YYYY h:mm A', 'Z', '3/2/2026 12:05 PM')).toBe('2026-03-02T12:05:00.000Z');
  });

  test.for([
    ['iso', undefined, '2026-03-02 09:05:07'],
    ['iso', 'Z', '2026-02-29T09:05:07'],
    ['iso', 'Z', '2026-03-02T24:00:00'],
    ['iso', 'Z', '02.03.2026 09:05'],
    ['iso', 'Z', ''],
    ['epoch-s', undefined, ''],
    ['epoch-s', undefined, '2026-03-02'],
    ['epoch-ms', undefined, '1,772,442,307,250'],
    ['DD.MM.YYYY HH:mm', 'Z', '2.3.2026 9:05'],
    ['DD.MM.YYYY HH:mm', 'Z', '31.02.2026 09:05'],
    ['DD.MM.YYYY HH:mm', 'Z', '02.03.2026 09:60'],
    ['DD.MM.YYYY HH:mm', 'Z', '02-03-2026 09:05'],
    ['DD.MM.YYYY HH:mm', 'Z', '02.03.2026 09:05:07'],
    ['M/D/YYYY h:mm A', 'Z', '3/2/2026 0:05 AM'],
    ['M/D/YYYY h:mm A', 'Z', '3/2/2026 13:05 PM'],
  ] as const)('not %s, offset %s: "%s"', ([form, offset, text]) => {
    expect(read(form, offset, text)).toBeUndefined();
  });

  test('a pattern reads back what was written by it', () => {
    const date = fc.date({
      noInvalidDate: true,
      min: new Date('2000-01-01T00:00:00Z'),
      max: new Date('2099-12-30T00:00:00Z'),
    });
    fc.assert(
      fc.property(date, fc.integer({ min: -14 * 60, max: 14 * 60 }), (at, minutes) => {
        const local = new Date(at.getTime() + minutes * 60_000).toISOString();
        const abs = Math.abs(minutes);
        const two = (n: number) => String(n).padStart(2, '0');
        const offset = `${minutes < 0 ? '-' : '+'}${two(Math.floor(abs / 60))}:${two(abs % 60)}`;
        const text = `${local.slice(8, 10)}.${local.slice(5, 7)}.${local.slice(0, 4)} ${local.slice(11, 23)}`;
        expect(read('DD.MM.YYYY HH:mm:ss.SSS', offset, text)).toBe(at.toISOString());
        expect(read('iso', offset, local.slice(0, -1))).toBe(at.toISOString());
      }),
    );
  });

  test.for([
    ['DD.MM.YYYY HH:mm', undefined],
    ['HH:mm', 'Z'],
    ['DD.MM.YYYY', 'Z'],
    ['DD.MM.YYYY HH', 'Z'],
    ['DD.MM.YYYY HH:mm DD', 'Z'],
    ['DD.MM.YYYY hh:mm', 'Z'],
    ['DD.MM.YYYY HH:mm A', 'Z'],
    ['DD.MM.YYYY HH:mm:ss:ss', 'Z'],
    ['ISO', 'Z'],
  ] as const)('"%s" with offset %s is no form', ([form, offset]) => {
    expect(timeReader(form, offset)).toEqual(expect.any(String));
  });
});
