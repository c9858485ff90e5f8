import { describe, expect, it } from 'vitest';
import type { Stage } from '../../shared/wire/names.ts';
import { dueMs, type ReadingItem, type RunItem, run } from '../../simulator/run.ts';
import type { Channel } from '../../simulator/scenario.ts';
import { SCENARIOS, type ScenarioName, variant } from '../../simulator/scenarios/index.ts';
import { pureBoilingC } from '../../simulator/vessel.ts';
import { scenariosToRun } from '../support/thorough.ts';

const MINUTE = 60_000;
const START = Date.UTC(2026, 2, 2, 8);
const SETTINGS = { seed: 1, startMs: START, readingEveryMs: 1000 };

const made = new Map<ScenarioName, readonly RunItem[]>();
function itemsOf(name: ScenarioName): readonly RunItem[] {
  const items = made.get(name) ?? [...run(SCENARIOS[name], SETTINGS)];
  made.set(name, items);
  return items;
}

function readingsOf(name: ScenarioName, channel: Channel, vessel = 'r1'): ReadingItem[] {
  return itemsOf(name).filter(
    (item): item is ReadingItem =>
      item.kind === 'reading' && item.vessel === vessel && item.channel === channel,
  );
}

function stageStart(name: ScenarioName, stage: Stage): number {
  const item = itemsOf(name).find((each) => each.kind === 'stage' && each.stage === stage);
  if (!item) throw new Error(`${name} has no ${stage}`);
  return item.atMs;
}

const within = (readings: ReadingItem[], fromMs: number, toMs: number): ReadingItem[] =>
  readings.filter(({ atMs }) => atMs >= fromMs && atMs < toMs);

const boilingOf = (name: ScenarioName): number => pureBoilingC(SCENARIOS[name].surroundings.pressureHPa);

describe.each(scenariosToRun())('%s', (name) => {
  /** Long enough for every kind of thing to happen, short enough for many scenarios. */
  const shortened = { ...SCENARIOS[name], lengthMinutes: Math.min(90, SCENARIOS[name].lengthMinutes) };

  it('is the same run for the same seed, and another in its noise for another', () => {
    const first = JSON.stringify([...run(shortened, { ...SETTINGS, readingEveryMs: 5000 })]);
    expect(JSON.stringify([...run(shortened, { ...SETTINGS, readingEveryMs: 5000 })])).toBe(first);
    if (name === 'by-hand') return;
    expect(JSON.stringify([...run(shortened, { ...SETTINGS, readingEveryMs: 5000, seed: 2 })])).not.toBe(
      first,
    );
  });

  it('is another story for another seed, and the same for the same', () => {
    expect(JSON.stringify(variant(name, 7).cues)).toBe(JSON.stringify(variant(name, 7).cues));
    const rooms = new Set([1, 2, 3].map((seed) => variant(name, seed).surroundings.ambientC));
    expect(rooms.size).toBe(3);
    const powers = [1, 2, 3].map((seed) => variant(name, seed).vessels[0]!.equipment.heaterW);
    const { heaterW } = SCENARIOS[name].vessels[0]!.equipment;
    for (const power of powers) expect(Math.abs(power - heaterW)).toBeLessThanOrEqual(heaterW * 0.1);
  });

  it('comes in order, each channel’s numbers rising, from devices that are here', () => {
    const wrong: RunItem[] = [];
    const seqs = new Map<string, number>();
    const here = new Set<string | null>([null]);
    let lastMs = START;
    for (const item of run(shortened, SETTINGS)) {
      if (dueMs(item) < lastMs) wrong.push(item);
      lastMs = dueMs(item);
      if (item.kind === 'presence') {
        if (item.presence === 'here') here.add(item.device);
        else here.delete(item.device);
      }
      if (item.kind !== 'reading' && item.kind !== 'backlog') continue;
      if (!here.has(item.device)) wrong.push(item);
      if (item.kind === 'reading' && item.sentMs !== item.atMs) continue;
      const key = `${item.vessel}/${item.channel}`;
      for (const { seq } of item.kind === 'backlog' ? item.readings : [item]) {
        if (seq <= (seqs.get(key) ?? 0)) wrong.push(item);
        seqs.set(key, seq);
      }
    }
    expect(wrong).toEqual([]);
  });
});

