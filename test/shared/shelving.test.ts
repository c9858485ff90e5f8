import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { EngineInput, EngineOutput } from '../../shared/engine/events.ts';
import { emptySiteState, type SiteState } from '../../shared/engine/state.ts';
import { step } from '../../shared/engine/step.ts';
import { isTold } from '../../shared/engine/told.ts';
import { vesselView } from '../../shared/engine/view.ts';
import { resolveWatchPlan } from '../../shared/plan/watch-plan.ts';
import type { Stage } from '../../shared/wire/names.ts';
import { START_MS } from './run.ts';

const ms = (seconds: number): number => START_MS + seconds * 1000;

/** A vessel of a batch, told what happens by the second. */
class Vessel {
  state: SiteState = emptySiteState();

  constructor(stage: Stage) {
    const batch = { id: 'b1', plan: resolveWatchPlan(), site: { pressureHPa: 1013.25 } };
    this.tell({ type: 'vessel', arrivedMs: START_MS, vessel: 'r1', role: 'reactor', batch });
    this.tell({ type: 'stage', arrivedMs: START_MS, atMs: START_MS, vessel: 'r1', stage, batch: 'b1' });
  }

  /** What was said, as 'seconds alarm event priority'. */
  tell(input: EngineInput): string[] {
    return step(this.state, input)[1].flatMap((output: EngineOutput) =>
      output.type === 'alarm'
        ? `${(output.atMs - START_MS) / 1000} ${output.alarm} ${output.event} ${output.priority}`
        : [],
    );
  }

  read(seconds: number, channel: string, value: number): string[] {
    const time = { arrivedMs: ms(seconds), atMs: ms(seconds) };
    return this.tell({
      type: 'reading',
      ...time,
      vessel: 'r1',
      channel,
      value,
      typed: false,
      stamped: false,
    });
  }

  shelve(seconds: number, minutes: number, alarm = 1): string[] {
    const untilMs = ms(seconds + minutes * 60);
    const why = { by: 'Ada', reason: 'the probe is on its way' };
    return this.tell({ type: 'shelve', arrivedMs: ms(seconds), vessel: 'r1', alarm, untilMs, ...why });
  }

  device(seconds: number, presence: 'here' | 'gone'): string[] {
    return this.tell({ type: 'device', arrivedMs: ms(seconds), vessel: 'r1', device: 'd1', presence });
  }

  tick(seconds: number): string[] {
    return this.tell({ type: 'tick', arrivedMs: ms(seconds) });
  }

  get alarms() {
    return vesselView(this.state, 'barn', this.state.vessels.r1!, this.state.nowMs, null).alarms;
  }
}

/** In `react`, silent since second 1: `reading-late` stands from second 16 on. */
function silent(): Vessel {
  const vessel = new Vessel('react');
  vessel.read(1, 'liquid-temperature', 50);
  expect(vessel.tick(20)).toEqual(['16 reading-late raised high']);
  return vessel;
}

