import { describe, expect, it } from 'vitest';
import { usualNext, way } from '../../dashboard/stages.ts';
import {
  alarmsOf,
  applyMessage,
  byClockHere,
  gravestStanding,
  headlineOf,
  inOrder,
  isCalm,
  isOldPicture,
  keyOf,
  liquidReading,
  notCountingNow,
  plannedNearBoiling,
  scaleSpan,
  trendOf,
} from '../../dashboard/vessels.ts';
import type { Alarm, LiveMessage, Vessel } from '../../shared/wire/api.ts';
import { STAGES } from '../../shared/wire/names.ts';

const AT = '2026-03-02T10:15:00.000Z';

const vessel = (fields: Partial<Vessel> = {}): Vessel => ({
  site: 'shed',
  vessel: 'r1',
  role: 'reactor',
  stage: 'react',
  stageSince: AT,
  batch: 'b1',
  batchName: 'Autumn oil',
  untried: false,
  pressureHPa: 1013.25,
  boilingC: 64.5,
  boilingAssumed: false,
  liquidC: 55.3,
  headroomC: 9.2,
  risingCPerMin: 0.4,
  toBoiling: null,
  methanolPresent: true,
  mixing: null,
  planned: {
    reactionTemperatureC: 55,
    requiredReactionMinutes: 60,
    requiredSettleHours: 24,
    highestDosingC: 59.5,
    nearBoilingC: 61.5,
  },
  counted: { reactionMinutes: null, notCounted: [], settleHours: null },
  dosing: null,
  readings: {},
  alarms: [],
  ...fields,
});

const message: Extract<LiveMessage, { type: 'alarm' }> = {
  type: 'alarm',
  at: AT,
  site: 'shed',
  vessel: 'r1',
  alarm: 'boiling-near',
  event: 'raised',
  priority: 'high',
  late: false,
  value: 61.8,
  limit: 61.5,
  because: 'Oil at 61.8 °C.',
  todo: 'Turn the heat off.',
  facts: {},
  id: 'a1',
  explainedBy: null,
  told: true,
};

const alarm = (fields: Partial<Alarm> = {}): Alarm => {
  const { type: _, ...rest } = message;
  return { ...rest, clearedAt: null, standing: true, acknowledged: null, shelved: null, ...fields };
};

const mapOf = (...all: Vessel[]) => new Map(all.map((each) => [keyOf(each), each]));

describe('live messages', () => {
  it('replace a vessel by its estimate and leave the others', () => {
    const other = vessel({ vessel: 'r2' });
    const after = applyMessage(mapOf(vessel(), other), { type: 'estimate', ...vessel({ headroomC: 8 }) });
    expect(after.get('shed:r1')).toEqual(vessel({ headroomC: 8 }));
    expect(after.get('shed:r2')).toBe(other);
  });

  it('bring a vessel that was not known', () => {
    expect(applyMessage(new Map(), { type: 'estimate', ...vessel() }).has('shed:r1')).toBe(true);
  });

  it('raise an alarm, and the same again once only', () => {
    const once = applyMessage(mapOf(vessel()), message);
    const twice = applyMessage(once, { ...message, priority: 'critical' });
    expect(twice.get('shed:r1')?.alarms).toEqual([alarm({ priority: 'critical' })]);
  });

  it('keep an alarm that is over until somebody saw it', () => {
    const cleared = { ...message, event: 'cleared' as const, at: '2026-03-02T10:20:00.000Z' };
    const unseen = applyMessage(mapOf(vessel({ alarms: [alarm()] })), cleared).get('shed:r1')?.alarms;
    expect(unseen).toEqual([alarm({ standing: false, clearedAt: cleared.at })]);
    const seen = alarm({ acknowledged: { by: 'Ida', reason: null, at: AT } });
    expect(applyMessage(mapOf(vessel({ alarms: [seen] })), cleared).get('shed:r1')?.alarms).toEqual([]);
  });
});

