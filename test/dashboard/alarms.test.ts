import { describe, expect, test } from 'vitest';
import { ALARM_TARGETS } from '../../daemon/watch/alarm-targets.ts';
import { episodesOf, insteadOf } from '../../dashboard/pages/alarm/instead.ts';
import { limitScale } from '../../dashboard/pages/alarm/limit-scale.ts';
import { channelsOf, linesOf, stretchAround } from '../../dashboard/pages/alarm/moment.ts';
import { RecordedRun, type Told } from '../../dashboard/pages/alarm/recorded-run.ts';
import { askedOf, choiceOf, saidOf } from '../../dashboard/pages/alarms/choice.ts';
import { measureRows } from '../../dashboard/pages/alarms/measure-rows.ts';
import { presentNumber } from '../../dashboard/present-number.ts';
import { ALARM_TITLES, alarmTitle } from '../../dashboard/texts/alarm-titles.ts';
import { FACTS, MEASURES } from '../../dashboard/texts/alarms.ts';
import { Replay } from '../../shared/engine/replay.ts';
import { withLimits } from '../../shared/engine/with-limits.ts';
import { RULES } from '../../shared/rules/index.ts';
import { LIMIT_DEFAULTS, LIMIT_NAMES, limitsSchema } from '../../shared/rules/limits.ts';
import { ALARM_NAMES } from '../../shared/rules/names.ts';
import { LIMITS_IN_WORDS, quantitiesIn, RULES_IN_WORDS } from '../../shared/rules/words.ts';
import type { AlarmMeasures } from '../../shared/wire/alarm-measures.ts';
import type { Alarm, Vessel } from '../../shared/wire/api.ts';

const START_MS = Date.UTC(2026, 2, 2, 10);
const at = (second: number): string => new Date(START_MS + 1000 * second).toISOString();

// ---- words ----

test('every alarm has a title of its own, and one of a later esterwatch goes by its name', () => {
  expect(Object.keys(ALARM_TITLES).sort()).toEqual([...ALARM_NAMES].sort());
  expect(new Set(Object.values(ALARM_TITLES)).size).toBe(ALARM_NAMES.length);
  expect(alarmTitle('boiling-near')).toBe(ALARM_TITLES['boiling-near']);
  expect(alarmTitle('tank-full')).toBe('tank full');
  expect(alarmTitle('constructor')).toBe('constructor');
});

test('every limit is read by a rule in words, is in its sentence, and has words', () => {
  const words = quantitiesIn('C');
  expect(Object.keys(LIMITS_IN_WORDS).sort()).toEqual([...LIMIT_NAMES].sort());
  const read = new Set(ALARM_NAMES.flatMap((alarm) => RULES_IN_WORDS[alarm].limits));
  expect([...read, 'nothing else'].sort()).toEqual([...LIMIT_NAMES, 'nothing else'].sort());
  for (const alarm of ALARM_NAMES) {
    const { limits, raised, over } = RULES_IN_WORDS[alarm];
    const said = (given: typeof LIMIT_DEFAULTS) => raised(given, words) + over(given, words);
    for (const name of LIMIT_NAMES) {
      const isSaid = said(LIMIT_DEFAULTS) !== said({ ...LIMIT_DEFAULTS, [name]: 77 } as never);
      expect(isSaid, `${alarm} says ${name}`).toBe(limits.includes(name));
    }
  }
});

test('quantities of a rule are said in the unit of the reader, as exact as they were set', () => {
  expect(quantitiesIn('C').rate(0.12)).toBe('0.12 °C a minute');
  expect(quantitiesIn('F').apart(3)).toBe('5.4 °F');
  expect(quantitiesIn('F').at(40)).toBe('104 °F');
  expect(quantitiesIn('C').at(-20)).toBe('−20 °C');
});

test('every measure that the standards have a figure for has words', () => {
  expect(Object.keys(MEASURES)).toEqual(ALARM_TARGETS.map(({ measure }) => measure));
});

/** Facts that only choose the sentence, or say again what stands beside them. */
const FOR_THE_SENTENCE = ['advice', 'what', 'leave'];

test('whatever the sentence of a rule is made from has words', () => {
  const asked = new Set<string>();
  const facts = new Proxy({} as Alarm['facts'], {
    get: (_, name) => {
      asked.add(String(name));
      return 1;
    },
  });
  for (const rule of RULES) rule.describe(facts, 'C');
  expect(asked.size).toBeGreaterThan(20);
  const known = new Set([...Object.keys(FACTS), ...FOR_THE_SENTENCE]);
  expect([...asked].filter((name) => !known.has(name))).toEqual([]);
});

// ---- a run played again ----

const playedBy = (lines: readonly string[], limits: object): object[] => {
  const replay = new Replay();
  return [...lines.flatMap((line) => replay.push(withLimits(line, limits))), ...replay.end()].filter(
    (line) => 'event' in line,
  );
};

function playAll(recorded: RecordedRun, limits: object): Told[] {
  const playing = recorded.play(limits);
  for (;;) {
    const { done, value } = playing.next();
    if (done) return value;
  }
}

