import { isolated } from './isolated.ts';

export {
  isToSee,
  missingName,
  PRIORITY_WORDS,
  STAGE_NAMES,
  toSee,
} from '../../shared/words/stages.ts';

/** Every text of the page but the sentences of alarms, which the rules make. */

const NOT_COUNTED = {
  'not-mixed': 'not stirred',
  'no-readings': 'no readings',
  boiling: 'boiling',
  colder: 'colder than planned',
} as const;

const NOT_COUNTING = {
  stopped: 'not stirred',
  slow: 'stirred too slowly',
  'no-stirrer': 'no stirrer reading',
  'no-readings': 'no reading',
  boiling: 'boiling',
} as const;

export type NotCounting = keyof typeof NOT_COUNTING;

export const notCountedWhy = (why: keyof typeof NOT_COUNTED): string => NOT_COUNTED[why];

export const notCountingWhy = (why: NotCounting): string => NOT_COUNTING[why];

export const channelName = (channel: string): string =>
  ({
    'liquid-temperature': 'Liquid temperature',
    'stirrer-speed': 'Stirrer',
    'pump-flow': 'Pump',
    pump: 'Pump',
  })[channel] ?? channel.replaceAll('-', ' ');

export const channelUnit = (channel: string): string =>
  ({ 'stirrer-speed': 'turns a minute', 'pump-flow': 'L/min' })[channel] ?? '';

const minutes = (value: number): string =>
  value < 10 && value % 1 !== 0 ? value.toFixed(1) : value.toFixed(0);

