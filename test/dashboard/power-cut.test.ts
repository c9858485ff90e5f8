import { describe, expect, test } from 'vitest';
import { newestOf, outageOf, readSince, stoodOf } from '../../dashboard/pages/power-cut/outage.ts';
import { POWER_CUT, TODO } from '../../dashboard/texts/power-cut.ts';
import type { Alarm, Vessel } from '../../shared/wire/api.ts';
import { MIXING_STAGES, STAGES } from '../../shared/wire/names.ts';

const FROM_MS = Date.UTC(2026, 2, 2, 10);
const TO_MS = FROM_MS + 12 * 60_000;
const NOW_MS = TO_MS + 60_000;
const iso = (ms: number) => new Date(ms).toISOString();

const alarm = (what: Partial<Alarm> = {}): Alarm =>
  ({
    id: 'shed.r1.1',
    at: iso(TO_MS),
    site: 'shed',
    vessel: 'r1',
    alarm: 'not-watching',
    standing: true,
    facts: { fromMs: FROM_MS, toMs: TO_MS, minutes: 12, times: 1, beforeC: 55, stillSinceMs: null },
    ...what,
  }) as Alarm;
const read = (value: number, atMs: number, what: object = {}) => ({
  at: iso(atMs),
  value,
  ageMs: 0,
  sound: true,
  typed: false,
  ...what,
});
const vessel = (what: Partial<Vessel> = {}): Vessel =>
  ({
    site: 'shed',
    vessel: 'r1',
    batch: 'b1',
    stage: 'react',
    boilingC: 64.5,
    risingCPerMin: -0.3,
    mixing: null,
    counted: { reactionMinutes: { has: 7, needs: 60, enoughAt: null }, notCounted: [], settleHours: null },
    readings: {},
    ...what,
  }) as Vessel;
const stood = (of: Vessel, isLive = true) =>
  stoodOf(of, outageOf(alarm()), undefined, { nowMs: NOW_MS, isLive });

test('an alarm from before all of it was kept says at least how long, and when it was over', () => {
  expect(outageOf({ at: iso(TO_MS), facts: { minutes: 12 } })).toMatchObject({
    fromMs: FROM_MS,
    toMs: TO_MS,
    minutes: 12,
    times: 1,
    beforeC: null,
    countedMinutes: null,
  });
});

describe('how hot it is', () => {
  const outage = outageOf(alarm());
  test('is what was read since, the hottest probe', () => {
    const readings = {
      'liquid-temperature': read(54, TO_MS + 1000),
      'liquid-temperature-2': read(56, TO_MS + 2000),
    };
    expect(readSince(vessel({ readings }), outage, NOW_MS)).toEqual({
      liquidC: 56,
      atMs: TO_MS + 2000,
      typed: false,
      headroomC: 8.5,
    });
  });
  test.each([
    ['before it', read(54, TO_MS - 1)],
    ['not sound', read(54, TO_MS, { sound: false })],
    ['over ten minutes ago', read(54, TO_MS)],
  ])('is not known from a reading %s', (why, reading) => {
    const nowMs = why.startsWith('over') ? TO_MS + 600_001 : NOW_MS;
    expect(readSince(vessel({ readings: { 'liquid-temperature': reading } }), outage, nowMs)).toBeNull();
  });
});

describe('what decides about stirring', () => {
  test('counts the time that nobody watched as still, and longer where it stood before', () => {
    expect(stood(vessel()).stillFromMs).toBe(FROM_MS);
    const before = { ...alarm().facts, stillSinceMs: FROM_MS - 90_000 };
    const outage = outageOf(alarm({ facts: before }));
    expect(stoodOf(vessel(), outage, undefined, { nowMs: NOW_MS, isLive: true }).stillFromMs).toBe(
      FROM_MS - 90_000,
    );
  });
  test('takes a speed from before for nothing', () => {
    const mixing = { channel: 'stirrer-speed', value: 300, lowest: 200, state: 'at-speed' } as const;
    const at = (ms: number) => stood(vessel({ mixing, readings: { 'stirrer-speed': read(300, ms) } }));
    expect(at(TO_MS - 1).isMoving).toBeNull();
    expect(at(TO_MS).isMoving).toBe(true);
    const stopped = vessel({
      mixing: { ...mixing, value: 0, state: 'stopped' },
      readings: { 'stirrer-speed': read(0, TO_MS) },
    });
    expect(stood(stopped).isMoving).toBe(false);
  });
  test('knows nothing of now without the live link', () => {
    const readings = { 'liquid-temperature': read(40, TO_MS + 1000) };
    expect(stood(vessel({ readings })).headroomC).toBe(24.5);
    expect(stood(vessel({ readings }), false)).toMatchObject({ headroomC: null, isMoving: null });
  });
  test('goes by the batch’s own margin, and by none while the batch is not known', () => {
    expect(stood(vessel()).restartMarginC).toBeNull();
    const batch = { plan: { limits: { restartMarginC: 15 } } } as never;
    const own = stoodOf(vessel(), outageOf(alarm()), batch, { nowMs: NOW_MS, isLive: true });
    expect(own.restartMarginC).toBe(15);
  });
});

test('only vessels under way are told of, each by what stands, else by the newest', () => {
  const r1 = vessel();
  const alarms = [
    alarm({ id: 'old', standing: true, at: iso(TO_MS - 1000) }),
    alarm({ id: 'newer', standing: false }),
    alarm({ id: 'other', alarm: 'boiling-near' }),
    alarm({ id: 'r2', vessel: 'r2' }),
  ];
  expect([...newestOf(alarms, [r1, vessel({ vessel: 'r2', batch: null })])].map(([, { id }]) => id)).toEqual([
    'old',
  ]);
});

test('every stage has something to do, and those that are stirred say whether they may be', () => {
  for (const stage of STAGES) {
    expect(TODO[stage].at(-1)).toBe('say');
    for (const step of TODO[stage]) expect(POWER_CUT.todo[step]).toBeTypeOf('string');
    const stirs = TODO[stage].includes('stirring') || TODO[stage].includes('vent');
    expect(stirs, stage).toBe(MIXING_STAGES.includes(stage));
  }
});
