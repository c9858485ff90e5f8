import { describe, expect, test } from 'vitest';
import { at, BOILING_C, end, every, type Line, liquid, play, reading, stage, vesselLine } from './run.ts';

test('a summary a vessel comes at the end', () => {
  const run = play(
    vesselLine(),
    vesselLine({}, { vessel: 's1' }),
    stage(0, 'warm'),
    liquid(1, 70),
    liquid(20, 60),
    stage(21, 'dose'),
    liquid(22, 59),
  );
  expect(run.summaries).toEqual({
    r1: {
      type: 'summary',
      vessel: 'r1',
      creditedReactionMinutes: 0,
      conversionPercent: 0,
      conversionPercentLow: 0,
      conversionPercentHigh: 0,
      creditedSettleHours: 0,
      highestLiquidC: 70,
      smallestHeadroomC: expect.closeTo(BOILING_C - 59, 2),
    },
    s1: {
      type: 'summary',
      vessel: 's1',
      creditedReactionMinutes: 0,
      conversionPercent: 0,
      conversionPercentLow: 0,
      conversionPercentHigh: 0,
      creditedSettleHours: 0,
      highestLiquidC: null,
      smallestHeadroomC: null,
    },
  });
});

test('an alarm line has the fields that others read', () => {
  expect(play(vesselLine(), stage(0, 'react'), liquid(1, 63)).alarmLines).toEqual([
    {
      type: 'alarm',
      at: at(1),
      vessel: 'r1',
      alarm: 'boiling-near',
      event: 'raised',
      priority: 'high',
      late: false,
      value: expect.closeTo(BOILING_C - 63, 2),
      limit: 3,
      because: expect.stringContaining('63.0 °C'),
      explainedBy: null,
    },
  ]);
});

test('a line that cannot be understood is refused by its number, and the run goes on', () => {
  const run = play(
    JSON.stringify(vesselLine()),
    '',
    'nonsense',
    JSON.stringify(stage(0, 'react')),
    '   \r',
    JSON.stringify({ ...liquid(1, 63), value: '63' }),
    JSON.stringify({ ...liquid(1, 63), at: '2026-02-30T10:00:00.000Z' }),
    JSON.stringify({ type: 'stage', at: at(1), vessel: 'r1', stage: 'boil' }),
    JSON.stringify(vesselLine({ limits: { nearMargin: 5 } })),
    JSON.stringify(vesselLine({ requiredReactionMinutes: -1 })),
    JSON.stringify(vesselLine({}, { site: { altitudeM: 100, pressureHPa: 1000 } })),
    '[]',
    JSON.stringify(liquid(2, 63)),
  );
  expect(run.refused.map(({ line }) => line)).toEqual([3, 6, 7, 8, 9, 10, 11, 12]);
  expect(run.refused.every(({ because }) => because.length > 0)).toBe(true);
  expect(run.alarms).toEqual(['2 r1 boiling-near raised high']);
});

test('what comes before its vessel’s line is refused', () => {
  const run = play(
    liquid(0, 50),
    stage(0, 'react'),
    { type: 'device', at: at(0), vessel: 'r1', presence: 'gone' },
    vesselLine(),
  );
  expect(run.refused.map(({ line }) => line)).toEqual([1, 2, 3]);
});

test('lines may end in CRLF, and a file may begin with a byte order mark', () => {
  const lines = [vesselLine(), stage(0, 'react'), liquid(1, 63)].map((line) => `${JSON.stringify(line)}\r\n`);
  const run = play(`\uFEFF${lines[0]}`, ...lines.slice(1));
  expect(run.refused).toEqual([]);
  expect(run.alarms).toEqual(['1 r1 boiling-near raised high']);
});

test('a second line of a vessel replaces its plan, and keeps the site where it names none', () => {
  const { site: _, ...withoutSite } = vesselLine({ limits: { nearMarginC: 8 } });
  const run = play(
    vesselLine({}, { site: { altitudeM: 1609.344 } }),
    stage(0, 'react'),
    liquid(1, 52),
    withoutSite,
    liquid(2, 52),
  );
  expect(run.alarms).toEqual(['2 r1 boiling-near raised high']);
  // Methanol boils at 59.689 °C at 1,609.344 m (computed).
  expect(run.alarmLines[0]?.value).toBeCloseTo(59.689 - 52, 2);
});

test('any line may carry when it arrived', () => {
  const arrived = at(30);
  const run = play(
    { ...vesselLine(), arrived: at(0) },
    { ...stage(0, 'react'), arrived: at(0) },
    liquid(1, 50, { arrived: at(1) }),
    { ...end(2), arrived },
  );
  expect(run.refused).toEqual([]);
  expect(run.alarms).toEqual(['16 r1 reading-late raised high']);
});

test('times may be epoch milliseconds', () => {
  const run = play(vesselLine(), stage(0, 'react'), {
    ...reading(1, 'liquid-temperature', 63),
    at: Date.parse(at(1)),
  });
  expect(run.alarms).toEqual(['1 r1 boiling-near raised high']);
});