describe('a shelved alarm', () => {
  test('stands, says who, why and until when, and tells nobody', () => {
    const vessel = silent();
    expect(vessel.shelve(30, 10)).toEqual(['30 reading-late shelved high']);
    expect(vessel.alarms).toMatchObject([
      {
        standing: true,
        told: false,
        shelved: { by: 'Ada', reason: 'the probe is on its way', until: '2026-03-02T10:10:30.000Z' },
      },
    ]);
  });

  test('returns at its time, found in time, and wants to be acknowledged anew', () => {
    const vessel = silent();
    vessel.tell({ type: 'acknowledge', arrivedMs: ms(25), vessel: 'r1', alarm: 1, by: 'Ben', reason: null });
    vessel.shelve(30, 10);
    expect(vessel.tick(629.999)).toEqual([]);
    expect(vessel.tick(700)).toEqual(['630 reading-late unshelved high']);
    expect(vessel.alarms).toMatchObject([{ standing: true, told: true, shelved: null, acknowledged: null }]);
    expect(vessel.tick(5000)).toEqual([]);
  });

  test('returns with whatever arrives next, too', () => {
    const vessel = silent();
    vessel.shelve(30, 1);
    expect(vessel.read(120, 'heater', 0)).toEqual(['90 reading-late unshelved high']);
  });

  test('that becomes graver returns at once', () => {
    const vessel = silent();
    vessel.shelve(30, 60);
    expect(vessel.read(40, 'heater', 1)).toEqual(['40 reading-late raised critical']);
    expect(vessel.alarms).toMatchObject([{ priority: 'critical', told: true, shelved: null }]);
    expect(vessel.tick(4000)).not.toContain('3630 reading-late unshelved critical');
  });

  test('that clears is shelved no longer, and comes back unshelved', () => {
    const vessel = silent();
    vessel.shelve(30, 60);
    expect(vessel.read(40, 'liquid-temperature', 50)).toEqual(['40 reading-late cleared high']);
    expect(vessel.alarms).toMatchObject([{ standing: false, shelved: null }]);
    // Five of the intervals that the channel keeps: 39 s.
    expect(vessel.tick(300)).toEqual(['235 reading-late raised high']);
    expect(vessel.alarms[0]).toMatchObject({ standing: true, told: true, shelved: null });
    expect(vessel.tick(4000)).toEqual([]);
  });

  test('that is shelved again goes by the later word', () => {
    const vessel = silent();
    vessel.shelve(30, 60);
    vessel.shelve(40, 1);
    expect(vessel.tick(4000)).toEqual(['100 reading-late unshelved high']);
  });

  test('stays on the shelf for as long as was said, though the clock is set', () => {
    for (const stepMs of [-3_600_000, 3_600_000]) {
      const vessel = silent();
      vessel.shelve(30, 10);
      vessel.tell({ type: 'clock-step', arrivedMs: ms(60) + stepMs, stepMs });
      expect(vessel.tick(629 + stepMs / 1000)).toEqual([]);
      expect(vessel.tick(630 + stepMs / 1000)).toHaveLength(1);
    }
  });

  test('returns after the time in which nobody watched, at its own time', () => {
    const vessel = silent();
    vessel.shelve(30, 10);
    vessel.tell({ type: 'start', arrivedMs: ms(3600), downSinceMs: ms(31) });
    expect(vessel.tick(3601)).toContain('630 reading-late unshelved high');
  });
});

describe('nothing is shelved', () => {
  test('that does not stand', () => {
    const vessel = silent();
    vessel.read(40, 'liquid-temperature', 50);
    expect(vessel.shelve(41, 10)).toEqual([]);
    expect(vessel.shelve(41, 10, 7)).toEqual([]);
  });

  test('that is critical by the time it is done, for more than 15 min', () => {
    const vessel = silent();
    vessel.read(21, 'heater', 1);
    expect(vessel.shelve(30, 16)).toEqual([]);
    expect(vessel.alarms).toMatchObject([{ priority: 'critical', shelved: null }]);
    expect(vessel.shelve(31, 15)).toEqual(['31 reading-late shelved critical']);
  });
});

test('however time is cut, a shelved alarm returns once, at the same moment', () => {
  fc.assert(
    fc.property(
      fc.integer({ min: 1, max: 720 }),
      fc.uniqueArray(fc.integer({ min: 31, max: 44_000 }), { maxLength: 20 }),
      (minutes, ticks) => {
        const vessel = silent();
        vessel.shelve(30, minutes);
        const said = [...ticks.sort((a, b) => a - b), 50_000].flatMap((seconds) => vessel.tick(seconds));
        expect(said).toEqual([`${30 + minutes * 60} reading-late unshelved high`]);
      },
    ),
    { numRuns: 50 },
  );
});

test('a state that went through JSON brings a shelved alarm back all the same', () => {
  const vessel = silent();
  vessel.shelve(30, 10);
  vessel.tick(40);
  vessel.state = JSON.parse(JSON.stringify(vessel.state));
  expect(vessel.tick(700)).toEqual(['630 reading-late unshelved high']);
});

describe('an alarm that follows from another', () => {
  /** In `warm`, with a probe whose wire is off, and so silent for the rules: the second alarm says nothing new. */
  const explained = (): Vessel => {
    const vessel = new Vessel('warm');
    vessel.read(1, 'liquid-temperature', 50);
    expect(vessel.read(2, 'liquid-temperature', -127)).toEqual(['2 probe-out-of-range raised medium']);
    expect(vessel.tick(20)).toEqual(['16 reading-late raised medium']);
    return vessel;
  };

  test('is kept, names it, and is not told', () => {
    expect(explained().alarms).toMatchObject([
      { alarm: 'reading-late', explainedBy: 'probe-out-of-range', told: false, standing: true },
      { alarm: 'probe-out-of-range', explainedBy: null, told: true },
    ]);
  });

  test('is never told where it ends with its cause', () => {
    const vessel = explained();
    expect(vessel.read(30, 'liquid-temperature', 50)).toEqual([
      '30 probe-out-of-range cleared medium',
      '30 reading-late cleared medium',
    ]);
    expect(vessel.alarms.map(({ told }) => told).sort()).toEqual([false, true]);
  });
});

