import { describe, expect, test } from 'vitest';
import type { EngineInput, EngineOutput } from '../../shared/engine/events.ts';
import { emptySiteState, type SiteState } from '../../shared/engine/state.ts';
import { step } from '../../shared/engine/step.ts';
import { vesselView } from '../../shared/engine/view.ts';
import { computePlan } from '../../shared/plan/compute.ts';
import type { PlanRequest } from '../../shared/plan/request.ts';
import { type PartialWatchPlan, resolveWatchPlan } from '../../shared/plan/watch-plan.ts';
import type { Stage } from '../../shared/wire/names.ts';
import { START_MS } from './run.ts';

const ms = (seconds: number): number => START_MS + seconds * 1000;

/** A vessel of a batch, told what happens second by second; gives what the engine says to it. */
class Site {
  state: SiteState = emptySiteState();

  constructor(plan: PartialWatchPlan = {}) {
    const batch = { id: 'b1', plan: resolveWatchPlan(plan), site: { pressureHPa: 1013.25 } };
    this.tell({ type: 'vessel', arrivedMs: START_MS, vessel: 'r1', role: 'reactor', batch });
  }

  tell(input: EngineInput): EngineOutput[] {
    return structuredClone(step(this.state, input)[1]);
  }

  stage(seconds: number, stage: Stage): EngineOutput[] {
    const time = { arrivedMs: ms(seconds), atMs: ms(seconds) };
    return this.tell({ type: 'stage', ...time, vessel: 'r1', stage, batch: 'b1' });
  }

  read(seconds: number, channel: string, value: number, stamped = false): EngineOutput[] {
    const time = { arrivedMs: ms(seconds), atMs: ms(seconds) };
    return this.tell({ type: 'reading', ...time, vessel: 'r1', channel, value, typed: false, stamped });
  }

  tick(seconds: number): EngineOutput[] {
    return this.tell({ type: 'tick', arrivedMs: ms(seconds) });
  }

  acknowledge(seconds: number, alarm: number): EngineOutput[] {
    return this.tell({
      type: 'acknowledge',
      arrivedMs: ms(seconds),
      vessel: 'r1',
      alarm,
      by: 'Ada',
      reason: 'seen',
    });
  }

  get boilingC(): number {
    return vesselView(this.state, 'barn', this.state.vessels.r1!, this.state.nowMs, null).boilingC;
  }
}

const told = (outputs: EngineOutput[]): string[] =>
  outputs.flatMap((output) =>
    output.type === 'alarm'
      ? `${(output.atMs - START_MS) / 1000} ${output.alarm} ${output.event} ${output.priority}`
      : [],
  );

describe('acknowledging', () => {
  test('clears what stands until somebody has seen it', () => {
    const site = new Site();
    site.stage(0, 'dose');
    expect(told(site.stage(1, 'settle'))).toEqual(['1 reaction-short raised high']);
    expect(told(site.acknowledge(5, 1))).toEqual([
      '5 reaction-short acknowledged high',
      '5 reaction-short cleared high',
    ]);
  });

  test('clears nothing whose condition holds, and what gets graver must be seen again', () => {
    const site = new Site();
    site.stage(0, 'react');
    site.read(1, 'liquid-temperature', 50);
    expect(told(site.tick(20))).toEqual(['16 reading-late raised high']);
    expect(told(site.acknowledge(21, 1))).toEqual(['21 reading-late acknowledged high']);
    expect(site.state.vessels.r1?.alarms['reading-late']?.acknowledged).toMatchObject({
      by: 'Ada',
      atMs: ms(21),
    });
    expect(told(site.read(22, 'heater', 1))).toEqual(['22 reading-late raised critical']);
    expect(site.state.vessels.r1?.alarms['reading-late']?.acknowledged).toBeNull();
  });

  test('is of what cleared by itself as well, once', () => {
    const site = new Site();
    site.stage(0, 'react');
    site.read(1, 'liquid-temperature', 62);
    site.read(2, 'liquid-temperature', 59);
    expect(told(site.acknowledge(3, 1))).toEqual(['3 boiling-near acknowledged high']);
    expect(told(site.acknowledge(4, 1))).toEqual([]);
    expect(told(site.acknowledge(4, 7))).toEqual([]);
  });
});

