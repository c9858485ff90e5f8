import type { Right } from '../../shared/wire/session.ts';

/** A right by what it allows. */
export const RIGHT_WORDS: Readonly<Record<Right, string>> = {
  look: 'sees everything',
  work: 'notes what is done and acknowledges',
  keep: 'sets up limits, people and devices',
};

/** Signing in, and who is let in. */
export const SIGN_IN = {
  title: 'Sign in',
  lead: 'The vessels show once you are signed in. Watching and warning go on meanwhile.',
  signedOut: (name: string) => `${name} is signed out.`,
  nowWanted: 'Somebody was set up: from now on everybody signs in.',
  nowWantedBy: (name: string) => `${name} is set up. From now on everybody signs in, you too.`,
  changed: 'Your passphrase is another now. Sign in with it.',
  name: 'Name',
  passphrase: 'Passphrase',
  submit: 'Sign in',
  wrong: 'Name and passphrase do not belong together.',
  tooMany: 'Too many wrong tries.',
  again: (seconds: number) => `You can try again in ${seconds} s.`,
  now: 'You can try again now.',
  forgotten: 'No passphrase, or forgotten?',
  forgottenHelp: 'Whoever sets up people can give you a new one. Whoever has the daemon’s own machine, too:',
  forgottenLine: 'npx esterwatch person add NAME --rights look,work,keep',
} as const;

export const PASSPHRASE = {
  show: 'Show',
  help: '12 characters or more: a few words that do not belong together are kept in mind best. Not the name, nothing that anybody tries first.',
} as const;

const days = (count: number): string => `${count} ${count === 1 ? 'day' : 'days'}`;

