import { z } from 'zod';
import { altitudeM, pressureHPa } from '../plan/request.ts';
import {
  channelKind,
  LONGEST_CRITICAL_SHELF_MINUTES,
  LONGEST_SHELF_MINUTES,
  PRIORITIES,
  ROLES,
} from './names.ts';
import { isoTimeOut, name, person, reason, stage, wireTime } from './parts.ts';

/**
 * Bodies and answers of the HTTP API and of the live socket: types, validation and the OpenAPI
 * document all come from these schemas.
 */

// ---- parts ----

const finite = z.number();
const priority = z.enum(PRIORITIES);

// ---- sites ----

export const siteBodySchema = z.union([z.strictObject({ altitudeM }), z.strictObject({ pressureHPa })]);
export type SiteBody = z.infer<typeof siteBodySchema>;

// ---- alarms ----

/**
 * What the sentence of an alarm is made from. Temperatures in °C, so that a page can say it in °F.
 * Which are present depends on the rule.
 */
export const alarmFactsSchema = z.record(
  z.string(),
  z.union([z.number(), z.string(), z.boolean(), z.null()]),
);
export type AlarmFacts = z.infer<typeof alarmFactsSchema>;

const alarmFields = {
  at: isoTimeOut.describe('When the condition was met, by the time of the reading'),
  site: name,
  vessel: name,
  alarm: z.string(),
  event: z.enum(['raised', 'cleared']),
  priority,
  late: z.boolean().describe('Raised by a reading that was over 60 s old when it came'),
  value: finite.nullable(),
  limit: finite.nullable(),
  because: z.string().describe('What happened, one sentence, °C'),
  todo: z.string().describe('What to do, and what not to'),
  facts: alarmFactsSchema,
  id: z.string(),
  explainedBy: z
    .string()
    .nullable()
    .describe('Another standing alarm of the vessel, no less grave, that this one follows from'),
  told: z.boolean().describe('Whether anybody is to be told: not explained, not shelved, not late and over'),
};

export const alarmSchema = z.object({
  ...alarmFields,
  clearedAt: isoTimeOut.nullable(),
  standing: z.boolean().describe('Whether the condition still holds'),
  acknowledged: z.object({ by: z.string(), reason: z.string().nullable(), at: isoTimeOut }).nullable(),
  shelved: z
    .object({ by: z.string(), reason: z.string(), until: isoTimeOut })
    .nullable()
    .describe('Put aside until then: it stands, and nobody is told'),
});
export type Alarm = z.infer<typeof alarmSchema>;

export const acknowledgeBodySchema = z.strictObject({ by: person.optional(), reason: reason.optional() });

export const shelveBodySchema = z.strictObject({
  by: person.optional(),
  reason,
  minutes: z
    .number()
    .int()
    .min(1)
    .max(LONGEST_SHELF_MINUTES)
    .describe(`At most ${LONGEST_CRITICAL_SHELF_MINUTES} for a critical alarm`),
});

export const alarmsQuerySchema = z.strictObject({
  standing: z.enum(['true', 'false']).optional(),
  vessel: z.string().optional(),
  alarm: z.string().max(80).optional().describe('Its name; of the history only'),
  from: z.string().optional().describe('Raised then or later: ISO 8601 UTC or epoch ms; of the history only'),
  to: z.string().optional().describe('Raised then or earlier: ISO 8601 UTC or epoch ms; of the history only'),
  limit: z.coerce.number().int().min(1).max(1000).optional(),
});

// ---- sites that another daemon watches ----

/** How old what is shown of a forwarded site is. */
export const forwardedSchema = z.object({
  asOf: isoTimeOut.describe('By its own clock'),
  ageMs: z.number().describe('By the clock here'),
  live: z.boolean(),
});
export type Forwarded = z.infer<typeof forwardedSchema>;

// ---- vessels ----

