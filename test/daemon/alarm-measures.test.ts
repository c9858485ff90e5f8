import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { AlarmHistory, AlarmMoment, AlarmSpan } from '../../daemon/store/store.ts';
import { alarmMeasures } from '../../daemon/watch/alarm-measures.ts';
import { alarmMeasuresSchema } from '../../shared/wire/alarm-measures.ts';
import { PRIORITIES } from '../../shared/wire/names.ts';

const START_MS = Date.parse('2026-03-01T00:00:00.000Z');
const MINUTE_MS = 60_000;
const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;

let count = 0;
/** An alarm that came so long after the start, told at once. */
const raised = (afterMs: number, some: Partial<AlarmMoment> = {}): AlarmMoment => ({
  site: 'barn',
  vessel: 'r1',
  alarm: 'boiling-near',
  id: `a${++count}`,
  event: 'raised',
  priority: 'low',
  atMs: START_MS + afterMs,
  arrivedMs: START_MS + afterMs,
  late: false,
  told: true,
  ...some,
});

const span = (fromHours: number, toHours: number | null, some: Partial<AlarmSpan> = {}): AlarmSpan => ({
  site: 'barn',
  vessel: 'r1',
  alarm: 'boiling-near',
  id: `s${++count}`,
  atMs: START_MS + fromHours * HOUR_MS,
  clearedAtMs: toHours === null ? null : START_MS + toHours * HOUR_MS,
  ...some,
});

/** The measures of so many days from the start. */
const of = (days: number, some: Partial<AlarmHistory>) =>
  alarmMeasures({
    fromMs: START_MS,
    toMs: START_MS + days * DAY_MS,
    complete: true,
    moments: [],
    spans: [],
    moreSpans: false,
    ...some,
  });

const times = <T>(n: number, make: (i: number) => T): T[] => Array.from({ length: n }, (_, i) => make(i));

test('nothing at all is no alarm a day, and no share of anything', () => {
  const measures = of(30, {});
  expect(measures).toMatchObject({
    days: 30,
    alarms: 0,
    perDay: { mean: 0, highest: null },
    perTenMinutes: { mean: 0, highest: null, floodPercent: 0 },
    byPriority: { low: { count: 0, percent: null } },
    mostFrequent: { percent: null, alarms: [] },
    longestStanding: [],
    stale: { alarms: 0, mostOnOneDay: 0 },
    chattering: [],
  });
});

describe('alarms a day', () => {
  test('are those of its UTC day; the mean is over the whole time', () => {
    const moments = [raised(HOUR_MS), raised(DAY_MS - 1), raised(DAY_MS), raised(2 * DAY_MS + HOUR_MS)];
    const { perDay } = of(4, { moments });
    expect(perDay.mean).toBe(1);
    expect(perDay.highest).toEqual({ day: '2026-03-01', count: 2 });
    expect(perDay.counts.slice(0, 4).map(({ day, count: n }) => `${day} ${n}`)).toEqual([
      '2026-03-01 2',
      '2026-03-02 1',
      '2026-03-03 1',
      '2026-03-04 0',
    ]);
  });

  test('count less than a day as one', () => {
    expect(of(0.01, { moments: [raised(MINUTE_MS)] }).perDay.mean).toBe(1);
  });

  test('go by when people were told: late ones when they came', () => {
    const late = raised(HOUR_MS, { late: true, arrivedMs: START_MS + DAY_MS + HOUR_MS });
    expect(of(2, { moments: [late] }).perDay.highest).toEqual({ day: '2026-03-02', count: 1 });
  });
});

describe('alarms per ten minutes', () => {
  // Flood: more than 10 in ten minutes, for under 1 % of the time. ISA-18.2 and IEC 62682, public reprints.
  test('ten are no flood, eleven are', () => {
    const within = (n: number) => times(n, (i) => raised(20 * MINUTE_MS + i * 1000));
    expect(of(1, { moments: within(10) }).perTenMinutes).toMatchObject({
      highest: { at: '2026-03-01T00:20:00.000Z', count: 10 },
      floodPercent: 0,
    });
    const { highest, floodPercent } = of(1 - 1e-6, { moments: within(11) }).perTenMinutes;
    expect(highest?.count).toBe(11);
    // One of the 144 spans of a day.
    expect(floodPercent).toBeCloseTo(100 / 144, 9);
  });

  test('a span ends before its tenth minute is over', () => {
    const moments = times(11, (i) => raised(10 * MINUTE_MS - 5 + i));
    expect(of(1, { moments }).perTenMinutes).toMatchObject({ highest: { count: 6 }, floodPercent: 0 });
  });

  // ~150 a day are ~6 an hour and ~1 per ten minutes; 300 are ~12 and ~2. ISA-18.2-2009 and -2016.
  test.for([
    { perDay: 144, perTenMinutes: 1 },
    { perDay: 288, perTenMinutes: 2 },
  ])('$perDay a day are $perTenMinutes per ten minutes', ({ perDay, perTenMinutes }) => {
    const moments = times(perDay * 30, (i) => raised((i * DAY_MS) / perDay));
    const measures = of(30, { moments });
    expect(measures.perDay.mean).toBeCloseTo(perDay, 9);
    expect(measures.perTenMinutes.mean).toBeCloseTo(perTenMinutes, 9);
    expect(measures.perTenMinutes.floodPercent).toBe(0);
  });
});

