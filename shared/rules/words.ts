import { fahrenheitFromCelsius, type TemperatureUnit } from '../units/temperature.ts';
import type { LimitName, Limits } from './limits.ts';
import type { AlarmName } from './names.ts';

/**
 * Every rule in words, with the limits that it reads: for who asks why an alarm came, and for docs/rules.md. Apart
 * from the rules, since the page that only shows alarms has no use for it.
 */
export interface RuleInWords {
  /** How grave it is, where that depends on something. */
  priority: string;
  /** The limits that it reads, those that matter most first. */
  limits: readonly LimitName[];
  raised: (limits: Limits, words: Quantities) => string;
  over: (limits: Limits, words: Quantities) => string;
}

/** How quantities are said: temperatures in the reader's unit. */
export interface Quantities {
  at: (celsius: number) => string;
  apart: (celsius: number) => string;
  rate: (celsiusPerMin: number) => string;
}

export function quantitiesIn(unit: TemperatureUnit): Quantities {
  const of = (value: number): string => `${plain(value)} ${unit === 'C' ? '°C' : '°F'}`.replace('-', '−');
  const apart = (celsius: number): string => of(unit === 'C' ? celsius : celsius * 1.8);
  return {
    at: (celsius) => of(unit === 'C' ? celsius : fahrenheitFromCelsius(celsius)),
    apart,
    rate: (celsiusPerMin) => `${apart(celsiusPerMin)} a minute`,
  };
}

/** As exact as somebody set it: '3', '0.5', '0.12'. */
const plain = (value: number): string => String(Math.round(value * 100) / 100);

export type LimitKind = 'apart' | 'at' | 'rate' | 'seconds' | 'minutes' | 'percent' | 'intervals' | 'ppm';

/** What each limit is of, and what it says. */
export const LIMITS_IN_WORDS: Readonly<Record<LimitName, { kind: LimitKind; says: string }>> = {
  reachedMarginC: { kind: 'apart', says: 'Counts as boiling, so far below boiling' },
  nearMarginC: { kind: 'apart', says: 'Counts as near, so far below boiling' },
  dosingMarginC: { kind: 'apart', says: 'Below boiling, to be kept while methoxide goes in' },
  stoppedSeconds: { kind: 'seconds', says: 'Without mixing for so long: stopped' },
  mixingGraceSeconds: {
    kind: 'seconds',
    says: 'The same before mixing was first seen, and once the required time is counted',
  },
  lateIntervals: {
    kind: 'intervals',
    says: 'So many reading intervals without a reading that can be trusted: late',
  },
  shortPercent: { kind: 'percent', says: 'Of the required reaction time; with less it was too short' },
  methoxideMinutes: { kind: 'minutes', says: 'Mixing that methoxide needs' },
  aheadMinutes: { kind: 'minutes', says: 'To boiling, at the present rise' },
  methoxideAheadMarginC: {
    kind: 'apart',
    says: 'Below boiling, from where on the rise of methoxide is watched',
  },
  methoxideDoseMarginC: { kind: 'apart', says: 'Below boiling, that methoxide should be when it goes in' },
  methoxideMarginC: { kind: 'apart', says: 'Below boiling, to be kept while methoxide is mixed' },
  warmHighestC: { kind: 'at', says: 'Hottest oil while it is warmed' },
  dryHighestC: { kind: 'at', says: 'Hottest oil while it is dewatered' },
  dryFuelHighestC: { kind: 'at', says: 'Hottest fuel while it is dried' },
  condensateHighestC: { kind: 'at', says: 'Warmest condensate while methanol is recovered' },
  recoverHighestC: { kind: 'at', says: 'Hottest liquid while methanol is recovered' },
  heatSeenMinutes: { kind: 'minutes', says: 'Asking for heat, in which it must be seen' },
  coldByC: { kind: 'apart', says: 'Under the planned temperature' },
  risingCPerMin: { kind: 'rate', says: 'Fastest rise' },
  slowSeconds: { kind: 'seconds', says: 'Mixing too slowly' },
  restartMarginC: { kind: 'apart', says: 'Below boiling; stirred again nearer than this it is dangerous' },
  frozenMinutes: { kind: 'minutes', says: 'Of exactly one value' },
  vapourPpm: { kind: 'ppm', says: 'Methanol in room air, on average over 15 min: take care' },
  vapourHighPpm: { kind: 'ppm', says: 'The same, in two readings running: warning' },
  vapourDangerPpm: { kind: 'ppm', says: 'The same, in two readings running: danger' },
};

