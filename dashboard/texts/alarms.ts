/** Texts of the pages of alarms: all of them, and one. */

export type FactKind =
  | 'at'
  | 'apart'
  | 'rate'
  | 'minutes'
  | 'seconds'
  | 'length'
  | 'hours'
  | 'amperes'
  | 'ppm'
  | 'stage'
  | 'channel'
  | 'yes-no'
  | 'plain';

/** What a rule can have worked out, by the name it has there. What is not here is only there for the sentence. */
export const FACTS: Readonly<Record<string, { says: string; kind: FactKind }>> = {
  liquidC: { says: 'Liquid, the hottest probe that can be trusted', kind: 'at' },
  boilingC: { says: 'Methanol boils here at', kind: 'at' },
  headroomC: { says: 'Below boiling', kind: 'apart' },
  trendCPerMin: { says: 'Trend of the last minute', kind: 'rate' },
  rateCPerMin: { says: 'Change over half a minute', kind: 'rate' },
  minutes: { says: 'Time', kind: 'minutes' },
  required: { says: 'Required', kind: 'plain' },
  hours: { says: 'Counted', kind: 'hours' },
  seconds: { says: 'Silent for', kind: 'seconds' },
  stage: { says: 'Stage', kind: 'stage' },
  probe: { says: 'Probe', kind: 'plain' },
  channel: { says: 'Channel', kind: 'channel' },
  marginC: { says: 'Wanted below boiling', kind: 'apart' },
  methoxideC: { says: 'Methoxide', kind: 'at' },
  limitC: { says: 'Highest in this stage', kind: 'at' },
  condensateC: { says: 'Condensate', kind: 'at' },
  underC: { says: 'Under plan', kind: 'apart' },
  plannedC: { says: 'Planned', kind: 'at' },
  value: { says: 'Reading', kind: 'plain' },
  limit: { says: 'Held against', kind: 'plain' },
  amperes: { says: 'Current', kind: 'amperes' },
  settledA: { says: 'Current as usual', kind: 'amperes' },
  restedMinutes: { says: 'At rest before', kind: 'minutes' },
  mostlyReacted: { says: 'Mostly reacted', kind: 'yes-no' },
  frozenC: { says: 'The one value', kind: 'at' },
  readC: { says: 'Reading', kind: 'at' },
  beforeC: { says: 'The last reading that was trusted', kind: 'at' },
  afterSeconds: { says: 'Time since then', kind: 'length' },
  hotC: { says: 'Warmer probe', kind: 'at' },
  coldC: { says: 'Colder probe', kind: 'at' },
  devices: { says: 'Devices', kind: 'plain' },
  senders: { says: 'Who sends to it', kind: 'plain' },
  lowC: { says: 'The lower of the two readings', kind: 'at' },
  highC: { says: 'The higher of the two readings', kind: 'at' },
  ppm: { says: 'Methanol in room air', kind: 'ppm' },
  isMean: { says: 'Average over 15 min', kind: 'yes-no' },
  methanol: { says: 'Methanol in it', kind: 'yes-no' },
};

/** The measures of the alarm system, in the order in which they are told. */
export const MEASURES: Readonly<Record<string, string>> = {
  days: 'Days looked at',
  'perDay.mean': 'People told, a day',
  'perTenMinutes.mean': 'People told, in ten minutes',
  'perTenMinutes.highest.count': 'The fullest ten minutes',
  'perTenMinutes.floodPercent': 'Share of the ten minutes with more than ten',
  'byPriority.low.percent': 'Notes among them',
  'byPriority.medium.percent': '‘Take care’ among them',
  'byPriority.high.percent': 'Warnings among them',
  'byPriority.critical.percent': 'Dangers among them',
  'mostFrequent.percent': 'Share of the ten most frequent',
  'stale.mostOnOneDay': 'Standing for more than a day, the most at once',
  'chattering.length': 'Coming and going: three times in a minute or more',
};

const count = (n: number, one: string, many: string): string =>
  `${n.toLocaleString('en')} ${n === 1 ? one : many}`;