describe('what to do about a stop', () => {
  const stopped = () => {
    const site = new Site();
    site.stage(0, 'dose');
    for (let s = 1; s <= 5; s++) site.read(s, 'stirrer-speed', 300);
    return site;
  };
  const advice = (site: Site, from: number, to: number) => {
    const given: string[] = [];
    for (let s = from; s <= to; s++) {
      for (const output of site.read(s, 'stirrer-speed', 0)) {
        if (output.type !== 'stage' && output.alarm === 'mixing-stopped')
          given.push(`${s} ${output.facts.advice}`);
      }
    }
    return given;
  };

  test('turns after 2 min over methoxide: it must not be started again', () => {
    expect(advice(stopped(), 6, 140)).toEqual(['16 start-again', '126 leave-stopped']);
  });

  test('turns by the clock where nothing is heard any more', () => {
    const site = stopped();
    expect(advice(site, 6, 20)).toEqual(['16 start-again']);
    expect(site.tick(125.9)).not.toContainEqual(expect.objectContaining({ type: 'advice' }));
    expect(site.tick(126)).toContainEqual(
      expect.objectContaining({
        alarm: 'mixing-stopped',
        facts: expect.objectContaining({ advice: 'leave-stopped' }),
      }),
    );
  });

  test('does not turn back for a short burst', () => {
    const site = stopped();
    expect(advice(site, 6, 130)).toEqual(['16 start-again', '126 leave-stopped']);
    for (let s = 131; s <= 140; s++) site.read(s, 'stirrer-speed', 300);
    expect(advice(site, 141, 160)).toEqual(['151 leave-stopped']);
  });

  test('does not turn back with the next stage', () => {
    const site = stopped();
    advice(site, 6, 130);
    site.stage(131, 'react');
    expect(advice(site, 132, 140)).toEqual([]);
    expect(site.state.vessels.r1?.alarms['mixing-stopped']?.facts.advice).toBe('leave-stopped');
  });
});

describe('several channels that are silent', () => {
  test('are one alarm, as grave as the gravest', () => {
    const site = new Site();
    site.stage(0, 'react');
    site.read(0, 'heater', 1);
    site.read(1, 'vessel-pressure', 500);
    for (let s = 1; s <= 51; s += 10) site.read(s, 'liquid-temperature', 40);
    expect(told(site.tick(100.9))).toEqual(['61 reading-late raised high']);
    expect(told(site.tick(101))).toEqual(['101 reading-late raised critical']);
    // The one comes back; the other is silent still.
    expect(told(site.read(112, 'liquid-temperature', 40))).toEqual([]);
    expect(told(site.read(113, 'vessel-pressure', 500))).toEqual(['113 reading-late cleared critical']);
  });
});

describe('the daemon’s clock', () => {
  test('set back by an hour, with those of the devices, leaves nothing unjudged', () => {
    const site = new Site();
    site.stage(0, 'react');
    for (let s = 1; s <= 60; s++) {
      site.read(s, 'liquid-temperature', 60);
      site.read(s, 'stirrer-speed', 300);
    }
    site.tell({ type: 'clock-step', arrivedMs: ms(60.5 - 3600), stepMs: -3_600_000 });
    const said: string[] = [];
    for (let s = 61 - 3600; s <= 120 - 3600; s++) {
      said.push(...told(site.read(s, 'stirrer-speed', 300)));
      said.push(...told(site.read(s, 'liquid-temperature', s < 120 - 3600 ? 60 : 62)));
    }
    expect(said).toEqual(['-3480 boiling-near raised high']);
    const view = vesselView(site.state, 'barn', site.state.vessels.r1!, site.state.nowMs, null);
    expect(view.counted.reactionMinutes?.has).toBeCloseTo(119 / 60, 2);
  });

  test('set forward makes no fresh reading old', () => {
    const site = new Site();
    site.stage(0, 'react');
    for (let s = 1; s <= 10; s++) site.read(s, 'liquid-temperature', 50, true);
    site.read(10, 'ambient-pressure', 980, true);
    const boilingC = site.boilingC;
    const stepMs = 2 * 3_600_000;
    expect(told(site.tell({ type: 'clock-step', arrivedMs: ms(11) + stepMs, stepMs }))).toEqual([]);
    expect(told(site.tell({ type: 'tick', arrivedMs: ms(24) + stepMs }))).toEqual([]);
    expect(site.boilingC).toBe(boilingC);
    expect(told(site.tell({ type: 'tick', arrivedMs: ms(25) + stepMs }))).toEqual([
      '7225 reading-late raised high',
    ]);
  });

  test('set back makes none late either', () => {
    const site = new Site();
    site.stage(0, 'react');
    for (let s = 1; s <= 10; s++) site.read(s, 'liquid-temperature', 60, true);
    site.tell({ type: 'clock-step', arrivedMs: ms(11) - 3_600_000, stepMs: -3_600_000 });
    expect(told(site.read(12 - 3600, 'liquid-temperature', 62, true))).toEqual([
      `${12 - 3600} boiling-near raised high`,
    ]);
  });
});