describe('ordinary-batch', () => {
  const name = 'ordinary-batch';
  const settleMs = () => stageStart(name, 'settle');

  it('has the channels of a reactor and a methoxide vessel', () => {
    const channels = new Set<string>();
    for (const item of itemsOf(name)) {
      if (item.kind === 'reading') channels.add(`${item.vessel}/${item.channel}`);
    }
    expect([...channels].sort()).toEqual([
      'm1/liquid-temperature',
      'm1/stirrer-speed',
      'r1/heater',
      'r1/liquid-temperature',
      'r1/stirrer-speed',
    ]);
  });

  it('doses well below boiling, onto oil near the planned 55 °C, after 20 min of mixed methoxide', () => {
    const doseMs = stageStart(name, 'dose');
    const oil = within(readingsOf(name, 'liquid-temperature'), doseMs, doseMs + 1000)[0]!;
    expect(oil.trueValue).toBeGreaterThan(54);
    expect(oil.trueValue).toBeLessThan(boilingOf(name) - 7);
    const mixed = within(readingsOf(name, 'stirrer-speed', 'm1'), stageStart(name, 'methoxide'), doseMs);
    expect(mixed.filter(({ value }) => value >= 200).length).toBeGreaterThan(20 * 60);
  });

  it('never comes within 5 °C of boiling', () => {
    const hottest = Math.max(...readingsOf(name, 'liquid-temperature').map(({ trueValue }) => trueValue));
    expect(hottest).toBeLessThan(boilingOf(name) - 5);
    expect(hottest).toBeGreaterThan(55);
  });

  it('is cooled by the dose to about 50 °C and brought back by the heater within a quarter of an hour', () => {
    const readings = readingsOf(name, 'liquid-temperature');
    const reactMs = stageStart(name, 'react');
    const dip = within(readings, stageStart(name, 'dose'), reactMs + 10 * MINUTE);
    const coldest = Math.min(...dip.map(({ trueValue }) => trueValue));
    expect(coldest).toBeGreaterThan(48);
    expect(coldest).toBeLessThan(51);
    const back = within(readings, reactMs + 15 * MINUTE, settleMs());
    expect(Math.min(...back.map(({ trueValue }) => trueValue))).toBeGreaterThan(54);
  });

  it('reacts, stirred at about 300 1/min, for more than an hour', () => {
    const speeds = within(readingsOf(name, 'stirrer-speed'), stageStart(name, 'react'), settleMs());
    expect(speeds.length).toBeGreaterThanOrEqual(62 * 60);
    expect(speeds.filter(({ value }) => Math.abs(value - 300) >= 20)).toEqual([]);
  });

  it('settles undisturbed for at least 24 h, read every 10 s, and cools towards the room', () => {
    const drainMs = stageStart(name, 'drain');
    expect(drainMs - settleMs()).toBeGreaterThanOrEqual(24 * 60 * MINUTE);
    const speeds = within(readingsOf(name, 'stirrer-speed'), settleMs() + MINUTE, drainMs);
    expect(speeds.every(({ value }) => value === 0)).toBe(true);
    const readings = within(readingsOf(name, 'liquid-temperature'), settleMs() + 6 * MINUTE, drainMs);
    expect(readings[1]!.atMs - readings[0]!.atMs).toBe(10_000);
    for (let i = 1; i < readings.length; i++) {
      expect(readings[i]!.trueValue).toBeLessThan(readings[i - 1]!.trueValue);
    }
    expect(readings.at(-1)!.trueValue).toBeLessThan(30);
  });

  it('takes the interval asked for, and the longer of the two in settling', () => {
    const gapsOf = (readingEveryMs: number) => {
      const times = [...run(SCENARIOS[name], { ...SETTINGS, readingEveryMs })]
        .filter((item) => item.kind === 'reading' && item.vessel === 'r1' && item.channel === 'heater')
        .map(({ atMs }) => atMs);
      return [times[1]! - times[0]!, times.at(-1)! - times.at(-2)!];
    };
    expect(gapsOf(2500)).toEqual([2500, 10_000]);
    expect(gapsOf(30_000)).toEqual([30_000, 30_000]);
  });
});

describe('heater-runs-on', () => {
  const name = 'heater-runs-on';

  it('nears boiling and boils before the heat is switched off, and is held near methanol’s boiling point', () => {
    const asked = readingsOf(name, 'heater').filter(({ value }) => value === 1);
    const offMs = asked.at(-1)!.atMs;
    const readings = readingsOf(name, 'liquid-temperature');
    const near = readings.find(({ trueValue }) => trueValue > boilingOf(name) - 3)!;
    const boiling = readings.find(({ trueValue }) => trueValue > boilingOf(name))!;
    expect(stageStart(name, 'react')).toBeLessThan(near.atMs);
    expect(near.atMs).toBeLessThan(boiling.atMs);
    expect(boiling.atMs).toBeLessThan(offMs);
    expect(offMs).toBeLessThan(stageStart(name, 'settle'));
    const hottest = Math.max(...readings.map(({ trueValue }) => trueValue));
    expect(hottest).toBeLessThan(boilingOf(name) + 3);
    expect(readings.at(-1)!.trueValue).toBeLessThan(boilingOf(name) - 4);
  });
});