export const ALARM_TEXTS = {
  title: 'Alarms',
  standing: 'Standing now',
  noneStanding: 'None stands, and none waits to be seen.',
  past: 'So far',
  filter: 'Show only',
  vessel: 'Vessel',
  anyVessel: 'all vessels',
  alarm: 'Alarm',
  anyAlarm: 'all alarms',
  from: 'From',
  to: 'Until',
  all: 'Show all again',
  nonePast: 'None in this choice.',
  older: 'Show earlier ones',
  found: (n: number, more: boolean) =>
    more ? `The newest ${n.toLocaleString('en')}.` : `${count(n, 'alarm', 'alarms')}.`,
  columns: { at: 'When', vessel: 'Vessel', what: 'What happened', over: 'Over', seen: 'Seen by' },
  stands: 'stands',

  measures: {
    title: 'How good are these alarms?',
    lead: 'Alarms that come too often, or stand for days, are not looked at any more. Two standards say how many a person can bear; they mean plants with hundreds of alarms, so take the figures as a hint.',
    span: 'Over the last',
    spans: { '30': '30 days', '90': '90 days', '365': 'year' } as Record<string, string>,
    looked: (from: string, to: string) => `From ${from} to ${to}.`,
    incomplete: 'There was too much to look at all of it.',
    told: (n: number) => `People were told ${count(n, 'time', 'times')}.`,
    notTold: (explained: number, late: number) =>
      `Kept without telling anybody: ${count(explained, 'that followed', 'that followed')} from another, ${late.toLocaleString('en')} that came late and ${late === 1 ? 'was' : 'were'} over.`,
    columns: { what: 'What', is: 'Here', wanted: 'The standards say', fits: 'Fits' },
    wanted: { 'at-most': 'at most', under: 'under', about: 'about', 'at-least': 'at least' },
    manageable: (n: string) => `${n} can still be managed`,
    fits: { yes: 'yes', no: 'no', 'too-soon': 'too soon' },
    noJudgement: '–',
    source: 'Source',
    frequent: 'Most frequent',
    frequentRow: (title: string, vessel: string, n: number, percent: string) =>
      `${title}, ${vessel}: ${count(n, 'time', 'times')}, ${percent} of all`,
    longest: 'Stood longest',
    longestRow: (title: string, vessel: string, length: string) => `${title}, ${vessel}: ${length}`,
    chattering: 'Came and went within a minute',
    chatteringRow: (title: string, vessel: string, n: number) => `${title}, ${vessel}: ${n} times`,
    none: 'None.',
    loading: 'Counting …',
  },

  one: {
    title: 'An alarm',
    back: 'All alarms',
    loading: 'Fetching this alarm …',
    at: (vessel: string, site: string) => `${vessel} at ${site}`,
    happened: 'What happened',
    raised: 'Came',
    cleared: 'Over',
    stands: 'It stands.',
    overAfter: (time: string, length: string) => `${time}, after ${length}`,
    wasTold: 'What was to be done:',
    guide: 'Its causes, what to do, and the chemistry behind it',
    seen: 'Seen',
    nobody: 'Nobody has said that they saw it.',
    live: 'How it came',
    isLive: 'Live: from a reading, or a silence, of that moment.',
    isLate: 'Late: from a reading that was over a minute old when it came.',
    follows: 'Followed from',
    followsNone: 'No other alarm.',
    told: 'People told',
    wereTold: 'Yes.',
    notToldFollows: 'No: the other alarm says enough.',
    notToldShelved: 'Not while it is set aside.',
    notToldOver: 'No: it was over when it came in.',
    batch: 'Batch',
    noBatch: 'None: the vessel was in no batch then.',
    record: 'Its record',

    readings: 'The readings around it',
    span: 'Length shown',
    spans: { 900000: '15 min', 3600000: '1 h', 21600000: '6 h' } as Record<number, string>,
    noChannel: 'This vessel has no readings that say more about it.',
    moment: 'it came',
    instead: 'would have come',
    limit: 'limit',
    tried: 'limit tried',
    boiling: 'boiling',
    plan: 'plan',
    boilingReckoned: 'The boiling line is worked out from the pressure of that moment: this rule kept none.',
    summary: (moment: string, limit: string) => `When it came: ${moment}. ${limit}`,

    rule: 'The rule',
    ruleUnknown: 'This esterwatch does not know the rule any more.',
    ruleRaised: 'It comes when',
    ruleOver: 'It is over when',
    ruleGrave: 'How grave',
    limits: 'Its limits',
    byPlan: 'of this batch’s plan',
    byDefault: 'as usual',
    defaultIs: (value: string) => `usually ${value}`,
    noLimits: 'Its numbers are fixed: no plan changes them.',
    computed: 'What the rule worked out then',
    yes: 'yes',
    no: 'no',

    other: 'With other limits',
    otherLead:
      'The batch’s recorded run is played again, here in this browser, by the same rules. Nothing changes what is watched.',
    nothingToRun:
      'The vessel was in no batch when this alarm came, so there is no recorded run to play again.',
    nothingToMove: 'This rule reads no limit, so there is nothing to move.',
    open: 'Play the batch again',
    fetching: (lines: number) =>
      lines === 0 ? 'Fetching the run …' : `Fetching the run: ${lines.toLocaleString('en')} lines …`,
    playing: 'Playing …',
    failed: 'The run could not be fetched. Try again.',
    failedBusy: 'Two runs or records are being made already. Try again in a moment.',
    again: 'Try again',
    reset: 'As it was',
    asItWas: (time: string) => `With the limits as they were it comes at ${time}, as it did.`,
    notAsItWas: (time: string | null) =>
      time === null
        ? 'Played again with its own limits it does not come: the rules have changed since, or readings of it are not kept any more.'
        : `Played again with its own limits it comes at ${time}: the rules have changed since, or readings of it are not kept any more.`,
    same: (time: string) => `It would have come at the same time, ${time}.`,
    earlier: (time: string, by: string) => `It would have come at ${time}, ${by} earlier.`,
    later: (time: string, by: string) => `It would have come at ${time}, ${by} later.`,
    never: 'It would not have come.',
    wouldStand: 'It would have stood to the end of the run.',
    wouldBeOver: (time: string, length: string) => `Over at ${time}, after ${length}.`,
    inAll: (now: number, before: number) =>
      now === before
        ? `In the whole run this alarm comes ${count(now, 'time', 'times')}, as it did.`
        : `In the whole run this alarm comes ${count(now, 'time', 'times')} instead of ${before}.`,
    ran: (readings: number, from: string, to: string, vessels: string, took: string) =>
      `Played: ${readings.toLocaleString('en')} readings of ${vessels}, ${from} to ${to}, in ${took}.`,
    unit: {
      seconds: 's',
      minutes: 'min',
      percent: '%',
      intervals: 'intervals',
      ppm: 'ppm',
    } as Record<string, string>,
  },
} as const;
