import { z } from 'zod';
import { PRIORITIES } from './names.ts';
import { isoTimeOut, name, person } from './parts.ts';

/**
 * How people are reached: what each of them wishes, what a signed POST carries, and the answers of the API. Secrets
 * go in and never come out.
 */

export const WAYS = ['email', 'post', 'push'] as const;
export type Way = (typeof WAYS)[number];

// ---- wishes ----

/** Of the day, by the daemon's own clock. */
const timeOfDay = z.string().regex(/^([01]\d|2[0-3]):[0-5]\d$/, 'HH:MM');
const hours = z.strictObject({ from: timeOfDay, to: timeOfDay });
export type Hours = z.infer<typeof hours>;
/** Minutes; more than a day is no warning any more. */
const minutes = z.number().min(0.1).max(1440);
const secret = z.string().min(8).max(200);
const httpUrl = z.url({ protocol: /^https?$/ }).max(2000);

const vesselKey = z.string().regex(/^[a-z0-9][a-z0-9-]{0,39}:[a-z0-9][a-z0-9-]{0,39}$/, 'SITE:VESSEL');

/** What a browser gives out where it takes messages (RFC 8030, RFC 8291). */
export const subscriptionSchema = z.strictObject({
  endpoint: httpUrl,
  keys: z.strictObject({
    p256dh: z.base64url().length(87).describe('The browser’s public key, P-256, uncompressed'),
    auth: z.base64url().length(22),
  }),
  label: z.string().trim().min(1).max(80).describe('Which browser it is, for people'),
});
export type Subscription = z.infer<typeof subscriptionSchema>;

const wished = {
  email: z.email().max(254).nullable().default(null),
  least: z
    .enum(['medium', 'high', 'critical'])
    .default('medium')
    .describe('Less grave alarms are not told; a low one never is'),
  vessels: z.array(vesselKey).max(200).nullable().default(null).describe('Null: all'),
  hours: hours
    .nullable()
    .default(null)
    .describe(
      'Told at these hours only; a critical alarm that nobody would hear of goes to all. Null: always',
    ),
  order: z.number().int().min(1).max(20).default(1).describe('Those of the lowest are told first'),
  quietLines: z.boolean().default(true).describe('A line at night and one in the morning while it settles'),
};

export const wishesBodySchema = z.strictObject({
  ...wished,
  post: z
    .strictObject({ url: httpUrl, secret: secret.optional().describe('Left out: as it was') })
    .nullable()
    .default(null),
});
export type WishesBody = z.infer<typeof wishesBodySchema>;

const reachedPersonSchema = z.strictObject({
  name: person,
  ...wished,
  post: z.strictObject({ url: httpUrl, secret }).nullable().default(null),
  push: z.array(subscriptionSchema).max(10).default([]),
});
export type ReachedPerson = z.infer<typeof reachedPersonSchema>;

const server = {
  host: z.string().trim().min(1).max(253),
  port: z.number().int().min(1).max(65_535),
  security: z
    .enum(['tls', 'starttls', 'none'])
    .describe('tls from the first byte (465), starttls (587), none for a server of one’s own network'),
  user: z.string().min(1).max(200).nullable().default(null),
  from: z.email().max(254),
  ca: z
    .string()
    .max(20_000)
    .nullable()
    .default(null)
    .describe('PEM of a certificate of one’s own to trust beside the usual ones'),
};
const password = z.string().min(1).max(500);
export const smtpSchema = z.strictObject({ ...server, password: password.nullable().default(null) });
export type Smtp = z.infer<typeof smtpSchema>;

const general = {
  nextAfterMinutes: z
    .strictObject({ critical: minutes.default(3), high: minutes.nullable().default(15) })
    .default({ critical: 3, high: 15 })
    .describe('So long after the first try the next in the order are told, where nobody acknowledged'),
  night: hours.default({ from: '22:00', to: '07:00' }),
};

/** So many people may be told of things. */
export const MOST_REACHED = 100;

/** `reach.json` in the data folder. */
export const reachFileSchema = z.strictObject({
  smtp: smtpSchema.nullable().default(null),
  ...general,
  people: z.array(reachedPersonSchema).max(MOST_REACHED).default([]),
});
export type ReachSettings = z.infer<typeof reachFileSchema>;

// ---- the API ----

export const reachBodySchema = z.strictObject({
  smtp: z
    .strictObject({ ...server, password: password.nullable().optional().describe('Left out: as it was') })
    .nullable(),
  ...general,
  by: person.optional(),
});
export type ReachBody = z.infer<typeof reachBodySchema>;

const lastTrySchema = z.object({
  at: isoTimeOut,
  result: z.enum(['delivered', 'failed', 'gone']),
  because: z.string().nullable(),
});
export type LastTry = z.infer<typeof lastTrySchema>;