export const TEXTS = {
  product: 'esterwatch',
  toContent: 'To the vessels',

  /** Of a site that another daemon watches. */
  doneAtSite: 'Acknowledged at the site, not here.',

  nav: {
    label: 'Pages',
    overview: 'Vessels',
    batches: 'Batches',
    recipe: 'Recipe',
    oil: 'Test an oil',
    stock: 'Stock',
    alarms: 'Alarms',
    'set-up': 'Set-up',
    refused: 'Refused',
    help: 'Help',
    refusedCount: (count: number) => count.toLocaleString('en'),
  },
  latePage: {
    loading: 'Fetching this page …',
    failed: 'This could not be fetched',
    outdated: 'This page is older than the daemon',
    outdatedHelp: 'Load it anew to go on; what was typed and not sent is gone then.',
    reload: 'Load anew',
    broken: 'This page has failed',
    brokenHelp: 'Nothing that it showed may be relied on. Load it anew; what was typed and not sent is gone.',
  },
  display: { open: 'Units, light or dark, name' },

  link: {
    connecting: 'Connecting …',
    live: (time: string) => `Live, ${time}`,
    lost: (time: string) => `Not live since ${time}`,
    neverLive: 'Not live: no connection yet',
    trying: 'Trying to connect again.',
    lostHelp: 'Everything below is as it was then. Trying to connect again.',
    notKept: 'Readings are not kept now.',
    notKeptHelp: (why: string) =>
      `They are judged, and alarms go out. The store cannot be written: ${why}. It goes on by itself when it can.`,
    unreached: 'Warnings come to pages like this one alone:',
    demo: (speed: string) => `Demonstration: time runs ${speed} × faster`,
    was: 'was',
  },

  vessel: {
    record: 'Record so far',
    at: (site: string) => `at ${site}`,
    openLink: (vessel: string) => `Charts, alarms so far: ${vessel}`,
    open: 'Charts, alarms so far',
    back: 'All vessels',
    wall: 'Show on a wall',
    unknown: 'No vessel of that name has sent a reading.',
    belowBoiling: (unit: string) => `${unit} below boiling`,
    aboveBoiling: (unit: string) => `${unit} above boiling`,
    noReading: 'No reading',
    noReadingHelp: 'No temperature that can be trusted has come from this vessel.',
    dosingAllowed: 'Methoxide may go in',
    dosingOnceDry: 'Warm enough for methoxide, once the oil is dry',
    dosingIn: (min: number) => `Ready to dose in about ${minutes(Math.max(1, Math.round(min)))} min`,
    dosingWarmIn: (min: number) =>
      `Warm enough for methoxide in about ${minutes(Math.max(1, Math.round(min)))} min`,
    dosingTooHot: 'Too hot for methoxide',
    dosingNotYet: 'Not ready for methoxide',
    dosingLimit: (temperature: string) => `no methoxide above ${temperature}`,
    dosingColder: (temperature: string) => `planned ${temperature} not reached yet`,
    liquid: 'liquid',
    boilingBetween: (soonest: number, latest: number) =>
      soonest === latest ? `boiling in ${soonest} min` : `boiling in ${soonest} to ${latest} min`,
    boilingSoonest: (soonest: number) => `boiling in ${soonest} min at the soonest`,
    rate: (trend: 'rising' | 'falling', rate: string) => `${trend} ${rate} a minute`,
    steady: 'steady',
    noTrend: 'direction not known yet',
    liquidAt: (temperature: string) => `Liquid ${temperature}`,
    boilsAt: (temperature: string, hPa: string) => `Methanol boils at ${temperature} at ${hPa} hPa`,
    boilsAssumed: (temperature: string) => `Methanol boils at ${temperature} at sea level; altitude not set`,
    age: (age: string) => `reading ${age} old`,
    justRead: 'just read',
    typed: 'typed in by hand',
    notBegun: 'batch open, nothing has begun yet',
    stageSince: (stage: string, time: string) => `${stage}, since ${time}`,
    wayLabel: 'The way of the batch',
    wayState: { done: 'done', now: 'now', 'to-come': 'to come' },
    wayNext: (stage: string) => `Next: ${stage}`,
    wayLast: 'The last stage',
    mixing: {
      'at-speed': 'at speed',
      slow: 'too slow',
      stopped: 'stopped',
    },
    mixingLowest: (lowest: string) => `at least ${lowest} wanted`,
    on: 'running',
    off: 'not running',
  },

  scale: {
    planned: 'plan',
  },

  counted: {
    reaction: (has: number, needs: number) => `${minutes(has)} of ${minutes(needs)} min counted`,
    settling: (has: number, needs: number) =>
      `${has.toFixed(1)} of ${minutes(needs)} h of settling counted (the fuel waits for it, draining does not)`,
    enough: 'enough',
    notNow: (why: string) => `not counting now: ${why}`,
    enoughAt: (time: string) => `enough at ${time}`,
    notCounted: (parts: string) => `${parts} did not count`,
    part: (min: number, why: string) => `${minutes(min)} min (${why})`,
    single: (min: number, why: string) => `${minutes(min)} min did not count: ${why}`,
  },

  altitude: {
    title: 'Altitude not set',
    help: (boiling: string) =>
      `The boiling point is taken as sea level’s, ${boiling}. Higher up methanol boils earlier: about 5 °C (9 °F) at 1,600 m (5,250 ft).`,
    field: 'Altitude of this place',
    unit: 'Unit',
    metres: 'm',
    feet: 'ft',
    save: 'Set altitude',
    set: 'set the altitude',
    change: 'change the altitude',
    dialog: (site: string) => `Altitude of ${site}`,
    cancel: 'Cancel',
    saved: (height: string) => `Altitude set: ${height}.`,
    wrong: 'A number between −500 and 6,000 m (−1,640 and 19,685 ft), please.',
  },

  alarms: {
    region: 'Standing alarms',
    since: (time: string) => `Since ${time}`,
    over: 'Alarms that are over',
    overSince: (time: string) => `Over since ${time}:`,
    moreOver: (count: number) => `${count} more that are over`,
    late: 'from readings that came late',
    seen: (by: string, time: string) => `Seen by ${isolated(by)} at ${time}`,
    notSeen: 'Nobody has said that they saw it',
    acknowledge: 'I have seen it',
    acknowledgeAs: (name: string) => `as ${isolated(name)}`,
    withReason: 'Add a note',
    reason: 'Note (may be left empty)',
    yourName: 'Your name (asked once)',
    send: 'I have seen it',
    follows: 'Alarms that follow from another',
    followsFrom: (title: string) => `Follows from ‘${title}’`,
    shelve: 'Set aside',
    shelfTime: 'How long',
    shelfTimes: { 5: '5 min', 15: '15 min', 30: '30 min', 60: '1 h', 240: '4 h', 720: '12 h' },
    shelfReason: 'Why (kept with the alarm)',
    shelved: 'Alarms set aside',
    shelvedUntil: (time: string, by: string, why: string) =>
      `Set aside until ${time} by ${isolated(by)}: ‘${isolated(why)}’`,
    shelvedCount: (count: number) => `${count} set aside`,
    past: 'Alarms so far',
    nonePast: 'None so far.',
    columns: { at: 'When', what: 'What happened', over: 'Over', seen: 'Seen by' },
    stands: 'stands',
    why: 'Why?',
    /** Begins as the link does. */
    whyOf: (title: string, time: string) => `Why? ${title}, ${time}`,
    now: (amount: string) => `Now ${amount}.`,
    below: (apart: string) => `${apart} below boiling`,
    above: (apart: string) => `${apart} above boiling`,
  },

  charts: {
    loading: 'Fetching the charts …',
    failed: 'The charts could not be fetched.',
  },

  batch: {
    start: 'Start a batch',
    name: 'Name of the batch',
    temperature: (unit: string) => `Planned reaction temperature, ${unit}`,
    minutes: 'Reaction time, min',
    settle: 'Settling time, h',
    speed: 'Lowest stirrer speed, turns a minute (empty: no stirrer readings)',
    submit: 'Start the batch',
    cancel: 'Cancel',
    wrong: (field: string) => `${field}: a number, please.`,
    wouldBoil: (planned: string, boiling: string, where: 'at' | 'above') =>
      `${planned} is ${where} methanol’s boiling point here${where === 'at' ? '' : `, ${boiling}`}: it would boil.`,
    nearBoiling: (planned: string, boiling: string, apart: string) =>
      `${planned} is only ${apart} below methanol’s boiling point here, ${boiling}.`,
    meant: 'I mean it',
    join: 'Take part in a batch',
  },

  stage: {
    next: (stage: string) => `Next: ${stage}`,
    other: 'Another stage',
    title: (stage: string) => `Go on to: ${stage}?`,
    titleEnd: (stage: string) => `End the batch as ${stage}?`,
    now: (stage: string) => `Now: ${stage}`,
    confirm: (stage: string) => `Begin: ${stage}`,
    confirmEnd: (stage: string) => `End as ${stage}`,
    endCheck: 'Yes, end this batch. It takes no further stage.',
    toSee: 'Look, and tick what is so',
    unseen: 'Without a tick it wants a reason, which is kept with the batch.',
    missing: 'Something is missing',
    missingSeen: (what: string) => `Not ticked: ${what}`,
    missingTest: (what: string) => `No passed test: ${what}`,
    missingRow: (name: string, has: string, needs: string) => `${name}: ${has} of ${needs}`,
    missingBoiling: (has: string, needs: string) => `Only ${has} below boiling; ${needs} are wanted`,
    anyway: 'Go on anyway',
    reason: 'Why you go on anyway (kept with the batch)',
    cancel: 'Stay here',
    by: 'Your name',
  },

  cautions: {
    title: (stages: string) => `Usual cautions: ${stages}`,
    practice: 'Where no source is named: common practice.',
  },
  signedIn: {
    as: 'Signed in as',
    out: 'Sign out',
  },
  footer:
    'It watches and warns. It is no safety interlock and switches nothing. Local codes and licensed practice come first.',

  problem: {
    offline: 'esterwatch did not answer.',
    notKnown:
      'esterwatch did not answer: whether this was noted is not known. Look before you send it again.',
    unexpected: 'esterwatch’s answer was not understood.',
    rightMissing: 'You have no right to do this. Whoever sets up people can give it to you.',
  },
} as const;