/** How far a required time is earned. */
const countedSchema = z.object({
  has: z.number(),
  needs: z.number(),
  /** Null where it cannot be said: not in a stage that earns, or nothing is earned at present. */
  enoughAt: isoTimeOut.nullable(),
});

export const vesselSchema = z.object({
  site: name,
  vessel: name,
  role: z.enum(ROLES),
  stage,
  stageSince: isoTimeOut.nullable(),
  batch: z.string().nullable().describe('Id of the open batch this vessel belongs to'),
  batchName: z.string().nullable(),
  untried: z.boolean().describe('True while it has not been in a batch'),
  pressureHPa: z.number(),
  boilingC: z.number(),
  boilingAssumed: z.boolean(),
  liquidC: z.number().nullable().describe('Hottest sound reading in the liquid, °C'),
  headroomC: z.number().nullable().describe('Boiling point less the liquid’s temperature'),
  risingCPerMin: z.number().nullable().describe('Trend of the liquid, °C/min; null with too few readings'),
  toBoiling: z
    .object({ minutes: z.number(), soonestMinutes: z.number(), latestMinutes: z.number().nullable() })
    .nullable()
    .describe('When it boils if the trend goes on, with the band of 90 %; null latest: perhaps never'),
  methanolPresent: z.boolean(),
  mixing: z
    .object({
      channel: z.string(),
      value: z.number(),
      lowest: z.number().nullable(),
      state: z.enum(['at-speed', 'slow', 'stopped']),
    })
    .nullable(),
  planned: z
    .object({
      reactionTemperatureC: z.number(),
      requiredReactionMinutes: z.number(),
      requiredSettleHours: z.number(),
      highestDosingC: z.number(),
      nearBoilingC: z.number(),
    })
    .nullable(),
  counted: z.object({
    reactionMinutes: countedSchema.nullable().describe('Of the batch’s present pass'),
    notCounted: z.array(
      z.object({ minutes: z.number(), why: z.enum(['not-mixed', 'no-readings', 'boiling', 'colder']) }),
    ),
    settleHours: countedSchema.nullable(),
  }),
  dosing: z
    .object({ allowed: z.boolean(), readyInMinutes: z.number().nullable() })
    .nullable()
    .describe('Before methanol is in the vessel: may methoxide go in, and when'),
  readings: z.record(
    z.string(),
    z.object({
      at: isoTimeOut,
      value: z.number(),
      ageMs: z.number(),
      sound: z.boolean(),
      typed: z.boolean(),
    }),
  ),
  alarms: z.array(alarmSchema).describe('Standing, and cleared but not acknowledged; the gravest first'),
  forwarded: forwardedSchema.optional().describe('Where another daemon watches it'),
});
export type Vessel = z.infer<typeof vesselSchema>;

export const readingsQuerySchema = z.strictObject({
  channel: name,
  from: z.string().optional().describe('ISO 8601 UTC or epoch ms; an hour before `to` by default'),
  to: z.string().optional().describe('ISO 8601 UTC or epoch ms; now by default'),
  points: z
    .union([z.literal('raw'), z.coerce.number().int().min(1).max(10_000)])
    .optional()
    .describe('At most so many buckets (default 500), or `raw`'),
  as: z
    .literal('sent')
    .optional()
    .describe('With `points=raw`: as the device sent them, before the correction of its thermometer'),
});

export const csvQuerySchema = readingsQuerySchema.omit({ points: true, as: true });

export const bucketsSchema = z.object({
  t: z.array(z.number()).describe('Start of each bucket that has readings, epoch ms, ascending'),
  min: z.array(z.number()),
  mean: z.array(z.number()),
  max: z.array(z.number()),
  stepMs: z.number(),
});
export type Buckets = z.infer<typeof bucketsSchema>;

export const rawReadingsSchema = z.object({
  t: z.array(z.number()),
  value: z.array(z.number()),
  seq: z.array(z.number().nullable()),
  /** How many readings, of the hours that the range touches, are not kept any more; left out where none. */
  dropped: z.number().int().min(1).optional(),
});
export type RawReadings = z.infer<typeof rawReadingsSchema>;