test('a run that is kept gives what its lines give, as often as it is played and with any limits', () => {
  const lines = [
    '{"type":"vessel","vessel":"r1","site":{"altitudeM":0},"plan":{"limits":{"aheadMinutes":4}}}',
    `{"type":"stage","at":"${at(0)}","vessel":"r1","stage":"react"}`,
    ...Array.from({ length: 9000 }, (_, i) =>
      JSON.stringify({
        type: 'reading',
        at: at(i + 1),
        arrived: at(i + 1),
        vessel: 'r1',
        channel: 'liquid-temperature',
        value: 57 + 6 * Math.sin(i / 700),
        ...(i % 1000 === 0 && { typed: true }),
      }),
    ),
    'not a line',
    `{"type":"end","at":"${at(9100)}"}`,
  ];
  const recorded = new RecordedRun();
  for (const line of lines) recorded.add(line);
  expect(recorded).toMatchObject({ readings: 9000, lines: lines.length, vessels: ['r1'] });
  expect(recorded.span).toEqual({ fromMs: START_MS + 1000, toMs: START_MS + 9_000_000 });
  const own = playedBy(lines, {});
  expect(own.length).toBeGreaterThan(4);
  expect(playAll(recorded, {})).toEqual(own);
  const wider = playedBy(lines, { nearMarginC: 5 });
  expect(wider).not.toEqual(own);
  expect(playAll(recorded, { nearMarginC: 5 })).toEqual(wider);
  expect(playAll(recorded, {})).toEqual(own);
});

const told = (second: number, event: Told['event'], alarm = 'boiling-near', vessel = 'r1'): Told => ({
  at: at(second),
  vessel,
  alarm,
  event,
});
const ms = (second: number): number => START_MS + 1000 * second;
const stood = (from: number, to: number | null) => ({
  raisedMs: ms(from),
  clearedMs: to === null ? null : ms(to),
});

test('an alarm that becomes graver stands on; those of other names and vessels are no part of it', () => {
  const lines = [
    told(1, 'raised'),
    told(2, 'raised', 'rising-fast'),
    told(3, 'raised'),
    told(4, 'cleared', 'boiling-near', 'r2'),
    told(5, 'cleared'),
    told(8, 'raised'),
  ];
  expect(episodesOf(lines, { vessel: 'r1', alarm: 'boiling-near' })).toEqual([stood(1, 5), stood(8, null)]);
});

describe('in place of an alarm from 100 to 200, with one before (10 to 20) and one after (300 to 400), stands', () => {
  const own = [stood(10, 20), stood(100, 200), stood(300, 400)];
  test.each([
    ['itself', own, stood(100, 200)],
    ['an earlier one that stands then', [stood(90, 210)], stood(90, 210)],
    ['one that never went since the one before', [stood(5, null)], stood(5, null)],
    ['a later one', [stood(10, 15), stood(150, 160), stood(310, 400)], stood(150, 160)],
    ['a later one at the same time', [stood(100, 101)], stood(100, 101)],
    ['one that was over before', [stood(10, 20), stood(50, 60), stood(300, 400)], stood(50, 60)],
    ['none, where only the others are left', [stood(10, 20), stood(300, 400)], null],
    ['none, where nothing comes', [], null],
  ])('%s', (_, other, instead) => {
    expect(insteadOf(own, ms(100), other)).toEqual(instead);
  });
});

test('a slider holds what its limit stands at, and gives no limit that a plan refuses', () => {
  for (const name of LIMIT_NAMES) {
    const { least, most, step } = limitScale(name, LIMIT_DEFAULTS[name]);
    expect(least).toBeLessThanOrEqual(LIMIT_DEFAULTS[name]);
    expect(most, name).toBeGreaterThan(LIMIT_DEFAULTS[name]);
    expect(limitsSchema.safeParse({ [name]: most }).success, name).toBe(true);
    // The usual value is one of its steps: back at it is as it was.
    expect(
      Math.abs(LIMIT_DEFAULTS[name] / step - Math.round(LIMIT_DEFAULTS[name] / step)),
      name,
    ).toBeLessThan(1e-9);
  }
  expect(limitScale('nearMarginC', 42).most).toBeGreaterThanOrEqual(42);
});

// ---- around the moment ----

const alarmOf = (alarm: string, facts: Alarm['facts'] = {}): Alarm => ({ alarm, facts, limit: 20 }) as Alarm;
const KNOWN = ['liquid-temperature', 'liquid-temperature-2', 'stirrer-speed', 'heater', 'room-vapour'];

test('every alarm shows a reading that the vessel has, the probe that it is of first', () => {
  const all = [...KNOWN, 'stirrer-current', 'condensate-temperature'];
  for (const alarm of ALARM_NAMES) expect(channelsOf(alarmOf(alarm), all).length, alarm).toBeGreaterThan(0);
  expect(channelsOf(alarmOf('boiling-near', { probe: 2 }), KNOWN)).toEqual(['liquid-temperature-2']);
  expect(channelsOf(alarmOf('mixing-stopped'), KNOWN)).toEqual(['stirrer-speed', 'liquid-temperature']);
  expect(channelsOf(alarmOf('condenser-warm'), KNOWN)).toEqual(['heater']);
});

