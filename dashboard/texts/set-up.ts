import type { ChannelKind, Role } from '../../shared/wire/names.ts';
import { isolated } from './isolated.ts';
import { THERMOMETERS } from './thermometers.ts';

const many = (count: number, one: string, more: string): string => `${count} ${count === 1 ? one : more}`;

export const ROLE_NAMES: Readonly<Record<Role, string>> = {
  reactor: 'reactor',
  methoxide: 'methoxide vessel',
  settling: 'settling tank',
  wash: 'wash tank',
};

/** What a channel of the wire is called, and what it is for. */
const CHANNEL_NAMES: Readonly<Record<string, string>> = {
  'liquid-temperature': 'liquid temperature',
  'stirrer-speed': 'stirrer',
  'stirrer-current': 'stirrer’s current',
  'pump-flow': 'pump',
  'pump-current': 'pump’s current',
  pump: 'pump',
  heater: 'heat asked for',
  'ambient-pressure': 'barometer',
  'vessel-pressure': 'pressure in the vessel',
  'condensate-temperature': 'condensate temperature',
  'room-vapour': 'methanol in the room’s air',
};

const PROBE = /^liquid-temperature-(\d+)$/;

export const channelWord = (channel: string): string => {
  const probe = PROBE.exec(channel)?.[1];
  if (probe !== undefined) return `liquid temperature, probe ${probe}`;
  return Object.hasOwn(CHANNEL_NAMES, channel)
    ? CHANNEL_NAMES[channel]!
    : `${channel.replaceAll('-', ' ')} (kept and charted; no rule reads it)`;
};

export const KIND_UNITS: Readonly<Record<Exclude<ChannelKind, 'temperature' | 'switch'>, string>> = {
  speed: 'turns a minute',
  flow: 'L/min',
  current: 'A',
  pressure: 'hPa',
  vapour: 'ppm',
  other: '',
};