export const PEOPLE = {
  title: 'Who is let in',
  lead: 'People who sign in, scripts that hold a token, devices that may publish.',
  loading: 'Fetching …',
  cancel: 'Leave it',
  save: 'Save',
  you: 'you',
  rightsLegend: 'Rights',
  lacks: (right: string) => `You can look at this; changing it is for whoever ‘${right}’.`,
  lacksMore: (right: string) => `The people, and devices that may publish, are for whoever ‘${right}’.`,

  people: {
    title: 'People',
    nobody:
      'Nobody is set up: whoever is on this machine sees and does everything, and nobody signs in. Once somebody is set up, everybody has to sign in, on every phone and screen that shows these pages.',
    first:
      'The first must be one who ‘sets up limits, people and devices’: nobody could set up the others otherwise. Keep the passphrase well.',
    add: 'Set up somebody',
    addFirst: 'Set up the first, and have everybody sign in',
    name: 'Name, as it is noted beside what they do',
    passphrase: 'Their passphrase',
    adding: 'Set up',
    added: (name: string) => `${name} can sign in.`,
    taken: (name: string) => `${name} is set up already: change them in the list.`,
    nameWrong: 'A name of 1 to 80 characters on one line, please.',
    onlyKeeper: 'The only one who sets up people: this right stays until somebody else has it, too.',
    rights: 'Change what they may',
    passphraseNew: 'New passphrase',
    passphraseHelp: 'Wherever they are signed in, they are signed out.',
    changed: (name: string) => `Changed: ${name}.`,
    remove: 'Remove',
    removeTitle: (name: string) => `Remove ${name}?`,
    removeHelp: 'They are signed out everywhere, and their tokens end. What they did stays in the record.',
    removeSelf: 'This is you: you are signed out at once.',
    removed: (name: string) => `${name} is removed.`,
  },

  own: {
    title: 'Your passphrase',
    open: 'Take another passphrase',
    old: 'Passphrase until now',
    next: 'New passphrase',
    help: 'You are signed out everywhere, here too, and sign in with the new one.',
    wrong: 'The passphrase until now is another.',
  },

  tokens: {
    title: 'Tokens for scripts',
    lead: 'A script, a plotter or a counter of measures that asks without a person sends a token. It may no more than you may, and ends with you.',
    none: 'None yet.',
    may: (rights: string, end: string) => `${rights}; ends ${end}`,
    ended: (rights: string, end: string) => `${rights}; ended ${end}`,
    of: (name: string, person: string) => `${name} of ${person}`,
    make: 'Make a token',
    name: 'What it is for',
    days: 'Good for how many days',
    daysWrong: (most: number) => `A whole number from 1 to ${most}, please.`,
    making: 'Make it',
    taken: (name: string) => `You have a token ${name} already: remove it first.`,
    made: (name: string, count: number) => `Token ${name}, good for ${days(count)}`,
    header: 'As the script sends it',
    remove: 'Remove',
    removeTitle: (name: string) => `Remove the token ${name}?`,
    removeHelp: 'The script that holds it is refused from then on.',
    removed: (name: string) => `The token ${name} is removed.`,
  },

  devices: {
    title: 'Devices that may publish',
    nobody: 'None is set up: whatever reaches the daemon’s broker may publish.',
    first:
      'As soon as one is set up, all others are cut off at once, those that send readings now, too, until each has a name and a password of its own. Do it between two batches.',
    firstCheck: 'All others may be cut off now',
    lead: 'Only these may publish, each with its own name and password.',
    anySite: 'any place',
    forSite: (site: string) => `for ${site}`,
    forAny: 'for any place',
    add: 'Set up a device',
    name: 'Name of the device',
    site: 'Publishes for',
    otherSite: 'a place not known yet',
    siteName: 'Name of the place',
    adding: 'Set up',
    taken: (name: string) => `${name} is set up already.`,
    made: (name: string) => `Device ${name}`,
    user: 'MQTT user name',
    password: 'MQTT password',
    another: 'New password',
    anotherTitle: (name: string) => `A new password for ${name}?`,
    anotherHelp: 'It is cut off until the new one is typed into it.',
    remove: 'Remove',
    removeTitle: (name: string) => `Remove ${name}?`,
    removeHelp: 'It is cut off at once, and may publish no more.',
    removeLast:
      'It is the last. Where the broker listens on this machine alone, whatever is on it may publish again.',
    removed: (name: string) => `${name} is removed.`,
  },

  secret: {
    once: 'Shown this once: it is kept nowhere in clear. Copy it now.',
    done: 'I have it',
  },

  noted: {
    title: 'What was noted',
    open: 'Signed in, refused, changed: the newest',
    none: 'Nothing yet. It is noted with a place, as soon as one is known.',
    signedIn: (who: string, from: string) => `${who} signed in, from ${from}`,
    signedOut: (who: string) => `${who} signed out`,
    refused: (who: string, from: string) => `Refused: a wrong passphrase for ${who}, from ${from}`,
    tooMany: (from: string) => `Turned away after too many tries, from ${from}`,
    tooManyAt: (who: string, from: string) => `Turned away after too many tries, as ${who}, from ${from}`,
    refusedUnknown: (from: string) => `Refused: a name that nobody has, from ${from}`,
    person: (by: string, name: string, may: string) => `${by} set up ${name}: ${may}`,
    personGone: (by: string, name: string) => `${by} removed ${name}`,
    token: (by: string, name: string, may: string) => `${by} made the token ${name}: ${may}`,
    tokenGone: (by: string, name: string) => `${by} removed the token ${name}`,
    device: (by: string, name: string, may: string) => `${by} set up the device ${name}: ${may}`,
    forwarder: (by: string, name: string, may: string) => `${by} let ${name} forward ${may}`,
    forwarderGone: (by: string, name: string) => `${by} does not let ${name} forward any more`,
    deviceGone: (by: string, name: string) => `${by} removed the device ${name}`,
  },

  /** By the code of what the daemon refuses. */
  problems: {
    'nobody-keeps': 'One person at least has to be one who ‘sets up limits, people and devices’.',
    'person-unknown': 'Nobody of that name is set up any more.',
    'publisher-unknown': 'No device of that name is set up any more.',
    'token-unknown': 'There is no such token any more.',
    'passphrase-weak':
      'That passphrase is soon guessed: shorter than 12 characters, among the first that anybody tries, or little more than the name.',
  } as Readonly<Record<string, string>>,
} as const;