describe('stirrer-stops', () => {
  it('stops twice in the reaction, for 90 s and for 4 min, and is stirred for over an hour all the same', () => {
    const name = 'stirrer-stops';
    const speeds = within(
      readingsOf(name, 'stirrer-speed'),
      stageStart(name, 'react'),
      stageStart(name, 'settle'),
    );
    const stops: number[] = [];
    let length = 0;
    for (const { trueValue } of speeds) {
      if (trueValue < 20) length++;
      else if (length > 0) stops.push(length);
      if (trueValue >= 20) length = 0;
    }
    expect(stops).toHaveLength(2);
    // It takes some 4 s to run down to 20 1/min and less to start.
    expect(Math.abs(stops[0]! - 90)).toBeLessThan(6);
    expect(Math.abs(stops[1]! - 240)).toBeLessThan(6);
    expect(speeds.filter(({ trueValue }) => trueValue >= 200).length).toBeGreaterThan(62 * 60);
  });
});

describe('cut-short', () => {
  it('reacts 35 min and settles 6 h', () => {
    const name = 'cut-short';
    expect(stageStart(name, 'settle') - stageStart(name, 'react')).toBe(35 * MINUTE);
    expect(stageStart(name, 'filter') - stageStart(name, 'settle')).toBe(6 * 60 * MINUTE);
  });
});

describe('probe-resets', () => {
  it('reports 85.0, −127 and a spike among good readings while the liquid moves steadily', () => {
    const name = 'probe-resets';
    const readings = within(readingsOf(name, 'liquid-temperature'), START, stageStart(name, 'settle'));
    const wrong = readings.filter(({ value, trueValue }) => Math.abs(value - trueValue) > 3);
    expect(wrong.filter(({ value }) => value === 85)).toHaveLength(3);
    expect(wrong.filter(({ value }) => value === -127)).toHaveLength(3);
    expect(wrong).toHaveLength(7);
    const steps = readings.slice(1).map((reading, i) => Math.abs(reading.trueValue - readings[i]!.trueValue));
    expect(Math.max(...steps)).toBeLessThan(0.1);
  });
});

describe('probe-unplugged', () => {
  it('sends no temperature for 3 min of the reaction, but the speed', () => {
    const name = 'probe-unplugged';
    const [from, to] = [stageStart(name, 'react'), stageStart(name, 'settle')];
    const times = within(readingsOf(name, 'liquid-temperature'), from, to).map(({ atMs }) => atMs);
    const gaps = times.slice(1).map((atMs, i) => atMs - times[i]!);
    expect(gaps.filter((gap) => gap !== 1000)).toEqual([3 * MINUTE + 1000]);
    expect(within(readingsOf(name, 'stirrer-speed'), from, to)).toHaveLength((to - from) / 1000);
  });
});

describe('link-drops', () => {
  it('keeps 10 min of readings and sends them once the device is here again', () => {
    const items = itemsOf('link-drops');
    const presence = items.filter((item) => item.kind === 'presence' && item.device === 'r1-node');
    expect(presence.map((item) => item.kind === 'presence' && item.presence)).toEqual([
      'here',
      'gone',
      'here',
    ]);
    const [goneMs, hereMs] = [presence[1]!.atMs, presence[2]!.atMs];
    expect(hereMs - goneMs).toBe(10 * MINUTE);
    const backlogs = items.filter((item) => item.kind === 'backlog');
    expect(backlogs.map(({ channel }) => channel).sort()).toEqual([
      'heater',
      'liquid-temperature',
      'stirrer-speed',
    ]);
    for (const { atMs, readings } of backlogs) {
      expect(atMs).toBe(hereMs);
      expect(readings.map((reading) => reading.atMs)).toEqual(
        Array.from({ length: 600 }, (_, i) => goneMs + i * 1000),
      );
    }
    const direct = within(readingsOf('link-drops', 'stirrer-speed'), goneMs, hereMs);
    expect(direct).toHaveLength(0);
    expect(within(readingsOf('link-drops', 'stirrer-speed', 'm1'), goneMs, hereMs)).toHaveLength(600);
  });
});

describe('a run', () => {
  const ordinary = SCENARIOS['ordinary-batch'];

  it.each([0, -1, Number.NaN])('refuses a reading interval of %s', (readingEveryMs) => {
    expect(() => run(ordinary, { ...SETTINGS, readingEveryMs }).next()).toThrow(RangeError);
  });

  it('refuses a cue for a vessel that is not there', () => {
    const wrong = { ...ordinary, cues: [{ atMinutes: 0, do: 'stir', vessel: 'r9', perMin: 300 } as const] };
    expect(() => [...run(wrong, SETTINGS)]).toThrow(RangeError);
  });
});