const wayStatusSchema = z.object({ way: z.enum(WAYS), last: lastTrySchema.nullable() });

export const reachSchema = z.object({
  smtp: z.object({ ...server, hasPassword: z.boolean() }).nullable(),
  nextAfterMinutes: z.object({ critical: z.number(), high: z.number().nullable() }),
  night: hours,
  publicUrl: z.string().nullable().describe('Null: messages have no link'),
  pushKey: z.string().describe('The daemon’s public key for Web Push (VAPID)'),
  people: z.array(
    z.object({
      name: person,
      ...wished,
      post: z.object({ url: z.string(), hasSecret: z.literal(true) }).nullable(),
      push: z.array(z.object({ id: z.string(), label: z.string() })),
      ways: z.array(wayStatusSchema).describe('Those that are set up, with the newest try of each'),
    }),
  ),
  others: z.array(z.string()).describe('People who may sign in and have no way yet'),
});
export type Reach = z.infer<typeof reachSchema>;

export const testWayBodySchema = z.strictObject({ way: z.enum(WAYS), by: person.optional() });
export const testWaySchema = lastTrySchema;

/** Messages that were to be sent, the newest first, with every try. */
export const messagesSchema = z.object({
  messages: z.array(
    z.object({
      id: z.string(),
      at: isoTimeOut,
      site: name,
      to: z.string(),
      about: z.enum(['alarms', 'alone', 'quiet', 'test']),
      alarms: z.array(z.string()).describe('Ids'),
      answered: isoTimeOut.nullable(),
      tries: z.array(lastTrySchema.extend({ way: z.enum(WAYS) })),
    }),
  ),
});

export const reachHealthSchema = z
  .object({ works: z.boolean(), because: z.string().nullable() })
  .nullable()
  .describe('Whether anybody can be reached, by the newest tries; null where nobody wants to be');

// ---- a one-time link ----

export const answerSchema = z.object({
  to: z.string().describe('Who acts, where it is answered'),
  site: name,
  at: isoTimeOut,
  state: z.enum(['open', 'answered', 'over']),
  about: z.enum(['alarms', 'alone']),
  vessels: z.array(name),
  alarms: z.array(
    z.object({
      id: z.string(),
      vessel: name,
      alarm: z.string(),
      priority: z.enum(PRIORITIES),
      at: isoTimeOut,
      because: z.string(),
      todo: z.string(),
    }),
  ),
});
export type Answer = z.infer<typeof answerSchema>;

// ---- working alone ----

export const aloneBodySchema = z.strictObject({
  everyMinutes: z.number().min(1).max(240).default(15),
  answerMinutes: z.number().min(1).max(60).default(3),
  tell: person.describe('Who is told where no answer comes'),
  by: person.optional(),
});
export const aloneByBodySchema = z.strictObject({ by: person.optional() });

export const aloneSchema = z.object({
  site: name,
  vessel: name,
  by: z.string().describe('Who is at the vessel'),
  tell: z.string(),
  everyMinutes: z.number(),
  answerMinutes: z.number(),
  begun: isoTimeOut,
  asks: isoTimeOut.describe('When an answer is asked for next'),
  tells: isoTimeOut.describe('When it is told where none comes'),
  unanswered: z.boolean().describe('None came, and it is being told'),
});
export type Alone = z.infer<typeof aloneSchema>;

// ---- what a signed POST carries ----

export const postedSchema = z
  .object({
    id: z.string().describe('The same in every try: what was received before can be discarded'),
    kind: z.enum(['alarms', 'alone', 'quiet', 'test', 'guard']),
    at: isoTimeOut.describe('When there was something to tell'),
    to: z.string().describe('The person'),
    site: z.string().nullable(),
    priority: z.enum(PRIORITIES),
    title: z.string(),
    short: z
      .string()
      .max(300)
      .describe(
        'All in under 300 characters of the default alphabet of text messages (people’s names may have others)',
      ),
    text: z.string(),
    alarms: z.array(
      z.object({
        id: z.string(),
        vessel: name.nullable().describe('Null: of the site as a whole'),
        alarm: z.string(),
        priority: z.enum(PRIORITIES),
        at: isoTimeOut,
        value: z.number().nullable(),
        limit: z.number().nullable(),
        because: z.string(),
        todo: z.string(),
      }),
    ),
    heldBack: z.array(z.object({ id: z.string(), alarm: z.string(), explainedBy: z.string() })),
    answer: z.string().nullable().describe('Where it can be acknowledged, once'),
  })
  .describe(
    'Signed: header esterwatch-signature is HMAC-SHA-256, hex, over esterwatch-time, a dot and the body',
  );
export type Posted = z.infer<typeof postedSchema>;