describe('live messages on who is told', () => {
  const shelved = { by: 'Ida', reason: 'cell is charging', until: '2026-03-02T10:45:00.000Z' };
  const aside = alarm({ told: false, shelved });
  const alarmsAfter = (known: Alarm, live: Partial<typeof message>) =>
    applyMessage(mapOf(vessel({ alarms: [known] })), { ...message, ...live }).get('shed:r1')?.alarms;

  it('take a shelved alarm back that people are told of again', () => {
    expect(alarmsAfter(aside, { told: true })).toEqual([alarm()]);
  });

  it('leave it shelved where they are not', () => {
    expect(alarmsAfter(aside, { told: false })).toEqual([aside]);
  });

  it('end the shelving of one that is over', () => {
    const cleared = { event: 'cleared' as const, at: '2026-03-02T10:20:00.000Z' };
    expect(alarmsAfter(aside, cleared)).toEqual([alarm({ standing: false, clearedAt: cleared.at })]);
    const late = alarm({ late: true });
    expect(alarmsAfter(late, { ...cleared, late: true })).toMatchObject([{ standing: false, told: false }]);
  });
});

describe('that nothing is wrong', () => {
  const reading = { value: 55.3, at: AT, ageMs: 0, sound: true, typed: false };
  const read = { 'liquid-temperature': reading };
  const calm = (fields: Partial<Vessel>, afterMs = 5_000) =>
    isCalm(vessel({ readings: read, ...fields }), Date.parse(AT) + afterMs, 15_000);

  it('is said where no alarm stands and the liquid was read lately', () => {
    expect(calm({})).toBe(true);
    expect(calm({ alarms: [alarm({ standing: false })] })).toBe(true);
  });

  it('is not said while an alarm stands that is set aside, or that another explains', () => {
    const shelved = { by: 'Ida', reason: 'cell is charging', until: '2026-03-02T10:45:00.000Z' };
    expect(calm({ alarms: [alarm({ told: false, shelved })] })).toBe(false);
    expect(calm({ alarms: [alarm({ told: false, explainedBy: 'device-gone' })] })).toBe(false);
  });

  it('is not said without a sound reading, or long after it', () => {
    expect(calm({ liquidC: null })).toBe(false);
    expect(calm({ readings: {} })).toBe(false);
    expect(calm({ readings: { 'liquid-temperature': { ...reading, sound: false } } })).toBe(false);
    expect(calm({}, 20_000)).toBe(false);
  });
});

describe('the gravest alarm', () => {
  const critical = alarm({ id: 'critical', priority: 'critical' });
  it('is none that is shelved, that another explains, or that is over', () => {
    const shelved = { ...critical, told: false };
    expect(gravestStanding([shelved, alarm()])?.id).toBe('a1');
    expect(gravestStanding([shelved])).toBeUndefined();
    expect(gravestStanding([{ ...critical, standing: false }])).toBeUndefined();
    expect(gravestStanding([critical, alarm()])?.id).toBe('critical');
  });

  it('alone puts its vessel first', () => {
    const quiet = vessel({ vessel: 'b', alarms: [{ ...critical, told: false }] });
    const fine = vessel({ vessel: 'a' });
    expect(inOrder([quiet, fine])).toEqual([fine, quiet]);
  });
});

describe('order', () => {
  it('puts standing alarms above those that are over, the graver above, newer above older', () => {
    const low = alarm({ id: 'low', priority: 'low' });
    const over = alarm({ id: 'over', standing: false });
    const older = alarm({ id: 'older', at: '2026-03-02T10:00:00.000Z' });
    const newer = alarm({ id: 'newer' });
    const critical = alarm({ id: 'critical', priority: 'critical', standing: false });
    const sorted = alarmsOf([vessel({ alarms: [low, over, older] }), vessel({ alarms: [newer, critical] })]);
    expect(sorted.map(({ id }) => id)).toEqual(['newer', 'older', 'low', 'critical', 'over']);
    expect(gravestStanding(sorted)?.id).toBe('newer');
  });

  it('puts vessels that need a person first, then batches under way', () => {
    const idle = vessel({ vessel: 'a', batch: null });
    const fine = vessel({ vessel: 'b' });
    const alarmed = vessel({ vessel: 'c', batch: null, alarms: [alarm()] });
    expect(inOrder([idle, fine, alarmed])).toEqual([alarmed, fine, idle]);
  });
});

