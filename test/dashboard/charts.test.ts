import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { gather, type Mark } from '../../dashboard/chart/marks.ts';
import { plotsOf, stretches } from '../../dashboard/chart/plots.ts';
import { ticksOf, tickTexts } from '../../dashboard/chart/ticks.ts';
import { channelsFrom, fieldTime, pictureName, typedRange } from '../../dashboard/pages/history/range.ts';
import { PRIORITIES } from '../../shared/wire/names.ts';

describe('the plots of a vessel', () => {
  it('have the probes together, then mixing, the heater as a band, and all that is left', () => {
    const plots = plotsOf([
      'zeal',
      'room-vapour',
      'heater',
      'liquid-temperature-10',
      'stirrer-speed',
      'liquid-temperature',
      'ambient-pressure',
      'apple',
      'liquid-temperature-2',
    ]);
    expect(plots.map(({ channels, kind }) => [kind, ...channels])).toEqual([
      ['temperature', 'liquid-temperature', 'liquid-temperature-2', 'liquid-temperature-10'],
      ['line', 'stirrer-speed'],
      ['switch', 'heater'],
      ['line', 'room-vapour'],
      ['line', 'ambient-pressure'],
      ['line', 'apple'],
      ['line', 'zeal'],
    ]);
  });

  it('show every channel once, whatever it is called', () => {
    fc.assert(
      fc.property(fc.array(fc.stringMatching(/^[a-z0-9][a-z0-9-]{0,39}$/)), (channels) => {
        const shown = plotsOf(channels).flatMap((plot) => plot.channels);
        expect(shown.sort()).toEqual([...new Set(channels)].sort());
      }),
    );
  });

  it('are not stretched by what no sound reading can be', () => {
    expect(stretches('liquid-temperature')(-127)).toBe(false);
    expect(stretches('liquid-temperature')(64)).toBe(true);
    expect(stretches('anything')(-127)).toBe(true);
  });
});

describe('marks that would lie on each other', () => {
  const marks = fc
    .array(
      fc.record({ ms: fc.integer({ min: 0, max: 10_000 }), priority: fc.constantFrom(null, ...PRIORITIES) }),
    )
    .map((some): Mark[] => some.sort((a, b) => a.ms - b.ms).map((mark, i) => ({ ...mark, id: String(i) })));

  it('are gathered, none lost, the gravest seen, and groups are far enough apart', () => {
    fc.assert(
      fc.property(marks, fc.integer({ min: 1, max: 3000 }), (some, apart) => {
        const groups = gather(some, apart);
        expect(groups.flatMap((group) => group.marks)).toEqual(some);
        groups.forEach((group, i) => {
          const ranks = group.marks.map(({ priority }) =>
            priority === null ? -1 : PRIORITIES.indexOf(priority),
          );
          const gravest = Math.max(...ranks);
          expect(group.priority).toBe(gravest < 0 ? null : PRIORITIES[gravest]);
          expect(group.ms).toBeGreaterThanOrEqual(group.fromMs);
          expect(group.ms).toBeLessThanOrEqual(group.toMs);
          if (i > 0) expect(group.fromMs - groups[i - 1]!.fromMs).toBeGreaterThanOrEqual(apart);
        });
      }),
    );
  });
});

describe('the time axis', () => {
  const T0 = new Date(2026, 2, 2, 10, 7, 13).getTime();

  it('has round moments within what is shown, not more than there is room for', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 1000, max: 10 * 365 * 86_400_000 }),
        fc.integer({ min: 2, max: 20 }),
        (span, most) => {
          const { at, stepMs } = ticksOf(T0 - span, T0, most);
          expect(at.length).toBeLessThanOrEqual(most + 2);
          at.forEach((ms, i) => {
            expect(ms).toBeGreaterThanOrEqual(T0 - span);
            expect(ms).toBeLessThanOrEqual(T0);
            if (i > 0) expect(ms).toBeGreaterThan(at[i - 1]!);
            if (stepMs !== null && stepMs >= 1000) expect(new Date(ms).getMilliseconds()).toBe(0);
            if (stepMs === null) expect(new Date(ms).getDate()).toBe(1);
            if (stepMs === null || stepMs >= 86_400_000) expect(new Date(ms).getHours()).toBe(0);
          });
        },
      ),
    );
  });

  it('is written as a clock, with the day where one begins, as days, and as months', () => {
    const texts = (span: number, most: number) => tickTexts(ticksOf(T0 - span, T0, most), '24');
    expect(texts(30 * 60_000, 6)).toEqual(['09:40', '09:45', '09:50', '09:55', '10:00', '10:05']);
    expect(texts(24 * 3_600_000, 4)).toEqual(['12:00', '18:00', '2 Mar', '06:00']);
    expect(texts(20_000, 5)).toEqual(['10:06:55', '10:07:00', '10:07:05', '10:07:10']);
    expect(texts(365 * 86_400_000, 5)).toEqual(['Apr 2025', 'Jul', 'Oct', 'Jan 2026']);
    expect(texts(1000, 3)[0]).toMatch(/^10:07:12\.\d$/);
  });

  it('keeps its days while the view moves', () => {
    const span = 20 * 86_400_000;
    const one = ticksOf(T0 - span, T0, 12).at;
    const other = ticksOf(T0 - span + 86_400_000, T0 + 86_400_000, 12).at;
    expect(one.filter((ms) => ms >= other[0]!)).toEqual(other.filter((ms) => ms <= T0));
  });
});

describe('a typed range', () => {
  it('is read as it is written', () => {
    const from = Math.floor(Date.UTC(2026, 2, 2, 10) / 1000) * 1000;
    expect(typedRange(fieldTime(from), fieldTime(from + 5000))).toEqual({ fromMs: from, toMs: from + 5000 });
  });

  it('is none where it is empty or ends before it begins', () => {
    expect(typedRange('', '2026-03-02T10:00:00')).toBeUndefined();
    expect(typedRange('2026-03-02T10:00:00', '2026-03-02T10:00:00')).toBeUndefined();
    expect(typedRange('soon', 'later')).toBeUndefined();
  });

  it('names a file that any system takes', () => {
    const at = new Date(2026, 2, 2, 9, 5).getTime();
    const name = pictureName('barn', 'r1', { fromMs: at, toMs: at + 3_600_000 });
    expect(name).toBe('barn-r1-2026-03-02-0905-to-2026-03-02-1005.png');
  });

  it('comes with the channels that the address names', () => {
    expect(channelsFrom(new URLSearchParams(''))).toBeUndefined();
    expect(channelsFrom(new URLSearchParams('channels=a,b'))).toEqual(new Set(['a', 'b']));
    expect(channelsFrom(new URLSearchParams('channels='))).toEqual(new Set());
  });
});
