import type { Way } from '../../shared/wire/reach.ts';

export const REACH = {
  lead: 'Who is told what, and by which way. A siren or a lamp listens on MQTT: esterwatch/v1/alarm/SITE/VESSEL.',
  nobody: 'Nobody is told of anything yet: whoever does not look at a page hears nothing.',
  notYou: 'You are told of nothing yet: set up a way to you below.',
  ownOnly: (keep: string) =>
    `Here stands what reaches you, and it is yours to change. Who else is told, and the mail server, are shown to whoever ‘${keep}’.`,
  noServer: 'No mail server is set up: e-mail goes to nobody.',
  noLink:
    'The configuration names no publicUrl: messages have no link to acknowledge by, and say where to look instead.',
  ways: { email: 'E-mail', post: 'Signed POST', push: 'This and other browsers' } satisfies Record<
    Way,
    string
  >,
  untried: 'not tried yet',
  delivered: (when: string) => `arrived ${when}`,
  failed: (when: string, why: string) => `failed ${when}: ${why}`,
  test: (way: string, name: string) => `Test: ${way} to ${name}`,
  testShort: 'Test',
  noWay: 'No way to reach them yet.',
  remove: (name: string) => `Take ${name} out`,
  browser: {
    title: 'Messages to this browser',
    lead: 'They come with the page closed, through the push service of the browser’s maker, encrypted to this browser.',
    allow: (name: string) => `Send messages for ${name} here`,
    done: 'Messages come here now. Send a test.',
    forget: (label: string) => `No more to ${label}`,
    lacks: {
      insecure:
        'Lacking: a secure address. Browsers take messages only from https, with a certificate that they trust, or from the machine itself (127.0.0.1).',
      unsupported: 'Lacking: this browser knows no Web Push (on an iPhone or iPad, install the page first).',
      certificate:
        'Lacking: a certificate that this browser trusts; one that was clicked away is not enough.',
      denied:
        'Lacking: permission. This browser was told to take no messages from here; its settings for this page change that.',
      service:
        'Lacking: the push service of the browser’s maker. It cannot be reached, or this browser has none.',
      starting: 'One moment …',
    },
  },
  person: {
    title: 'A person',
    own: 'How you are reached',
    choose: 'Who',
    other: 'Somebody else …',
    name: 'Name',
    save: 'Keep it',
    saved: (name: string) => `Kept for ${name}.`,
    email: 'E-mail address',
    url: 'Signed POST to',
    urlHelp: 'An SMS gateway, a messenger or a siren; also in your own network. Redirects are not followed.',
    secret: 'Secret to sign with',
    secretHelp: 'At least 8 characters; left empty it stays as it is.',
    least: 'Told from',
    leastOptions: { medium: 'medium on', high: 'high on', critical: 'danger only' },
    vessels: 'Only of',
    vesselsHelp: 'None ticked: of all.',
    from: 'Hours: from',
    to: 'Hours: until',
    hoursHelp: 'As 07:00; empty is always. A danger that nobody would hear of comes anyway.',
    order: 'Place in the order',
    orderHelp: 'Those with 1 are told first, and together.',
    quietLines: 'A line at night and in the morning while it settles',
  },
  general: {
    title: 'Mail server, order and night',
    host: 'Mail server',
    port: 'Port',
    security: 'Encryption',
    securityOptions: { tls: 'TLS (465)', starttls: 'STARTTLS (587)', none: 'none, in your own network' },
    user: 'User name',
    password: 'Password',
    passwordHelp: 'Left empty it stays as it is, for the same server.',
    from: 'Sender address',
    critical: 'A danger goes to the next after, min',
    high: 'A high alarm goes to the next after, min',
    highHelp: 'Empty: it stays with the first.',
    nightFrom: 'Night from',
    nightTo: 'Night until',
    save: 'Keep it',
    saved: 'Kept.',
  },
  wrong: (field: string) => `${field}: this cannot be understood.`,
  wanted: (field: string, wants: string) => `${field}: ${wants}, please.`,
  /** What a field wants, by its place in the body. */
  wants: {
    name: 'a name of 1 to 80 characters on one line',
    email: 'one address, such as name@example.org',
    'post.url': 'an address that begins with http:// or https://',
    'post.secret': '8 to 200 characters, which the receiver knows as well',
    order: 'a whole number from 1 to 20',
    'hours.from': 'a time such as 07:00; both hours, or none',
    'hours.to': 'a time such as 22:00; both hours, or none',
    'smtp.host': 'the name of the server, such as mail.example.org',
    'smtp.port': 'a whole number from 1 to 65,535',
    'smtp.user': 'at most 200 characters',
    'smtp.password': 'at most 500 characters',
    'smtp.from': 'one address, such as shed@example.org',
    'nextAfterMinutes.critical': 'from 0.1 to 1,440 minutes',
    'nextAfterMinutes.high': 'from 0.1 to 1,440 minutes, or nothing',
    'night.from': 'a time such as 22:00',
    'night.to': 'a time such as 07:00',
  } as Readonly<Record<string, string>>,
} as const;

export const ANSWER = {
  title: 'Acknowledge',
  fetching: 'Fetching …',
  to: (name: string) => `This was sent to ${name}. What is answered here is noted in that name.`,
  since: (when: string) => `Since ${when}.`,
  todo: 'What to do:',
  ask: 'Have you seen this, and are you looking after it?',
  yes: (name: string) => `Yes, ${name} looks after it`,
  alone: (vessel: string) =>
    `Whoever works alone at ${vessel} did not answer. Call; then go and look, not alone.`,
  states: {
    answered: 'It has been answered. The link works once.',
    over: 'There is nothing to answer any more: it is over, somebody else answered, or the link is older than a day.',
  },
  look: 'To the vessels',
} as const;

export const ALONE = {
  title: 'Working alone',
  offer: 'I am at the vessel alone: ask me, and tell somebody where I do not answer.',
  name: 'Your name',
  tell: 'Who is told',
  every: 'Ask me every, min',
  answer: 'Wait for my answer, min',
  begin: 'Ask me',
  wrongTell: 'Say who is told.',
  wrong: 'Ask every 1 to 240 minutes, and wait 1 to 60 minutes for the answer, please.',
  running: (by: string, asks: string, tell: string) =>
    `${by} works here alone. Asked again at ${asks}; without an answer ${tell} is told.`,
  /** On a tab in the background. */
  tab: (by: string, vessel: string) => `Are you well, ${by}? – ${vessel}`,
  askedBy: (by: string, vessel: string, tell: string, tells: string) =>
    `${by} at ${vessel}, are you well? Without an answer ${tell} is told at ${tells}.`,
  asked: (tell: string, tells: string) => `Are you well? Without an answer ${tell} is told at ${tells}.`,
  unanswered: (by: string, tell: string) => `${by} has not answered: ${tell} is being told.`,
  well: 'I am well',
  wellAs: (by: string) => `I am ${by}, and well`,
  end: 'I am done here',
} as const;
