import { z } from 'zod';
import { PRESSURE_FROM } from '../engine/boiling-history.ts';
import { alarmSchema, bucketsSchema } from './api.ts';
import { name, stage } from './parts.ts';

/** What a vessel went through in a time: what lies beside its readings on one time axis. */

const time = z.iso.datetime({ precision: 3 });

export const rangeQuerySchema = z.strictObject({
  from: z.string().optional().describe('ISO 8601 UTC or epoch ms; an hour before `to` by default'),
  to: z.string().optional().describe('ISO 8601 UTC or epoch ms; now by default'),
});

export const boilingQuerySchema = rangeQuerySchema.extend({
  points: z.coerce
    .number()
    .int()
    .min(1)
    .max(10_000)
    .optional()
    .describe('At most so many buckets (default 500)'),
});

export const boilingSchema = bucketsSchema.extend({
  from: z
    .array(z.enum(PRESSURE_FROM))
    .describe('Which pressure each is from: the vessel’s own, a barometer’s, a stated one, or sea level’s'),
});

/** What people did, and what the daemon says of itself. */
export const DEEDS = [
  'batch-opened',
  'stage',
  'moved',
  'entry',
  'draw',
  'acknowledge',
  'shelve',
  'site-stated',
  'vessel-emptied',
  'thermometer-checked',
  'thermometer-check-withdrawn',
  'started',
] as const;
export type Deed = (typeof DEEDS)[number];

export const deedSchema = z.object({
  at: time,
  by: z.string(),
  what: z.enum(DEEDS),
  batch: z.string().nullable(),
  stage: stage.nullable().describe('The stage that began; null of anything else'),
  entry: z.string().nullable().describe('What kind of entry it is; null of anything else'),
  alarm: z.string().nullable().describe('Id of the alarm that was acknowledged or shelved'),
  reason: z.string().nullable().describe('What was written beside it, and why somebody went on early'),
});
export type DeedMark = z.infer<typeof deedSchema>;

export const timelineSchema = z.object({
  channels: z.array(name).describe('Channels of the vessel that have readings'),
  batches: z
    .array(
      z.object({
        batch: z.string(),
        name: z.string(),
        from: time,
        to: time.nullable().describe('When the vessel was done with it; null while it is there'),
        reactionTemperatureC: z.number(),
        lowestStirrerSpeed: z.number().nullable(),
        lowestPumpFlow: z.number().nullable(),
      }),
    )
    .describe('Batches that were in the vessel, at any time, the newest first: the newest 200'),
  stages: z
    .array(z.object({ stage, batch: z.string(), from: time, to: time.nullable() }))
    .describe('Stages that touch the range, ascending; null: it lasts'),
  alarms: z
    .array(alarmSchema)
    .describe('That stood at any moment of the range, ascending: of very many the gravest, then the newest'),
  deeds: z.array(deedSchema).describe('In the range, ascending: of very many the newest'),
  more: z.boolean().describe('Whether there are more alarms or deeds in the range than are listed'),
});
export type Timeline = z.infer<typeof timelineSchema>;