describe('what a daemon went through', () => {
  const start = (seconds: number, downSince?: number): Line => ({
    type: 'start',
    at: at(seconds),
    ...(downSince !== undefined && { downSince: at(downSince) }),
  });
  const acknowledge = (seconds: number, alarm: string): Line => ({
    type: 'acknowledge',
    at: at(seconds),
    vessel: 'r1',
    alarm,
  });
  const clockStep = (seconds: number, stepMs: number): Line => ({
    type: 'clock-step',
    at: at(seconds),
    stepMs,
  });
  const device = (seconds: number, presence: string, rest: object = {}): Line => ({
    type: 'device',
    at: at(seconds),
    presence,
    ...rest,
  });

  test('a time when nobody watched is said, is no silence, and goes when it is acknowledged', () => {
    const run = play(
      vesselLine(),
      start(0),
      stage(0, 'react'),
      liquid(1, 50),
      start(601, 5),
      liquid(602, 50),
      acknowledge(610, 'boiling-near'),
      acknowledge(611, 'not-watching'),
    );
    expect(run.refused).toEqual([]);
    expect(run.alarms).toEqual(['601 r1 not-watching raised high', '611 r1 not-watching cleared high']);
  });

  test('a clock that is set moves what it stamped along, and is no silence', () => {
    const lines = (step: Line[], stamped: boolean): Line[] => [
      vesselLine(),
      stage(0, 'react'),
      liquid(1, 50, { stamped }),
      ...step,
      liquid(602, 50, { stamped }),
    ];
    expect(play(...lines([], true)).alarms[0]).toBe('16 r1 reading-late raised high');
    expect(play(...lines([clockStep(601, 599_000)], true)).alarms).toEqual([]);
  });

  test('a clock cannot be set beyond what dates reach', () => {
    const far = play(vesselLine(), clockStep(1, Number.MAX_SAFE_INTEGER), stage(2, 'react'), liquid(3, 63));
    expect(far.refused.map(({ line }) => line)).toEqual([2]);
    expect(far.alarms).toEqual(['3 r1 boiling-near raised high']);
  });

  test('a device without a vessel serves the one that it is named after, else all that are in the batch', () => {
    const run = play(
      vesselLine(),
      vesselLine({}, { vessel: 'm1' }),
      vesselLine({}, { vessel: 's1', batch: null }),
      device(0, 'gone', { device: 'm1-node' }),
      device(20, 'gone', { device: 'box' }),
      end(40),
    );
    // That of m1 stands already, and is not raised again for a second device.
    expect(run.alarms).toEqual(['10 m1 device-gone raised low', '30 r1 device-gone raised low']);
  });

  test('a vessel that works for a stored batch is free again when it is emptied', () => {
    const inBatch = (vessel: string): Line => vesselLine({}, { vessel, batch: 'b1' });
    const lines = (vessels: Line[]): Line[] => [
      ...vessels,
      stage(0, 'methoxide', 'm1'),
      stage(0, 'warm'),
      liquid(1, 50),
      stage(10, 'dose'),
      device(11, 'gone', { device: 'box' }),
      end(22),
    ];
    const isGone = (alarm: string) => alarm.includes('device-gone');
    expect(play(...lines([inBatch('r1'), inBatch('m1')])).alarms.filter(isGone)).toEqual([
      '21 r1 device-gone raised high',
    ]);
    expect(play(...lines([vesselLine(), vesselLine({}, { vessel: 'm1' })])).alarms.filter(isGone)).toEqual([
      '21 r1 device-gone raised high',
      '21 m1 device-gone raised low',
    ]);
  });

  test('a run is of one batch, and what it earned is in its summary also when it has ended', () => {
    const run = play(
      vesselLine({ mixingStated: true, reactionTemperatureC: 50 }, { batch: null }),
      stage(0, 'react'),
      vesselLine({ mixingStated: true, reactionTemperatureC: 50 }, { batch: 'b1' }),
      vesselLine({}, { batch: 'b2' }),
      stage(1, 'react'),
      ...every(1, 601, 1, (seconds) => liquid(seconds, 50)),
      stage(602, 'void'),
    );
    expect(run.refused.map(({ line }) => line)).toEqual([2, 4]);
    expect(run.summaries.r1?.creditedReactionMinutes).toBeCloseTo(10, 1);
  });
});

test('times that no daemon could have taken in are refused', () => {
  const run = play(
    vesselLine(),
    stage(0, 'react'),
    liquid(120, 63, { arrived: at(1) }),
    liquid(61, 63, { arrived: at(1) }),
    { type: 'start', at: at(2), downSince: at(3) },
  );
  expect(run.refused.map(({ line }) => line)).toEqual([3, 5]);
  expect(run.alarms).toEqual(['61 r1 boiling-near raised high']);
});

test('a limit beyond what is looked back at is refused, not passed over', () => {
  const run = play(
    vesselLine({ limits: { heatSeenMinutes: 119 } }),
    vesselLine({ limits: { heatSeenMinutes: 120 } }),
  );
  expect(run.refused.map(({ line }) => line)).toEqual([2]);
});
