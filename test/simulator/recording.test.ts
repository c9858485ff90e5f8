import { describe, expect, it } from 'vitest';
import { parseReplayLine } from '../../shared/wire/replay-line.ts';
import { HIGH_PLAIN, HILLS, type Site } from '../../simulator/gear.ts';
import { quietDays, recordedRun } from '../../simulator/recording.ts';
import { run } from '../../simulator/run.ts';
import { SCENARIOS, variant } from '../../simulator/scenarios/index.ts';

const START = Date.UTC(2026, 2, 2, 8);
const SETTINGS = { seed: 3, startMs: START };
const first = (lines: Iterable<string>, count: number): string[] => {
  const taken: string[] = [];
  for (const line of lines) {
    taken.push(line);
    if (taken.length === count) break;
  }
  return taken;
};

describe('a recorded run', () => {
  it('begins with its vessels, their site and plan', () => {
    const lines = first(recordedRun(SCENARIOS['ordinary-high-up'], SETTINGS), 2);
    expect(lines.map((line) => JSON.parse(line))).toEqual([
      {
        type: 'vessel',
        vessel: 'r1',
        role: 'reactor',
        site: { altitudeM: 1609 },
        plan: { reactionTemperatureC: 50, readingEverySeconds: 1 },
      },
      {
        type: 'vessel',
        vessel: 'm1',
        role: 'methoxide',
        site: { altitudeM: 1609 },
        plan: { reactionTemperatureC: 50, readingEverySeconds: 1 },
      },
    ]);
  });

  it('states the interval that it was asked for', () => {
    const [line] = first(recordedRun(SCENARIOS['ordinary-batch'], { ...SETTINGS, readingEveryMs: 5000 }), 1);
    expect(JSON.parse(line!).plan.readingEverySeconds).toBe(5);
  });

  it('says when a reading arrived where that is not its own time, and which were sent twice', () => {
    const lines = [...recordedRun(variant('readings-out-of-order', 3), SETTINGS)];
    const readings = lines
      .filter((line) => line.includes('"type":"reading"'))
      .map((line) => JSON.parse(line));
    const late = readings.filter(({ arrived }) => arrived !== undefined);
    expect(late.length).toBeGreaterThan(readings.length * 0.03);
    for (const { at, arrived } of late) {
      expect(Date.parse(arrived) - Date.parse(at)).toBeGreaterThan(0);
      // A copy may leave when the first has come.
      expect(Date.parse(arrived) - Date.parse(at)).toBeLessThanOrEqual(8000);
    }
    const distinct = new Set(readings.map(({ at, vessel, channel }) => `${at} ${vessel} ${channel}`));
    expect(distinct.size).toBeLessThan(readings.length * 0.99);
  });

  it('has the times of a device whose clock is wrong, and the arrivals that are right', () => {
    const lines = [...recordedRun(SCENARIOS['clock-ahead'], SETTINGS)].filter((line) =>
      line.includes('heater'),
    );
    for (const line of lines) {
      const { at, arrived } = JSON.parse(line);
      expect(Date.parse(at) - Date.parse(arrived)).toBe(9000);
    }
    expect(lines.length).toBeGreaterThan(1000);
  });

  it('gives what a device kept when it is back, each reading with its own time', () => {
    const lines = [...recordedRun(SCENARIOS['link-drops'], SETTINGS)].map((line) => JSON.parse(line));
    const gone = lines.find((line) => line.type === 'device' && line.presence === 'gone');
    const kept = lines.filter((line) => line.arrived !== undefined);
    expect(kept).toHaveLength(3 * 600);
    expect(new Set(kept.map(({ arrived }) => Date.parse(arrived) - Date.parse(gone.at)))).toEqual(
      new Set([600_000]),
    );
  });

  it('marks what a person typed in, which goes over no wire', () => {
    const lines = [...recordedRun(SCENARIOS['by-hand'], SETTINGS)].map((line) => JSON.parse(line));
    const readings = lines.filter(({ type }) => type === 'reading');
    expect(readings.length).toBeGreaterThan(20);
    expect(readings.every(({ typed }) => typed === true)).toBe(true);
    const items = [...run(SCENARIOS['by-hand'], SETTINGS)];
    expect(items.filter((item) => item.kind === 'reading' && item.device !== null)).toEqual([]);
  });
});

describe('quiet days', () => {
  const DAY = 24 * 3_600_000;
  const days = (site: Site, planC: number, seed: number) =>
    quietDays({ site, planC, days: 3, seed, startMs: START });

  it('are ordinary batches one after the other for at least as many days, none like the one before', () => {
    let batches = 0;
    let lastMs = START;
    const doses: number[] = [];
    let warmMs = START;
    /** Lines that come before the one before them: counted, since there are a million. */
    let backwards = 0;
    for (const text of days(HILLS, 55, 1)) {
      const line = parseReplayLine(text);
      if (line.type === 'refused') throw new Error(`${line.because}: ${text}`);
      if (line.type === 'vessel') continue;
      if (line.arrivedMs < lastMs) backwards++;
      lastMs = line.arrivedMs;
      if (line.type !== 'stage') continue;
      if (line.stage === 'warm') {
        batches++;
        warmMs = line.atMs;
      }
      if (line.stage === 'dose') doses.push(line.atMs - warmMs);
    }
    expect(backwards).toBe(0);
    expect(batches).toBe(3);
    expect(new Set(doses).size).toBe(3);
    expect(lastMs).toBeGreaterThanOrEqual(START + 3 * DAY);
  });

  it('are the same for the same seed, and others for another', () => {
    const lines = (seed: number) => first(days(HIGH_PLAIN, 50, seed), 5000).join('\n');
    expect(lines(1)).toBe(lines(1));
    expect(lines(2)).not.toBe(lines(1));
  });
});