export const SET_UP = {
  title: 'Set-up',
  lead: 'Places, vessels and what sends readings; and how this browser shows them.',
  lacks: (keep: string) =>
    `Vessels are yours to change here; places, their altitude, limits, people and devices are for whoever ‘${keep}’.`,
  lacksBoth: (work: string, keep: string) =>
    `You can look at this. Vessels are changed by whoever ‘${work}’; places, their altitude, limits, people and devices by whoever ‘${keep}’.`,
  firstStart: 'Go through the first start',
  parts: 'Parts of this page',
  people: 'People, tokens, devices that may publish',
  loading: 'Fetching …',
  none: 'None yet.',

  reach: { title: 'Reaching people' },

  places: {
    title: 'Places',
    none: 'No place is known yet.',
    boils: (temperature: string) => `Methanol boils at ${temperature} here now`,
    byAltitude: (height: string, hPa: string) => `by the altitude, ${height}: usually ${hPa} hPa`,
    byPressure: (hPa: string) => `by the pressure that was stated, ${hPa} hPa`,
    byBarometer: (hPa: string) => `by the barometer, ${hPa} hPa`,
    assumed: 'Altitude not set: sea level’s boiling point is taken, which is too kind higher up.',
    barometer: 'Barometer',
    notHeard: (topic: string) => `None heard. One that sends ${topic} counts for the whole place.`,
    heard: (hPa: string, age: string) => `${hPa} hPa, ${age} ago`,
    counts: 'counts',
    countsNot:
      'does not count: it is over an hour old, or over 40 hPa off what was stated (a pressure reduced to sea level, as weather reports give it, does that)',
    change: 'Change',
    set: 'Set altitude or pressure',
    by: 'Known by',
    ways: { altitude: 'altitude', pressure: 'station pressure' },
    pressure: 'Pressure at the place, hPa, not reduced to sea level',
    pressureWrong: 'A number from 200 to 1,100 hPa, please.',
    save: 'Save',
    cancel: 'Cancel',
    add: 'Another place',
    name: 'Name of the place',
    adding: 'Add the place',
    tested: (time: string, by: string) => `Test warning last sent ${time} by ${isolated(by)}`,
    neverTested: 'No test warning was ever sent',
  },

  height: {
    field: 'Altitude',
    unit: 'Unit',
    metres: 'm',
    feet: 'ft',
    seaLevel: 'Sea level',
    wrong: 'A number between −500 and 6,000 m (−1,640 and 19,685 ft), please.',
    boils: (temperature: string, hPa: string) => `Methanol boils at ${temperature} there, at ${hPa} hPa.`,
    opened: 'How that is worked out',
    unknown: 'Methanol’s boiling point there shows as you type.',
    uncertain: 'How far it may be off',
    source: 'Source',
  },

  name: {
    help: 'Small letters, digits and hyphens are kept; the rest is turned into them.',
    becomes: (name: string) => `Goes by ${name}.`,
    wrong: 'A letter or a digit at least, please.',
  },

  vessels: {
    title: 'Vessels',
    none: 'No vessel is known yet: one appears with its first reading, or is added here.',
    at: (site: string) => `at ${site}`,
    role: (vessel: string) => `What ${vessel} is`,
    roleLabel: 'What it is',
    inBatch: (batch: string) => `in the batch ${isolated(batch)}`,
    free: 'in no batch',
    methanol: 'methanol may be in it',
    empty: 'It is empty',
    emptyHelp: 'Nothing is left in it, no methanol either: the rules then take it as such.',
    emptySure: 'Yes, it is empty',
    emptied: (vessel: string) => `${vessel} is noted as empty.`,
    saved: (vessel: string, role: string) => `${vessel} is noted as a ${role}.`,
    add: 'Another vessel',
    site: 'Place',
    name: 'Name of the vessel',
    adding: 'Add the vessel',
    cancel: 'Cancel',
  },

  channels: {
    title: 'Channels',
    none: 'No reading has come yet.',
    columns: { channel: 'Channel', means: 'What it is', value: 'Newest', age: 'Age' },
    caption: (vessel: string, site: string) => `${vessel} at ${site}`,
    unsound: 'not trusted: no rule goes by it',
    typed: 'typed in',
    on: 'on',
    off: 'off',
    running: 'running',
    stopped: 'not running',
  },

  thermometers: { title: THERMOMETERS.title },

  devices: {
    title: 'Devices',
    lead: 'What has told of itself under esterwatch/v1/presence/SITE/DEVICE, retained. A reading does not name its device: one named after a vessel (r1-probe) counts as that vessel’s.',
    none: 'No device has told of itself. Readings are taken all the same; but only a device that does can be missed when it is gone.',
    columns: { device: 'Device', said: 'Said last', serves: 'Serves', newest: 'Sent last' },
    here: 'here',
    gone: 'gone',
    since: (time: string) => `since ${time}`,
    anyVessel: (site: string) => `any vessel of ${site}`,
    newest: (what: string, value: string, vessel: string, age: string) =>
      `${vessel}, ${what}: ${value}, ${age} ago`,
    nothing: 'no reading yet',
    notKnown: 'not known',
  },

  refused: {
    title: 'Refused readings',
    mend: 'How to mend it',
    noMend: 'This page does not know the code: load it anew.',
    none: 'None since the start. Everything that came was understood.',
    some: (count: number) => `${many(count, 'message was', 'messages were')} refused since the start.`,
    open: 'Why, and how to mend it',
  },

  own: {
    title: 'Your choices',
    lead: 'Kept in this browser, for whoever uses it.',
    tones: 'Each priority has a tone of its own; try them:',
    soundOff: 'Each priority has a tone of its own: turn the sound on to try them.',
  },

  install: {
    title: 'As an app',
    kept: 'This browser keeps the frame of the page: it opens without the daemon, too, and then says that it is not live. Values are never kept.',
    how: 'Install it from the browser’s menu.',
    install: 'Install',
    starting: 'Looking whether this browser can keep the page …',
    insecure:
      'Not from this address: a browser installs a page only over https, or from the machine itself (127.0.0.1). Everything else works.',
    unsupported: 'This browser keeps no pages. Everything else works.',
    failed: 'This browser refused to keep the page (some do in a private window). Everything else works.',
  },

  link: {
    title: 'Link and daemon',
    live: (age: string) => `Live: heard ${age} ago`,
    notLive: 'Not live',
    test: 'Test the link',
    tested: (ms: string, worst: string) =>
      `Five questions answered: in ${ms} ms as a rule, the slowest in ${worst} ms.`,
    warn: (site: string) => `Send ${site} a test warning`,
    warned: (ms: string) => `The test warning came back to this page after ${ms} ms.`,
    waiting: 'Sent; waiting for it to arrive …',
    lost: 'It has not arrived at this page: the live link does not carry. Load the page anew.',
    rows: {
      ready: 'State',
      store: 'Store',
      waiting: 'Readings not on disk yet',
      broker: 'Broker',
      clock: 'Clock',
      steps: 'Steps of the clock',
      backup: 'Daily copy',
      reach: 'People',
      forward: 'Centre',
      version: 'Version',
    },
    forwarded: (site: string, until: string) => `${site} as of ${until}`,
    notForwarded: (site: string, why: string, until: string | null) =>
      `${site} does not go over (${why})${until === null ? '' : `; it did until ${until}`}`,
    notYetForwarded: (site: string) => `${site}: nothing has gone over yet`,
    reachNobody: 'nobody wants to be told',
    reachWorks: 'some way works, by the newest tries',
    ready: 'ready',
    notReady: (because: string) => `not ready: ${because}`,
    writing: 'is written',
    notWriting: (why: string) => `cannot be written: ${why}. Readings are judged and not kept.`,
    unsealed: (why: string) => `Closed hours are not sealed: ${why}.`,
    noneWaiting: 'none',
    oldestWaiting: (age: string) => `the oldest for ${age}`,
    embedded: (at: string) => `its own, at ${at}`,
    thisMachineOnly: 'devices on other machines do not reach it there',
    outside: 'another program’s',
    connected: 'connected',
    notConnected: 'cannot be reached: no reading comes',
    clockHere: (time: string) => `${time}, the same as this device’s`,
    clockOff: (time: string, apart: string) => `${time}: ${apart} off this device’s clock`,
    clockDemo: (time: string) => `${time}, of the demonstration`,
    noSteps: 'none since the start',
    stepsSome: (count: number, size: string) => `${many(count, 'step', 'steps')}, the last by ${size}`,
    noBackup: 'not asked for in the configuration',
    backupNone: 'none since the start yet',
    backupLast: (time: string) => `last made ${time}`,
    backupFailed: (why: string) => `the newest try failed: ${why}`,
  },
} as const;