test('the limit is drawn where the rule held the readings against it', () => {
  const plan = { reactionTemperatureC: 55 };
  const limits = { ...LIMIT_DEFAULTS, nearMarginC: 4 };
  const near = linesOf(alarmOf('boiling-near'), limits, plan, 64.5);
  expect(near).toEqual([
    { channel: 'liquid-temperature', what: 'boiling', value: 64.5 },
    { channel: 'liquid-temperature', what: 'limit', value: 60.5 },
  ]);
  expect(linesOf(alarmOf('boiling-near'), limits, plan, undefined)).toEqual([]);
  expect(linesOf(alarmOf('oil-overheated', { stage: 'dry-oil' }), limits, plan, undefined)).toMatchObject([
    { what: 'limit', value: 130 },
  ]);
  expect(linesOf(alarmOf('reaction-cold'), limits, plan, undefined)).toMatchObject([
    { what: 'plan', value: 55 },
    { what: 'limit', value: 47 },
  ]);
});

test('the stretch around an alarm does not go beyond now, and holds the moment', () => {
  expect(stretchAround(ms(0), 3_600_000, ms(10_000))).toEqual({ fromMs: ms(-2400), toMs: ms(1200) });
  expect(stretchAround(ms(0), 3_600_000, ms(5))).toEqual({ fromMs: ms(-3540), toMs: ms(60) });
});

// ---- what stands now ----

test('the present number of an alarm is that of a fresh reading, or none', () => {
  const vessel = {
    liquidC: 61,
    headroomC: 3.5,
    risingCPerMin: 0.4,
    mixing: { channel: 'stirrer-speed', value: 120, lowest: 200, state: 'slow' },
    readings: {
      'liquid-temperature': { at: at(0), value: 61, ageMs: 0, sound: true, typed: false },
      'stirrer-speed': { at: at(0), value: 120, ageMs: 0, sound: true, typed: false },
      'room-vapour': { at: at(0), value: 250, ageMs: 0, sound: true, typed: false },
    },
  } as unknown as Vessel;
  const now = (alarm: string, second = 5) => presentNumber({ alarm }, vessel, ms(second));
  expect(now('boiling-near')).toMatchObject({ kind: 'headroom', value: 3.5 });
  expect(now('boiling-near', 61)).toBeUndefined();
  expect(now('mixing-slow')).toMatchObject({ kind: 'mixing', value: 120, channel: 'stirrer-speed' });
  expect(now('vapour-high')).toMatchObject({ kind: 'ppm', value: 250 });
  expect(now('condenser-warm')).toBeUndefined();
  expect(now('reaction-short')).toBeUndefined();
});

// ---- the choice of past alarms, the measures ----

test('a choice of past alarms goes into the address and out of it, and times are asked for as moments', () => {
  const query = 'vessel=barn%3Ar1&alarm=boiling-near&from=2026-03-02T10%3A00';
  const choice = choiceOf(new URLSearchParams(query));
  expect(new URLSearchParams(saidOf(choice)).toString()).toBe(query);
  const local = new Date(2026, 2, 2, 10).getTime();
  expect(askedOf(choice)).toEqual({ vessel: 'barn:r1', alarm: 'boiling-near', from: String(local) });
  expect(askedOf({ ...choice, from: 'soon', to: '2026-03-02T10:00' }).to).toBe(String(local + 59_999));
  expect(askedOf({ ...choice, from: 'soon' })).not.toHaveProperty('from');
});

test('a measure is judged by its figure, once there is a month to judge by', () => {
  const measures = {
    days: 31,
    perDay: { mean: 151 },
    perTenMinutes: { mean: 0.5, highest: null, floodPercent: 1 },
    byPriority: Object.fromEntries(
      ['low', 'medium', 'high', 'critical'].map((name) => [name, { count: 0, percent: null }]),
    ),
    mostFrequent: { percent: null, alarms: [] },
    stale: { alarms: 0, mostOnOneDay: 0 },
    chattering: [],
    targets: [...ALARM_TARGETS],
  } as unknown as AlarmMeasures;
  const fits = (given: AlarmMeasures) =>
    Object.fromEntries(measureRows(given).map(({ target, fits }) => [target.measure, fits]));
  expect(fits(measures)).toMatchObject({
    days: 'yes',
    'perDay.mean': 'no',
    'perTenMinutes.mean': 'yes',
    'perTenMinutes.highest.count': 'yes',
    'perTenMinutes.floodPercent': 'no',
    'byPriority.low.percent': null,
    'stale.mostOnOneDay': 'yes',
    'chattering.length': 'yes',
  });
  expect(fits({ ...measures, days: 3 })).toMatchObject({ days: 'no', 'perDay.mean': 'too-soon' });
});
