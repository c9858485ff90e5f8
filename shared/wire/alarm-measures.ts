import { z } from 'zod';
import { PRIORITIES } from './names.ts';
import { name } from './parts.ts';

/** What `GET /api/v1/alarms/measures` takes and answers; apart from the rest, since the page has no use for it. */

const isoTime = z.iso.datetime({ precision: 3 });
const count = z.number().int();
const percent = z.number().min(0).max(100);
const which = { site: name, vessel: name, alarm: z.string() };

export const alarmMeasuresQuerySchema = z.strictObject({
  from: z.string().optional().describe('ISO 8601 UTC or epoch ms; 30 days before `to` by default'),
  to: z.string().optional().describe('ISO 8601 UTC or epoch ms; now by default'),
});

export const alarmMeasuresSchema = z.object({
  from: isoTime.describe('As asked, or when the record begins where that is later'),
  to: isoTime,
  days: z.number().describe('Length of the time looked at'),
  complete: z.boolean().describe('False where there was too much to look at: then `from` was moved, too'),
  alarms: count.describe(
    'How often people were told: raised, graver, back from the shelf, no longer explained',
  ),
  notTold: z
    .object({ explained: count, lateAndOver: count })
    .describe('Raised and kept, and nobody was told; in no other count'),
  perDay: z.object({
    mean: z.number(),
    highest: z.object({ day: z.iso.date(), count }).nullable(),
    counts: z.array(z.object({ day: z.iso.date().describe('UTC'), count })),
  }),
  perTenMinutes: z.object({
    mean: z.number(),
    highest: z.object({ at: isoTime, count }).nullable(),
    floodPercent: percent.describe('Share of the 10-minute spans with more than 10 alarms'),
  }),
  byPriority: z.record(z.enum(PRIORITIES), z.object({ count, percent: percent.nullable() })),
  mostFrequent: z.object({
    percent: percent.nullable().describe('Share of these together'),
    alarms: z.array(z.object({ ...which, count, percent })),
  }),
  longestStanding: z.array(
    z.object({ ...which, id: z.string(), at: isoTime, clearedAt: isoTime.nullable(), hours: z.number() }),
  ),
  stale: z
    .object({ alarms: count, mostOnOneDay: count })
    .describe('Standing for more than 24 h at some time of the range'),
  chattering: z
    .array(z.object({ ...which, most: count.describe('The most raisings in 60 s') }))
    .describe('Raised at least 3 times in 60 s'),
  targets: z.array(
    z.object({
      measure: z.string().describe('The field above that it is for'),
      is: z.enum(['at-most', 'under', 'about', 'at-least']),
      value: z.number(),
      manageable: z.number().nullable().describe('The most that a person can deal with, where it is given'),
      note: z.string().nullable(),
      source: z.string(),
    }),
  ),
});
export type AlarmMeasures = z.infer<typeof alarmMeasuresSchema>;