describe('an alarm that stands when another comes that it follows from', () => {
  const boils = (act: (vessel: Vessel) => void = () => {}): Vessel => {
    const vessel = new Vessel('react');
    for (const [s, c] of [
      [1, 61],
      [10, 62],
      [20, 63.5],
    ] as const)
      vessel.read(s, 'liquid-temperature', c);
    act(vessel);
    vessel.read(30, 'liquid-temperature', 64.2);
    return vessel;
  };
  const told = (vessel: Vessel) => vessel.alarms.filter((alarm) => alarm.told).map(({ alarm }) => alarm);

  test('is told no more', () => {
    const vessel = boils((before) => expect(told(before)).toEqual(['boiling-near']));
    expect(told(vessel)).toEqual(['boiling-reached']);
    expect(vessel.alarms.find(({ alarm }) => alarm === 'boiling-near')).toMatchObject({
      explainedBy: 'boiling-reached',
      standing: true,
    });
  });

  test('is told again when that is over and it is not', () => {
    const vessel = boils();
    expect(vessel.read(40, 'liquid-temperature', 62.5)).toEqual(['40 boiling-reached cleared critical']);
    expect(vessel.tick(60)).toContain('55 boiling-near unexplained high');
  });

  test('but once a person has seen it, it stays as it is', () => {
    const vessel = boils((before) => {
      const acknowledged = { arrivedMs: ms(21), vessel: 'r1', alarm: 1, by: 'Ada', reason: null } as const;
      before.tell({ type: 'acknowledge', ...acknowledged });
    });
    expect(vessel.alarms.find(({ alarm }) => alarm === 'boiling-near')).toMatchObject({ explainedBy: null });
  });
});

describe('an alarm whose cause is over', () => {
  const deviceLost = (): Vessel => {
    const vessel = new Vessel('react');
    vessel.read(1, 'liquid-temperature', 50);
    vessel.device(2, 'gone');
    expect(vessel.tick(20)).toEqual(['12 device-gone raised high', '16 reading-late raised high']);
    expect(vessel.device(30, 'here')).toEqual(['30 device-gone cleared high']);
    return vessel;
  };
  const late = (vessel: Vessel) => vessel.alarms.find(({ alarm }) => alarm === 'reading-late');

  test('is told 15 s later where it stands still', () => {
    const vessel = deviceLost();
    expect(vessel.tick(44.999)).toEqual([]);
    expect(late(vessel)).toMatchObject({ explainedBy: 'device-gone', told: false });
    expect(vessel.tick(60)).toEqual(['45 reading-late unexplained high']);
    expect(late(vessel)).toMatchObject({ explainedBy: null, told: true });
  });

  test('is never told where it ends a moment after it', () => {
    const vessel = deviceLost();
    expect(vessel.read(31, 'liquid-temperature', 50)).toEqual(['31 reading-late cleared high']);
    expect(vessel.tick(60)).toEqual([]);
  });

  test('on the shelf is not told either', () => {
    const vessel = deviceLost();
    vessel.shelve(31, 10, 2);
    expect(vessel.tick(60)).toEqual(['45 reading-late unexplained high']);
    expect(late(vessel)).toMatchObject({ explainedBy: null, told: false });
    expect(vessel.tick(700)).toEqual(['631 reading-late unshelved high']);
    expect(late(vessel)).toMatchObject({ told: true });
  });
});

describe('who is to be told', () => {
  const alarm = { explainedBy: null, shelved: null, late: false, standing: true };
  test.for([
    { what: 'one that stands', some: {}, told: true },
    { what: 'one that is over', some: { standing: false }, told: true },
    { what: 'one that came late and stands', some: { late: true }, told: true },
    { what: 'one that came late and is over', some: { late: true, standing: false }, told: false },
    { what: 'one that another explains', some: { explainedBy: 'device-gone' }, told: false },
    { what: 'one that is shelved', some: { shelved: { by: 'Ada' } }, told: false },
  ])('$what: $told', ({ some, told }) => {
    expect(isTold({ ...alarm, ...some })).toBe(told);
  });
});