const ACKNOWLEDGED = (): string => 'somebody has said that they saw it';

export const RULES_IN_WORDS: Readonly<Record<AlarmName, RuleInWords>> = {
  'boiling-reached': {
    priority: 'critical',
    limits: ['reachedMarginC', 'nearMarginC'],
    raised: ({ reachedMarginC, nearMarginC }, { apart }) =>
      `with methanol in it, at most ${apart(reachedMarginC)} below boiling in two readings running, or in one after a near one (less than ${apart(nearMarginC)} below)`,
    over: ({ reachedMarginC }, { apart }) =>
      `more than ${apart(reachedMarginC + 1)} below boiling (${apart(1)} further than raised it)`,
  },
  'boiling-near': {
    priority: 'high',
    limits: ['nearMarginC'],
    raised: ({ nearMarginC }, { apart }) =>
      `with methanol in it, less than ${apart(nearMarginC)} below boiling`,
    over: ({ nearMarginC }, { apart }) =>
      `more than ${apart(nearMarginC + 1)} below boiling (${apart(1)} further than raised it)`,
  },
  'boiling-ahead': {
    priority: 'high',
    limits: ['aheadMinutes', 'methoxideAheadMarginC', 'risingCPerMin'],
    raised: ({ aheadMinutes, methoxideAheadMarginC, risingCPerMin }, { apart, rate }) =>
      `with methanol in it, the trend of the last minute is at least ${rate(0.12)} and reaches boiling within ${aheadMinutes} min; in \`dose\` and \`react\` only above plan + ${apart(1.5)} (or ${apart(3)} below boiling) or while it rises faster than ${rate(risingCPerMin)}; in \`methoxide\` only under ${apart(methoxideAheadMarginC)} below`,
    over: ({ aheadMinutes }) =>
      `boiling is not within ${plain(1.5 * aheadMinutes)} min any more (one and a half times the limit), or it boils`,
  },
  'too-hot-to-dose': {
    priority: 'critical',
    limits: ['dosingMarginC'],
    raised: ({ dosingMarginC }, { apart }) =>
      `while methoxide goes in (at the start of \`dose\`, too), less than ${apart(dosingMarginC)} below boiling`,
    over: ({ dosingMarginC }, { apart }) =>
      `more than ${apart(dosingMarginC + 1)} below boiling (${apart(1)} further than raised it), or the stage ends`,
  },
  'methoxide-warm-to-dose': {
    priority: 'medium',
    limits: ['methoxideDoseMarginC'],
    raised: ({ methoxideDoseMarginC }, { apart }) =>
      `\`dose\` begins with methoxide whose last reading is less than ${apart(methoxideDoseMarginC)} below boiling`,
    over: () => 'the stage ends',
  },
  'oil-overheated': {
    priority: 'high',
    limits: ['warmHighestC', 'dryHighestC', 'dryFuelHighestC'],
    raised: ({ warmHighestC, dryHighestC, dryFuelHighestC }, { at, rate }) =>
      `over ${at(warmHighestC)} in \`warm\` and not falling by ${rate(0.1)} (after \`dry-oil\` from 5 min on), ${at(dryHighestC)} in \`dry-oil\`, ${at(dryFuelHighestC)} in \`dry-fuel\``,
    over: (_, { apart }) => `${apart(2)} below the limit`,
  },
  'condenser-warm': {
    priority: 'critical; medium where none was ever seen',
    limits: ['condensateHighestC'],
    raised: ({ condensateHighestC }, { at }) =>
      `in \`recover\`, condensate over ${at(condensateHighestC)}, or none for 60 s (or 5 intervals) while it heats`,
    over: ({ condensateHighestC }, { at, apart }) =>
      `at ${at(condensateHighestC - 5)} or colder (${apart(5)} below the limit), or the stage ends`,
  },
  'recover-overheated': {
    priority: 'high',
    limits: ['recoverHighestC'],
    raised: ({ recoverHighestC }, { at }) => `in \`recover\`, liquid over ${at(recoverHighestC)}`,
    over: ({ recoverHighestC }, { at, apart }) =>
      `at ${at(recoverHighestC - 5)} or colder (${apart(5)} below the limit), or the stage ends`,
  },
  'heat-not-seen': {
    priority: 'high; critical where it falls over methanol',
    limits: ['heatSeenMinutes'],
    raised: ({ heatSeenMinutes }, { apart, rate }) =>
      `in \`warm\`, or in \`react\` after its first 5 min: heat asked for throughout ${heatSeenMinutes} min, all of them in this stage, the liquid more than ${apart(2)} under plan and not risen by ${apart(0.5)}; or in \`react\` falling faster than ${rate(3)} over half a minute`,
    over: (_, { apart }) =>
      `it rises by ${apart(0.5)}, or no heat is asked for; it comes again after as many more minutes at the earliest`,
  },
  'heater-stuck': {
    priority: 'high',
    limits: [],
    raised: (_, { rate }) =>
      `in \`warm\`, \`dry-oil\` or \`settle\`, no heat asked for over 5 min, and rising by ${rate(0.5)} or more for 3 min`,
    over: (_, { rate }) => `rising by less than ${rate(0.2)}`,
  },
  'heater-on-draining': {
    priority: 'critical',
    limits: [],
    raised: () => 'heat asked for 5 s in `drain`, or `idle` within 12 h after a batch',
    over: () => 'no heat is asked for',
  },
  'reaction-cold': {
    priority: 'medium',
    limits: ['coldByC'],
    raised: ({ coldByC }, { apart }) =>
      `in \`react\`, more than ${apart(coldByC)} under plan for 5 min and not risen by ${apart(0.5)} in them`,
    over: ({ coldByC }, { apart }) =>
      `less than ${apart(0.75 * coldByC)} under plan (three quarters of the limit)`,
  },
  'methoxide-hot': {
    priority: 'high',
    limits: ['methoxideMarginC'],
    raised: ({ methoxideMarginC }, { apart }) =>
      `in \`methoxide\`, less than ${apart(methoxideMarginC)} below boiling`,
    over: ({ methoxideMarginC }, { apart }) =>
      `more than ${apart(methoxideMarginC + 2)} below boiling (${apart(2)} further than raised it), or the stage ends`,
  },
  'rising-fast': {
    priority: 'high',
    limits: ['risingCPerMin', 'aheadMinutes', 'methoxideAheadMarginC'],
    raised: ({ risingCPerMin, aheadMinutes, methoxideAheadMarginC }, { apart, rate }) =>
      `in \`dose\`, \`react\` or \`esterify\`, faster than ${rate(risingCPerMin)} over half a minute, to where it was not in the 3 min before; in \`methoxide\` only under ${apart(methoxideAheadMarginC)} below boiling, and fast enough to be there in ${aheadMinutes} min`,
    over: ({ risingCPerMin }, { rate }) => `slower than ${rate(risingCPerMin / 2)} (half of the limit)`,
  },
  'mixing-stopped': {
    priority: 'high; critical with methanol in and heat asked for',
    limits: ['stoppedSeconds', 'mixingGraceSeconds', 'methoxideMinutes'],
    raised: ({ stoppedSeconds, mixingGraceSeconds, methoxideMinutes }) =>
      `in a stage that is mixed, under a tenth of the lowest speed for ${stoppedSeconds} s; ${mixingGraceSeconds} s before mixing was first seen and once the required time is counted (in \`methoxide\` ${methoxideMinutes} min)`,
    over: () => 'at or above the lowest speed, or the stages that are mixed end',
  },
  'mixing-slow': {
    priority: 'medium',
    limits: ['slowSeconds', 'mixingGraceSeconds', 'methoxideMinutes'],
    raised: ({ slowSeconds, mixingGraceSeconds, methoxideMinutes }) =>
      `in a stage that is mixed, under the lowest speed but not stopped for ${slowSeconds} s; ${Math.max(slowSeconds, mixingGraceSeconds)} s before mixing was first seen and once the required time is counted (in \`methoxide\` ${methoxideMinutes} min)`,
    over: () => 'at or above the lowest speed for 5 s',
  },
  'coupling-lost': {
    priority: 'high',
    limits: [],
    raised: () =>
      'in a stage that is mixed, at speed, and its current more than 40 % under the usual for 10 s',
    over: () => 'the current is back within 20 %',
  },
  'motor-stalled': {
    priority: 'high',
    limits: [],
    raised: () => 'over 1.5 times the usual current and not turning, for 2 s',
    over: () => 'it turns, or the current falls',
  },
  'restart-hot': {
    priority: 'critical; medium once 10 min are counted',
    limits: ['restartMarginC'],
    raised: ({ restartMarginC }, { apart }) =>
      `stirred again after 2 min at rest in \`dose\` or \`react\`, less than ${apart(restartMarginC)} below boiling`,
    over: (_, { rate }) => `mixed for 2 min with a trend under ${rate(0.3)}`,
  },
  'methoxide-short': {
    priority: 'medium',
    limits: ['methoxideMinutes'],
    raised: ({ methoxideMinutes }) =>
      `dosed with methoxide mixed for less than ${methoxideMinutes} min (a plan with NaOH says 20, a jar 3)`,
    over: ACKNOWLEDGED,
  },
  'reaction-short': {
    priority: 'high',
    limits: ['shortPercent'],
    raised: ({ shortPercent }) =>
      `settling begins with less than ${shortPercent} % of the required time counted, and no 3/27 passed`,
    over: ACKNOWLEDGED,
  },
  'settling-short': {
    priority: 'medium',
    limits: [],
    raised: () => 'the fuel goes on with less settling than required',
    over: ACKNOWLEDGED,
  },
  'settling-disturbed': {
    priority: 'medium',
    limits: [],
    raised: () => 'in `settle`, moved for 10 s once it was at rest, or 2 min after the stage began',
    over: () => 'at rest',
  },
  'reading-late': {
    priority: 'low to critical',
    limits: ['lateIntervals'],
    raised: ({ lateIntervals }) =>
      `no temperature (or speed, while it must be mixed) that can be trusted for 15 s or ${lateIntervals} intervals, the longer`,
    over: () => 'a reading comes that can be trusted',
  },
  'probe-frozen': {
    priority: 'medium',
    limits: ['frozenMinutes'],
    raised: ({ frozenMinutes }, { apart }) =>
      `in \`warm\`, \`dose\` or \`react\`, one value over ${frozenMinutes} min and 20 readings, while it was heated more than ${apart(2)} under plan, or another probe moved by more than ${apart(1)}`,
    over: () => 'it moves',
  },
  'probe-jump': {
    priority: 'medium',
    limits: [],
    raised: (_, { apart, at }) =>
      `more than ${apart(3)} + ${apart(0.5)} a second away from the last reading that was trusted (that part at most ${apart(15)}); ${at(85)} at power-up`,
    over: () => 'a reading comes that can be trusted, or one that confirms it',
  },
  'probe-out-of-range': {
    priority: 'medium',
    limits: [],
    raised: (_, { at }) => `below ${at(-20)} or above ${at(200)} (${at(-127)}: the wire)`,
    over: () => 'a reading in range comes',
  },
  'probes-disagree': {
    priority: 'medium',
    limits: [],
    raised: (_, { apart }) => `two probes more than ${apart(3)} apart for 60 s while mixed`,
    over: (_, { apart }) => `less than ${apart(2)} apart; one that falls silent is no agreement`,
  },
  'two-devices': {
    priority: 'medium; high where methanol is in it',
    limits: [],
    raised: (_, { apart }) =>
      `two devices send to one channel in turn; where the broker is another, which does not say who sends: four jumps between the same two temperatures (each ± ${apart(3)})`,
    over: () =>
      'one of them has sent nothing for 2 min, or 5 times as long as it usually waits; the readings hop no more for as long',
  },
  'device-gone': {
    priority: 'low to high',
    limits: [],
    raised: () => 'a device is gone for 10 s',
    over: () => 'it is here',
  },
  'vapour-high': {
    priority: 'medium, high, critical',
    limits: ['vapourPpm', 'vapourHighPpm', 'vapourDangerPpm'],
    raised: ({ vapourPpm, vapourHighPpm, vapourDangerPpm }) =>
      `mean of 15 min over ${vapourPpm} ppm, over 1000 ppm; two readings running from ${vapourHighPpm}, from ${vapourDangerPpm} ppm`,
    over: ({ vapourPpm, vapourHighPpm }) =>
      `a fifth under all its limits (${plain(0.8 * vapourPpm)} ppm on average, ${plain(0.8 * vapourHighPpm)} ppm)`,
  },
  'not-watching': {
    priority: 'high',
    limits: [],
    raised: () => 'esterwatch comes back, and a batch was under way while nobody watched',
    over: ACKNOWLEDGED,
  },
};