test('silence counts from when the watching began again, not over the time it was down', () => {
  const site = new Site();
  site.stage(0, 'react');
  site.read(1, 'liquid-temperature', 50);
  expect(told(site.tell({ type: 'start', arrivedMs: ms(1000), downSinceMs: ms(5) }))).toEqual([
    '1000 not-watching raised high',
  ]);
  expect(told(site.tick(1014.9))).toEqual([]);
  expect(told(site.tick(1015))).toEqual(['1015 reading-late raised high']);
});

test('a stage of another batch than the vessel’s changes nothing', () => {
  const site = new Site();
  const late = { arrivedMs: ms(1), atMs: ms(1), vessel: 'r1', stage: 'react', batch: 'b0' } as const;
  expect(site.tell({ type: 'stage', ...late })).toEqual([]);
  expect(site.state.vessels.r1?.stage).toBe('idle');
});

test('a plan has its defaults, and gives single limits beside them', () => {
  expect(resolveWatchPlan()).toMatchObject({
    reactionTemperatureC: 55,
    requiredReactionMinutes: 60,
    lowestStirrerSpeed: 200,
  });
  expect(resolveWatchPlan({ limits: { nearMarginC: 5 } }).limits).toMatchObject({
    nearMarginC: 5,
    reachedMarginC: 0.5,
  });
});

test('methoxide is mixed for 10 min, with lye for 20, in a jar for 3', () => {
  const minutes = (request: PlanRequest) => computePlan(request).watch.limits.methoxideMinutes;
  expect(minutes({})).toBe(20);
  expect(minutes({ catalyst: { kind: 'KOH' } })).toBe(10);
  expect(minutes({ catalyst: { kind: 'NaOH' } })).toBe(20);
  expect(
    minutes({ catalyst: { kind: 'NaOH' }, oil: { volumeL: 4 }, methanol: { percentOfOilVolume: 22 } }),
  ).toBe(3);
  expect(minutes({ catalyst: { kind: 'NaOH' }, watch: { limits: { methoxideMinutes: 7 } } })).toBe(7);
});

describe('when it boils, if it goes on as it does', () => {
  const risen = (stage: Stage, perMinute: number) => {
    const site = new Site();
    site.stage(0, stage);
    for (let s = 1; s <= 61; s++) site.read(s, 'liquid-temperature', 50 + (perMinute * s) / 60);
    return vesselView(site.state, 'barn', site.state.vessels.r1!, site.state.nowMs, null);
  };

  test('comes with its band, where methanol is', () => {
    const { toBoiling, headroomC } = risen('react', 2);
    const minutes = headroomC! / 2;
    expect(toBoiling).toEqual({
      minutes: expect.closeTo(minutes, 6),
      soonestMinutes: expect.closeTo(minutes, 6),
      latestMinutes: expect.closeTo(minutes, 6),
    });
    expect(risen('warm', 2).toBoiling).toBeNull();
  });

  test('is not said of noise, of a fall, or where boiling is meant', () => {
    expect(risen('react', 0.1).toBoiling).toBeNull();
    expect(risen('react', -2).toBoiling).toBeNull();
    expect(risen('recover', 2).toBoiling).toBeNull();
  });
});