test('shares by priority: the standard’s own distribution', () => {
  // ~80 % low, ~15 % medium, ~5 % high: ISA-18.2, public reprints.
  const moments = times(100, (i) =>
    raised(i * HOUR_MS, { priority: i < 80 ? 'low' : i < 95 ? 'medium' : 'high' }),
  );
  expect(of(30, { moments }).byPriority).toEqual({
    low: { count: 80, percent: 80 },
    medium: { count: 15, percent: 15 },
    high: { count: 5, percent: 5 },
    critical: { count: 0, percent: 0 },
  });
});

describe('what nobody was told of', () => {
  test('is counted apart, and in nothing else', () => {
    const moments = [
      raised(0),
      raised(1, { told: false, alarm: 'reading-late' }),
      raised(2, { late: true, id: 'over', arrivedMs: START_MS + HOUR_MS }),
      raised(3, { event: 'cleared', id: 'over', arrivedMs: START_MS + HOUR_MS }),
      raised(4, { late: true, id: 'stood', arrivedMs: START_MS + HOUR_MS }),
      raised(5, { event: 'cleared', id: 'stood', arrivedMs: START_MS + 2 * HOUR_MS }),
    ];
    expect(of(1, { moments })).toMatchObject({
      alarms: 2,
      notTold: { explained: 1, lateAndOver: 1 },
      perDay: { mean: 2 },
      mostFrequent: { alarms: [{ alarm: 'boiling-near', count: 2, percent: 100 }] },
    });
  });

  test('counts from when people were told after all', () => {
    const moments = [
      raised(0, { id: 'x', told: false }),
      raised(DAY_MS + HOUR_MS, { id: 'x', event: 'unexplained' }),
      raised(DAY_MS + 2 * HOUR_MS, { id: 'y', event: 'unshelved' }),
      raised(DAY_MS + 3 * HOUR_MS, { id: 'z', event: 'unshelved', told: false }),
    ];
    expect(of(2, { moments })).toMatchObject({
      alarms: 2,
      notTold: { explained: 1 },
      perDay: { highest: { day: '2026-03-02', count: 2 } },
    });
  });
});

test('the most frequent are ten, by place and name, with their shares', () => {
  const moments = [
    ...times(5, (i) => raised(i, { vessel: 'r2' })),
    ...times(4, (i) => raised(i)),
    ...times(11, (i) => raised(i, { vessel: `v${i}` })),
  ];
  const { percent, alarms } = of(30, { moments }).mostFrequent;
  expect(alarms).toHaveLength(10);
  expect(alarms.slice(0, 3)).toEqual([
    { site: 'barn', vessel: 'r2', alarm: 'boiling-near', count: 5, percent: 25 },
    { site: 'barn', vessel: 'r1', alarm: 'boiling-near', count: 4, percent: 20 },
    { site: 'barn', vessel: 'v0', alarm: 'boiling-near', count: 1, percent: 5 },
  ]);
  expect(percent).toBe(85);
});

describe('how long alarms stood', () => {
  test('the longest first, ten of them, those that stand up to the end', () => {
    const spans = [...times(10, (i) => span(10, 10 + (i + 1) / 10)), span(-30, 2), span(20, null)];
    const { longestStanding } = of(1, { spans });
    expect(longestStanding).toHaveLength(10);
    expect(longestStanding.slice(0, 3).map(({ hours, clearedAt }) => [hours, clearedAt])).toEqual([
      [32, '2026-03-01T02:00:00.000Z'],
      [4, null],
      [1, '2026-03-01T11:00:00.000Z'],
    ]);
  });

  // Stale: in alarm for more than 24 h; under 5 on any day. ISA-18.2 and IEC 62682, public reprints.
  test('is stale from 24 h on, and not at 24 h', () => {
    expect(of(3, { spans: [span(0, 24)] }).stale).toEqual({ alarms: 0, mostOnOneDay: 0 });
    expect(of(3, { spans: [span(0, 24.001)] }).stale).toEqual({ alarms: 1, mostOnOneDay: 1 });
  });

  test('counts on each day on which they were stale', () => {
    const spans = [span(0, 60), span(0, 47), span(30, 58), span(50, null)];
    // Stale: day 2 and 3; day 2; day 3; from hour 74 on, on day 4.
    expect(of(4, { spans }).stale).toEqual({ alarms: 4, mostOnOneDay: 2 });
    // Of two days, the last was not stale yet.
    expect(of(2, { spans: spans.slice(0, 3) }).stale).toEqual({ alarms: 2, mostOnOneDay: 2 });
  });

  test('what had ceased to be stale before is not counted', () => {
    expect(of(3, { spans: [span(-50, -1), span(-50, 1)] }).stale).toEqual({ alarms: 1, mostOnOneDay: 1 });
  });
});