describe('the headline', () => {
  it('is the distance to boiling where methanol is in', () => {
    expect(headlineOf(vessel(), 'settle')).toEqual({ kind: 'below-boiling', headroomC: 9.2 });
    expect(headlineOf(vessel({ headroomC: null, liquidC: null }), 'settle')).toEqual({ kind: 'no-reading' });
  });

  it('is whether methoxide may go in before', () => {
    const before = { methanolPresent: false, stage: 'warm' as const };
    const warm = vessel({ ...before, dosing: { allowed: true, readyInMinutes: null } });
    expect(headlineOf(warm, 'dose')).toEqual({ kind: 'dosing-allowed', onceDry: false });
    expect(headlineOf(warm, 'dry-oil')).toEqual({ kind: 'dosing-allowed', onceDry: true });
    expect(
      headlineOf(vessel({ ...before, dosing: { allowed: false, readyInMinutes: 12.3 } }), 'dose'),
    ).toEqual({
      kind: 'dosing-in',
      minutes: 12.3,
      onceDry: false,
    });
    const hot = vessel({ ...before, liquidC: 104, dosing: { allowed: false, readyInMinutes: null } });
    expect(headlineOf(hot, 'dose')).toEqual({ kind: 'dosing-not-yet', tooHot: true });
    expect(headlineOf({ ...hot, liquidC: 40 }, 'dose')).toEqual({ kind: 'dosing-not-yet', tooHot: false });
  });

  it('never lets methoxide in without a reading', () => {
    const blind = vessel({
      methanolPresent: false,
      liquidC: null,
      dosing: { allowed: true, readyInMinutes: null },
    });
    expect(headlineOf(blind, 'dose')).toEqual({ kind: 'no-reading' });
  });

  it('is the temperature where neither matters', () => {
    const idle = vessel({ methanolPresent: false, batch: null, stage: 'idle' });
    expect(headlineOf(idle, 'warm')).toEqual({ kind: 'temperature', liquidC: 55.3 });
  });
});

describe('reaction time that is not counted now', () => {
  const mixing = { channel: 'stirrer-speed', value: 310, lowest: 200, state: 'at-speed' as const };
  const reactionMinutes = { has: 10, needs: 60, enoughAt: null };
  const reacting = (fields: Partial<Vessel>): Vessel =>
    vessel({ mixing, counted: { reactionMinutes, notCounted: [], settleHours: null }, ...fields });

  it('says why', () => {
    expect(notCountingNow(reacting({ mixing: { ...mixing, value: 0, state: 'stopped' } }))).toBe('stopped');
    expect(notCountingNow(reacting({ mixing: { ...mixing, value: 150, state: 'slow' } }))).toBe('slow');
    expect(notCountingNow(reacting({ mixing: null }))).toBe('no-stirrer');
    expect(notCountingNow(reacting({ liquidC: null }))).toBe('no-readings');
    expect(notCountingNow(reacting({}))).toBe('no-readings');
    expect(notCountingNow(reacting({ liquidC: 64.5 }))).toBe('boiling');
  });

  it('is silent where it counts, is enough or is not wanted', () => {
    const counted = (fields: object): Partial<Vessel> => ({
      counted: { reactionMinutes: { ...reactionMinutes, ...fields }, notCounted: [], settleHours: null },
    });
    expect(notCountingNow(reacting(counted({ enoughAt: AT })))).toBeUndefined();
    expect(notCountingNow(reacting(counted({ has: 60 })))).toBeUndefined();
    expect(notCountingNow(reacting({ stage: 'settle', mixing: null }))).toBeUndefined();
  });
});