export const vesselBodySchema = z.strictObject({
  role: z.enum(ROLES).optional(),
  empty: z.literal(true).optional().describe('Nothing is left in it, no methanol either'),
  by: person.optional(),
});

/** No instrument of a channel with a known meaning says more, in any of their units. */
const MOST_KNOWN = 1e6;

export const typedReadingBodySchema = z
  .strictObject({
    channel: name,
    value: finite.describe(`Of a channel with a known meaning from −${MOST_KNOWN} to ${MOST_KNOWN}`),
    at: wireTime.optional(),
    by: person.optional(),
  })
  .superRefine(({ channel, value }, context) => {
    if (channelKind(channel) !== 'other' && Math.abs(value) > MOST_KNOWN)
      context.addIssue({ code: 'custom', path: ['value'], message: 'is more than any instrument says' });
  });
export const typedReadingAnswerSchema = z.object({
  channel: name,
  at: isoTimeOut,
  value: z.number(),
  result: z.enum(['stored', 'duplicate']),
});

// ---- before a stage ----

export const missingSchema = z.array(z.object({ what: z.string(), has: z.number(), needs: z.number() }));
export type Missing = z.infer<typeof missingSchema>;

export const conditionsSchema = z.object({
  stage,
  vessel: name,
  conditions: z.array(
    z.object({
      what: z.string(),
      kind: z.enum(['counted', 'tested', 'seen']),
      met: z.boolean().nullable().describe('Null where nobody has looked or tested yet'),
      has: z.number(),
      needs: z.number(),
    }),
  ),
  cautions: z.array(z.object({ text: z.string(), source: z.string() })),
});

// ---- refused readings ----

export const refusedSchema = z.object({
  refused: z.array(
    z.object({
      topic: z.string(),
      code: z.string(),
      because: z.string(),
      count: z.number(),
      first: isoTimeOut,
      last: isoTimeOut,
      from: z
        .string()
        .nullable()
        .describe(
          'Who sent the last of it, as far as the daemon’s own broker knows: user name, client id, address',
        ),
    }),
  ),
  others: z.number().describe('Refusals on topics beyond those listed'),
});

// ---- live socket ----

export const liveMessageSchema = z.discriminatedUnion('type', [
  z.object({
    type: z.literal('readings'),
    readings: z.array(
      z.object({
        site: name,
        vessel: name,
        channel: name,
        at: isoTimeOut,
        value: z.number(),
        sound: z.boolean(),
      }),
    ),
  }),
  z.object({ type: z.literal('alarm'), ...alarmFields }),
  z.object({
    type: z.literal('stage'),
    at: isoTimeOut,
    site: name,
    vessel: name,
    stage,
    batch: z.string().nullable(),
  }),
  vesselSchema.extend({ type: z.literal('estimate') }),
  z.object({
    type: z.literal('beat'),
    at: isoTimeOut,
    speed: z.number().describe('Daemon seconds a second: 1 but in a demonstration'),
    notKept: z.string().optional().describe('Why readings that come now are judged, and not stored'),
    unreached: z
      .string()
      .optional()
      .describe('Why nobody is told of anything but by pages, though people are set up to be'),
  }),
  z.object({
    type: z.literal('test-warning'),
    at: isoTimeOut,
    site: name,
    by: z.string().describe('Who sent it, to see that warnings arrive: nothing is wrong'),
    mark: z.string().optional().describe('As it was sent with: whoever sent it knows it again'),
  }),
]);
export type LiveMessage = z.infer<typeof liveMessageSchema>;

// ---- problems ----

/** RFC 9457 problem details. */
export const problemSchema = z.looseObject({
  type: z.string(),
  title: z.string(),
  status: z.number(),
  code: z.string(),
  detail: z.string().optional(),
});