describe('chattering', () => {
  // 'At least 3 in 60 s' is practice; the standards describe it in words, and want none.
  test('is three raisings within 60 s of one alarm of one vessel', () => {
    const at = (...seconds: number[]) => seconds.map((s) => raised(s * 1000));
    expect(of(1, { moments: at(0, 30, 60) }).chattering).toEqual([
      { site: 'barn', vessel: 'r1', alarm: 'boiling-near', most: 3 },
    ]);
    expect(of(1, { moments: at(0, 30, 60.001) }).chattering).toEqual([]);
    expect(of(1, { moments: at(0, 59, 60, 61, 62, 200) }).chattering).toMatchObject([{ most: 4 }]);
    const elsewhere = raised(20_000, { vessel: 'r2' });
    expect(of(1, { moments: [...at(0, 30), elsewhere] }).chattering).toEqual([]);
  });

  test('is not one alarm that becomes graver while it stands', () => {
    const moments = (['medium', 'high', 'critical'] as const).map((priority, i) =>
      raised(i * 1000, { id: 'one', priority }),
    );
    expect(of(1, { moments })).toMatchObject({ alarms: 3, chattering: [] });
  });

  test('goes by the readings’ time, not by when they came', () => {
    const arrivedMs = START_MS + DAY_MS / 2;
    const kept = times(3, (i) => raised(i * HOUR_MS, { arrivedMs, late: true }));
    expect(of(1, { moments: kept }).chattering).toEqual([]);
  });
});

test('is complete as long as what was left out could not be stale', () => {
  const some = { spans: [span(0, 30), span(0, 24)], moreSpans: true };
  expect(of(3, some).complete).toBe(true);
  expect(of(3, { ...some, spans: [span(0, 30), span(0, 25)] }).complete).toBe(false);
  expect(of(3, { complete: false }).complete).toBe(false);
});

test('the figures of the standards stand beside, each with its source', () => {
  const { targets } = of(30, {});
  const figures = Object.fromEntries(targets.map(({ measure, is, value }) => [measure, `${is} ${value}`]));
  // ANSI/ISA-18.2-2009 and -2016, IEC 62682:2014, as publicly reprinted.
  expect(figures).toEqual({
    days: 'at-least 30',
    'perDay.mean': 'at-most 150',
    'perTenMinutes.mean': 'at-most 1',
    'perTenMinutes.highest.count': 'at-most 10',
    'perTenMinutes.floodPercent': 'under 1',
    'byPriority.low.percent': 'about 80',
    'byPriority.medium.percent': 'about 15',
    'byPriority.high.percent': 'about 5',
    'byPriority.critical.percent': 'under 1',
    'mostFrequent.percent': 'at-most 5',
    'stale.mostOnOneDay': 'under 5',
    'chattering.length': 'at-most 0',
  });
  expect(targets.every(({ source }) => /ISA-18\.2|IEC 62682/.test(source))).toBe(true);
});

test('every measure that has a target is in the answer', () => {
  const measures = of(1, { moments: [raised(0)], spans: [span(0, 1)] });
  for (const { measure } of measures.targets) {
    const found = measure.split('.').reduce<unknown>((part, key) => (part as never)[key], measures);
    expect(found, measure).toBeTypeOf('number');
  }
});

test('whatever the history, counts add up and the answer has its form', () => {
  const someMoments = fc.array(
    fc.record({
      ms: fc.nat(3 * DAY_MS),
      vessel: fc.constantFrom('r1', 'r2'),
      alarm: fc.constantFrom('boiling-near', 'reading-late'),
      id: fc.constantFrom('a', 'b', 'c', 'd'),
      event: fc.constantFrom(...(['raised', 'cleared', 'unshelved', 'unexplained'] as const)),
      priority: fc.constantFrom(...PRIORITIES),
      late: fc.boolean(),
      told: fc.boolean(),
    }),
  );
  fc.assert(
    fc.property(someMoments, (some) => {
      const moments = some.map(({ ms, ...fields }) => raised(ms, fields));
      const measures = alarmMeasuresSchema.parse(of(3, { moments }));
      const { alarms, perDay, byPriority, mostFrequent, notTold } = measures;
      const sum = (counts: { count: number }[]) => counts.reduce((total, each) => total + each.count, 0);
      expect(sum(perDay.counts)).toBe(alarms);
      expect(sum(Object.values(byPriority))).toBe(alarms);
      expect(sum(mostFrequent.alarms)).toBe(alarms);
      const came = moments.filter(({ event }) => event !== 'cleared');
      const quietAgain = came.filter(({ event, told }) => event !== 'raised' && !told).length;
      expect(alarms + notTold.explained + notTold.lateAndOver + quietAgain).toBe(came.length);
    }),
    { numRuns: 200 },
  );
});
