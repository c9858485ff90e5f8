import type { StirringAgain } from '../../shared/rules/stirring-again.ts';
import type { Stage } from '../../shared/wire/names.ts';
import { isolated } from './isolated.ts';

const minutes = (value: number): string => (value < 10 ? value.toFixed(1) : value.toFixed(0));

export const POWER_CUT = {
  title: 'After a time that nobody watched',
  none: 'No batch under way has a time that nobody watched.',
  noneHelp:
    'When the daemon was away (a power cut, a restart) and comes back over a batch, this page says what is known.',
  back: 'All vessels',
  all: 'All of them',
  notLive: 'Not live: nothing below can be taken for what is now. Look at the vessel itself.',
  loading: 'Fetching …',
  seen: (by: string, time: string) => `Seen by ${isolated(by)} at ${time}.`,

  blind: {
    title: 'How long',
    long: (length: string) => `Nobody watched for ${length}`,
    unknown: 'Nobody knows for how long nobody watched: this machine’s clock had stopped too',
    between: (from: string, to: string) => `from ${from} to ${to}`,
    times: (count: number) => `in ${count} times, of which the first and the last moment are given`,
    why: 'The power may have been away, or only the daemon: look what else stood still.',
  },

  heat: {
    title: 'How hot',
    before: (temperature: string, time: string) => `Before: ${temperature}, read at ${time}`,
    beforeUnknown: 'Before: not known',
    now: (temperature: string, apart: string) => `Now: ${temperature}, ${apart}`,
    below: (apart: string) => `${apart} below boiling`,
    above: (apart: string) => `${apart} above boiling`,
    age: (age: string) => `read ${age} ago`,
    typed: 'typed in',
    nowUnknown: 'Now: not known, no reading that can be trusted has come since',
    changed: (apart: string, direction: 'colder' | 'warmer') => `${apart} ${direction} than before`,
  },

  stirring: {
    title: 'May stirring start again?',
    short: {
      'not-stirred': 'This stage is not stirred',
      yes: 'Yes',
      'yes-at-once': 'Yes, if you have looked at it',
      moving: 'It is stirred already',
      'margin-unknown': 'Not known: leave it still',
      'measure-first': 'Not before you know how hot it is',
      'not-yet': 'Not yet',
      'in-bursts': 'Yes, in short bursts, with the heat off',
    } satisfies Record<StirringAgain['may'], string>,
    yes: 'No methoxide lies on oil here. Look first, then start it slowly and watch the temperature.',
    atOnce: (seconds: number) =>
      `It stood for less than two minutes. Do not hurry for it: what still stands in ${seconds} s has stood for too long, and must be cool first.`,
    moving:
      'If it stood still over methoxide before, all that lay there reacts now: heat off, and watch the temperature. If it rises, stop it, stand back and let it cool.',
    marginUnknown:
      'The batch could not be fetched, and its own margin to boiling decides. Heat off, leave it still, read the thermometer; this page asks again by itself.',
    unknown: 'not known',
    measureFirst: (limit: string) =>
      `Nobody has measured since. Read the thermometer and type it in; above ${limit} it must cool first.`,
    notYet: (limit: string, apart: string) =>
      `Methoxide that lay on the oil would react at once, and boil it. Heat off, stand back, let it cool by ${apart}, to ${limit} or less. Then mix in short bursts.`,
    cool: (time: string) => `If it goes on cooling as it does, that is about ${time}.`,
    notCooling: 'It does not cool at present: make sure that the heat is off.',
    inBursts:
      'A second or two, then wait and look at the temperature. If it rises, let it cool before the next. Once it no longer rises, stir on.',
    mostlyReacted:
      'Ten minutes and more had been counted: little is left to react at once. Watch the temperature all the same.',
    opened: 'What that goes by',
    rule: (rest: string, margin: string, limit: string) =>
      `Methoxide that lay still for ${rest} or more must not be stirred in hot: the alarm restart-hot comes where it is less than ${margin} below boiling, here above ${limit}. Time that nobody watched counts as still.`,
    since: (time: string) => `It may have stood since ${time}.`,
    mixing: (state: string, time: string) => `Newest reading of the stirring: ${state}, ${time}.`,
    noMixing: 'No reading since tells whether it is stirred.',
    source: 'Source: the project’s own rule, from common practice; docs/rules.md.',
    plan: (margin: string) => `The margin is the batch’s own: ${margin}.`,
  },

  counts: {
    title: 'What still counts',
    before: (min: number, needs: number) =>
      `${minutes(min)} of ${minutes(needs)} min had been counted before.`,
    blind:
      'The time that nobody watched does not count. Readings that a device kept meanwhile and sends now are filled in, and what they show does count.',
    nothing: 'Nothing is counted in this stage. The batch, its stage and its record go on.',
    settleBefore: (hours: number, needs: number) =>
      `${hours.toFixed(1)} of ${minutes(needs)} h of settling had been counted before. Settling needs no power: it goes on by the clock, unless a stirrer ran.`,
    lost: 'What the page could not see of this batch stands in its record as alarms and gaps.',
  },

  todo: {
    title: 'What to do, in this order',
    air: 'A fan stood still, too: open up and air the room before anything in it is switched.',
    heatOff: 'Turn the heat off at its own switch or plug: a heater may have come back by itself.',
    look: 'Look at the vessel: lid, hose, valves, a boil-over.',
    element: 'See that the liquid stands over the heating element before any heat.',
    measure: 'Read the thermometer in the liquid; where no probe reports, type it in.',
    typeIn: 'Type in a reading',
    stirring: 'Stirring:',
    condenser: 'Condenser running and its end cold, before any heat.',
    vent: 'The can vented. Start stirring slowly: lye that sank warms the methanol when it is stirred up.',
    heatOn: 'Then heat again to the planned temperature. The time goes on counting by itself.',
    leave: 'Do not stir: it settles on. What has sunk may be drained.',
    mind: 'See that nothing ran over or ran dry, and that taps and pumps are as you left them.',
    say: 'Say that you have seen this. It is kept with the batch.',
    first: 'Local codes and licensed practice come first.',
  },
} as const;

type Todo = Exclude<keyof typeof POWER_CUT.todo, 'title' | 'typeIn' | 'first' | 'air'>;

/** What to do in a stage, in order; common practice, no source. */
export const TODO: Readonly<Record<Stage, readonly Todo[]>> = {
  idle: ['look', 'say'],
  warm: ['heatOff', 'look', 'measure', 'element', 'heatOn', 'say'],
  'dry-oil': ['heatOff', 'look', 'measure', 'element', 'heatOn', 'say'],
  prewash: ['heatOff', 'look', 'measure', 'stirring', 'heatOn', 'say'],
  esterify: ['heatOff', 'look', 'measure', 'stirring', 'heatOn', 'say'],
  methoxide: ['look', 'measure', 'vent', 'say'],
  dose: ['heatOff', 'look', 'measure', 'stirring', 'heatOn', 'say'],
  react: ['heatOff', 'look', 'measure', 'stirring', 'heatOn', 'say'],
  settle: ['heatOff', 'look', 'leave', 'say'],
  drain: ['heatOff', 'look', 'mind', 'say'],
  recover: ['heatOff', 'look', 'measure', 'element', 'condenser', 'say'],
  wash: ['look', 'mind', 'say'],
  'dry-fuel': ['heatOff', 'look', 'measure', 'element', 'heatOn', 'say'],
  filter: ['look', 'mind', 'say'],
  test: ['look', 'say'],
  finished: ['look', 'say'],
  rejected: ['look', 'say'],
  void: ['look', 'say'],
};
