import { describe, expect, test } from 'vitest';
import type { EngineInput } from '../../../shared/engine/events.ts';
import { emptySiteState, type SiteState } from '../../../shared/engine/state.ts';
import { step } from '../../../shared/engine/step.ts';
import { resolveWatchPlan } from '../../../shared/plan/watch-plan.ts';
import { describeAlarm } from '../../../shared/rules/describe.ts';
import type { Stage } from '../../../shared/wire/names.ts';
import { START_MS } from '../run.ts';

const ms = (seconds: number): number => START_MS + Math.round(seconds * 1000);

/** A vessel with several devices: 'seconds alarm event by-what', and the sentences of what was advised. */
class Vessel {
  readonly state: SiteState = emptySiteState();
  readonly told: string[] = [];
  readonly advised: string[] = [];

  constructor(stage: Stage) {
    const batch = { id: 'b1', plan: resolveWatchPlan(), site: { pressureHPa: 1013.25 } };
    this.#tell({ type: 'vessel', arrivedMs: START_MS, vessel: 'r1', role: null, batch });
    this.stage(0, stage);
  }

  stage(seconds: number, stage: Stage): this {
    const at = { arrivedMs: ms(seconds), atMs: ms(seconds) };
    return this.#tell({ type: 'stage', ...at, vessel: 'r1', stage, batch: 'b1' });
  }

  read(seconds: number, channel: string, value: number): this {
    const at = { arrivedMs: ms(seconds), atMs: ms(seconds) };
    return this.#tell({ type: 'reading', ...at, vessel: 'r1', channel, value, typed: false, stamped: true });
  }

  device(seconds: number, device: string, presence: 'here' | 'gone'): this {
    return this.#tell({ type: 'device', arrivedMs: ms(seconds), vessel: null, device, presence });
  }

  start(seconds: number, downSince: number): this {
    return this.#tell({ type: 'start', arrivedMs: ms(seconds), downSinceMs: ms(downSince) });
  }

  tick(seconds: number): this {
    return this.#tell({ type: 'tick', arrivedMs: ms(seconds) });
  }

  of(alarm: string): string[] {
    return this.told.filter((line) => line.split(' ')[1] === alarm);
  }

  #tell(input: EngineInput): this {
    for (const output of step(this.state, input)[1]) {
      if (output.type === 'alarm') {
        const by = output.explainedBy === null ? '' : ` by ${output.explainedBy}`;
        this.told.push(`${(output.atMs - START_MS) / 1000} ${output.alarm} ${output.event}${by}`);
      }
      if (output.type === 'advice') {
        this.advised.push(`${output.alarm}: ${describeAlarm(output.alarm, output.facts, 'C').because}`);
      }
    }
    return this;
  }
}

describe('a lost device', () => {
  test('explains the silence that begins with it', () => {
    const vessel = new Vessel('react')
      .read(1, 'liquid-temperature', 50)
      .device(2, 'r1-probe', 'gone')
      .tick(30);
    expect(vessel.told).toEqual(['12 device-gone raised', '16 reading-late raised by device-gone']);
  });

  test('does not explain the silence of another: what came after it went is not from it', () => {
    const vessel = new Vessel('react').device(2, 'r1-vapour', 'gone');
    for (let s = 3; s <= 60; s++) vessel.read(s, 'liquid-temperature', 50);
    vessel.tick(100);
    expect(vessel.told).toEqual(['12 device-gone raised', '75 reading-late raised']);
  });

  test('that is back, or another that goes, is told in the alarm that stands', () => {
    const vessel = new Vessel('react').device(2, 'r1-vapour', 'gone');
    for (let s = 3; s <= 14; s++) vessel.read(s, 'liquid-temperature', 50);
    vessel.device(15, 'r1-probe', 'gone').tick(40);
    expect(vessel.told).toEqual(['12 device-gone raised', '29 reading-late raised by device-gone']);
    expect(vessel.advised).toEqual([expect.stringContaining('r1-vapour and r1-probe have lost')]);
    vessel.device(41, 'r1-vapour', 'here').tick(50);
    expect(vessel.advised[1]).toContain('The device r1-probe has lost');
    vessel.device(51, 'r1-probe', 'here');
    expect(vessel.of('device-gone')).toEqual(['12 device-gone raised', '51 device-gone cleared']);
  });

  test('serves the vessel that it is named after, or else every vessel in a batch', () => {
    expect(
      new Vessel('react').read(1, 'liquid-temperature', 50).device(1, 's1', 'gone').tick(15).told,
    ).toEqual(['11 device-gone raised']);
    const other = new Vessel('react');
    step(other.state, { type: 'vessel', arrivedMs: START_MS, vessel: 's1', role: null, batch: null });
    expect(other.read(1, 'liquid-temperature', 50).device(1, 's1-probe', 'gone').tick(15).told).toEqual([
      '11 device-gone raised',
    ]);
    expect(other.state.vessels.r1!.alarms['device-gone']).toBeUndefined();
  });

  test('grows graver where methanol comes in, and not milder where it goes', () => {
    const vessel = new Vessel('warm').device(1, 'r1', 'gone').tick(12).stage(13, 'prewash').stage(14, 'idle');
    expect(vessel.of('device-gone')).toEqual(['11 device-gone raised', '13 device-gone raised']);
    expect(vessel.state.vessels.r1!.alarms['device-gone']!.priority).toBe('high');
  });
});