describe('a planned temperature', () => {
  it('boils at the boiling point and above, and is near within 3 °C below', () => {
    expect([60.4, 60.5, 63.4, 63.5, 80].map((planned) => plannedNearBoiling(planned, 63.5))).toEqual([
      undefined,
      'near',
      'near',
      'boils',
      'boils',
    ]);
  });
});

describe('readings and scale', () => {
  it('takes the age from the probe that shows the liquid’s temperature', () => {
    const reading = { at: AT, value: 50, ageMs: 0, sound: true, typed: false };
    const hottest = { ...reading, at: '2026-03-02T10:14:00.000Z', value: 55.3, typed: true };
    const readings = {
      'liquid-temperature': reading,
      'liquid-temperature-2': hottest,
      'stirrer-speed': reading,
    };
    expect(liquidReading(vessel({ readings }))).toEqual({ at: Date.parse(hottest.at), typed: true });
    expect(liquidReading(vessel({ readings: {} }))).toBeUndefined();
  });

  it('holds the liquid, the boiling point and room above it', () => {
    for (const liquidC of [-10, 18, 40, 55, 64, 70, 104]) {
      const { bottomC, topC } = scaleSpan(vessel({ liquidC }));
      expect(bottomC).toBeLessThan(liquidC);
      expect(topC).toBeGreaterThan(Math.max(liquidC, 64.5));
    }
  });

  it('calls what a probe’s noise makes steady', () => {
    expect([0.4, -0.4, 0.02, -0.02].map(trendOf)).toEqual(['rising', 'falling', 'steady', 'steady']);
  });
});

describe('the way of a batch', () => {
  it('is what happened, what is, and what usually follows', () => {
    expect(way(['warm', 'dose', 'react'], 'react')).toEqual([
      { stage: 'warm', state: 'done' },
      { stage: 'dose', state: 'done' },
      { stage: 'react', state: 'now' },
      ...['settle', 'drain', 'wash', 'dry-fuel', 'filter', 'test', 'finished'].map((stage) => ({
        stage,
        state: 'to-come',
      })),
    ]);
  });

  it('keeps a stage that came twice', () => {
    const stages = way(['wash', 'wash', 'dry-fuel'], 'dry-fuel').map(
      ({ stage, state }) => `${stage} ${state}`,
    );
    expect(stages.slice(0, 3)).toEqual(['wash done', 'wash done', 'dry-fuel now']);
  });

  it('does not lead back to dewatering once the oil was dewatered', () => {
    expect(usualNext('warm', ['warm'])).toBe('dry-oil');
    expect(usualNext('warm', ['warm', 'dry-oil', 'warm'])).toBe('dose');
  });

  it('leads to an end from every stage', () => {
    for (const stage of STAGES) expect(way([], stage).length).toBeLessThan(STAGES.length);
    expect(usualNext('rejected')).toBeUndefined();
  });
});

describe('a vessel of a forwarded site', () => {
  const NOW_MS = Date.parse(AT);
  const at = '2031-01-01T00:00:00.000Z';
  const shown = byClockHere(
    vessel({
      readings: { 'liquid-temperature': { at, value: 50, ageMs: 90_000, sound: true, typed: false } },
      forwarded: { asOf: at, ageMs: 59_000, live: true },
    }),
    NOW_MS,
  );

  it('is as old as it was when it came, whatever the clock of its site says', () => {
    expect(shown.readings['liquid-temperature']!.at).toBe('2026-03-02T10:13:30.000Z');
    expect(shown.forwarded!.asOf).toBe('2026-03-02T10:14:01.000Z');
    expect(liquidReading(shown)!.at).toBe(NOW_MS - 90_000);
  });

  it('is not live any more after a minute, though nothing came since', () => {
    expect(isOldPicture(shown.forwarded!, NOW_MS + 1000)).toBe(false);
    expect(isOldPicture(shown.forwarded!, NOW_MS + 1001)).toBe(true);
    expect(isCalm(shown, NOW_MS, 60_000)).toBe(false);
  });

  it('that is watched here keeps its times', () => {
    const own = vessel();
    expect(byClockHere(own, NOW_MS)).toBe(own);
  });
});