export const FIRST_START = {
  title: 'First start',
  lead: 'Four steps, about two minutes. Nothing said here is final: all of it can be changed under Set-up.',
  done: 'done',
  later: 'Leave it for later',
  place: {
    title: 'The place',
    why: 'How high it lies: methanol boils earlier higher up, about 5 °C (9 °F) at 1,600 m (5,250 ft).',
    barometer: (hPa: string) =>
      `A barometer says ${hPa} hPa. Many say what it would be at sea level, and methanol boils earlier higher up: say how high the place lies, too.`,
    name: 'What the place is called',
    save: 'That is the place',
    done: (site: string, temperature: string) => `${site}: methanol boils at ${temperature} there.`,
  },
  vessel: {
    title: 'The vessel',
    name: 'What the vessel is called',
    save: 'That is the vessel',
    wait: 'Comes after the place.',
    done: (vessel: string, role: string) => `${vessel}, a ${role}.`,
  },
  reading: {
    title: 'A first reading',
    wait: 'Comes after the vessel.',
    how: 'Send one to this daemon, from a shell or as the device will:',
    here: 'The broker is reached from the daemon’s own machine only; README says how to open it to others.',
    outside: 'The daemon reads another broker: put its name in place of BROKER.',
    copy: 'Copy the line',
    copied: 'Copied.',
    notCopied: 'Marked: copy it from there.',
    waiting: 'Waiting for a reading: this ticks itself when it comes.',
    byHand: 'No sensor: type readings in by hand',
    done: (vessel: string, what: string, value: string, time: string, from: string | undefined) =>
      `It works. ${vessel}: ${what} ${value}, read at ${time}${from === undefined ? '' : `, ${from}`}.`,
    sentBy: (sender: string) => `sent by ${sender}`,
    right: 'Is that what another thermometer says, or your hand? Then it is the right probe, in °C.',
    onTo: (vessel: string) => `On to the page of ${vessel}`,
  },
  refused: {
    title: 'Something came and was not taken in',
    lastAt: (count: number, time: string) =>
      count === 1 ? `At ${time}.` : `${count} times, last at ${time}.`,
  },
  warning: {
    title: 'A test warning',
    wait: 'Comes after the reading.',
    why: 'It goes the way of a real one, from the daemon to every page that is open. Nothing is wrong.',
    send: 'Send a test warning',
    again: 'Send it again',
    waiting: 'Sent; waiting for it to arrive …',
    arrived: (time: string) => `It arrived at ${time}.`,
    heard: 'Sound is on: did you hear two tones?',
    silent: 'Sound is off. With it on two tones come, too:',
    seen: 'I have seen it',
  },
} as const;