describe('an unsound probe', () => {
  test('explains late readings where no other is heard', () => {
    const vessel = new Vessel('warm').read(1, 'liquid-temperature', 40);
    for (let s = 2; s <= 20; s++) vessel.read(s, 'liquid-temperature', -127);
    vessel.read(21, 'liquid-temperature', 40).tick(35);
    expect(vessel.told).toEqual([
      '2 probe-out-of-range raised',
      '16 reading-late raised by probe-out-of-range',
      '21 probe-out-of-range cleared',
      '21 reading-late cleared by probe-out-of-range',
    ]);
  });

  test('does not where a sound one has fallen silent beside it', () => {
    const vessel = new Vessel('warm').read(1, 'liquid-temperature-2', -127);
    for (let s = 1; s <= 10; s++) vessel.read(s, 'liquid-temperature', 40);
    expect(vessel.tick(60).of('reading-late')).toEqual(['25 reading-late raised']);
  });

  test('does not where methanol makes it graver', () => {
    const vessel = new Vessel('react').read(1, 'liquid-temperature', 40);
    for (let s = 2; s <= 20; s++) vessel.read(s, 'liquid-temperature', -127);
    expect(vessel.of('reading-late')).toEqual(['16 reading-late raised']);
  });
});

describe('a frozen probe under heat', () => {
  test('is told as heat that is not seen, the graver of the two, and by itself once the heat is off', () => {
    const vessel = new Vessel('warm').read(0, 'heater', 1);
    for (let s = 1; s <= 700; s++) vessel.read(s, 'liquid-temperature', 40);
    vessel.read(700.5, 'heater', 0);
    for (let s = 701; s <= 720; s++) vessel.read(s, 'liquid-temperature', 40);
    expect(vessel.told).toEqual([
      '601 heat-not-seen raised',
      '601 probe-frozen raised by heat-not-seen',
      '700.5 heat-not-seen cleared',
      '715.5 probe-frozen unexplained',
    ]);
  });
});

describe('two probes', () => {
  test('of different pace: the silence of both is found at the nearer time', () => {
    const vessel = new Vessel('react');
    for (let s = 1; s <= 300; s++) {
      vessel.read(s, 'liquid-temperature', 50);
      if (s % 30 === 0) vessel.read(s + 0.1, 'liquid-temperature-2', 50);
    }
    // What is looked at now waits for the slow one; the fast one is heard once more, and is silent sooner.
    vessel.read(300.2, 'heater', 0).tick(300.5).read(301, 'liquid-temperature', 50);
    expect(vessel.tick(315.9).told).toEqual([]);
    expect(vessel.tick(316).told).toEqual(['316 reading-late raised']);
  });

  test('the second takes over when the first fails: in the rules at once, in what is counted, too', () => {
    const vessel = new Vessel('react');
    for (let s = 1; s <= 300; s++) {
      vessel.read(s, 'stirrer-speed', 300);
      vessel.read(s, 'liquid-temperature', s <= 60 ? 55 : -127);
      vessel.read(s, 'liquid-temperature-2', s <= 200 ? 59 : 62);
    }
    expect(vessel.of('boiling-near')).toEqual(['201 boiling-near raised']);
    expect(vessel.of('reading-late')).toEqual([]);
    expect(vessel.state.vessels.r1!.samples.temperature.c.at(-1)).toBe(62);
  });
});

describe('not-watching', () => {
  test('adds up until somebody acknowledges it, and says what to look at', () => {
    const vessel = new Vessel('react').start(100, 40).start(1000, 400);
    expect(vessel.of('not-watching')).toEqual(['100 not-watching raised']);
    expect(vessel.advised).toEqual([
      'not-watching: Nobody watched for 11 min: nothing of that time is known or counted.',
    ]);
    const { facts } = vessel.state.vessels.r1!.alarms['not-watching']!;
    expect(describeAlarm('not-watching', facts, 'C').todo).toContain('do not start it again hot');
    const settling = new Vessel('settle').start(100, 40).state.vessels.r1!.alarms['not-watching']!;
    expect(describeAlarm('not-watching', settling.facts, 'C').todo).not.toContain('stir');
  });

  test('a restart raises nothing again and loses nothing', () => {
    const vessel = new Vessel('react').read(1, 'liquid-temperature', 63).device(2, 'r1', 'gone').tick(13);
    expect(vessel.told).toEqual(['1 boiling-near raised', '12 device-gone raised']);
    Object.assign(vessel.state, JSON.parse(JSON.stringify(vessel.state)));
    vessel.start(60, 14).read(61, 'liquid-temperature', 63).read(62, 'liquid-temperature', 60);
    expect(vessel.told.slice(2)).toEqual(['60 not-watching raised', '62 boiling-near cleared']);
  });
});
