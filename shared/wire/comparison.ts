import { z } from 'zod';
import { bucketsSchema, missingSchema } from './api.ts';
import { stage } from './parts.ts';

/** What `GET /api/v1/batches/compare` takes and answers: two batches laid over each other. */

const number = z.number();
const time = z.iso.datetime({ precision: 3 });
const minutes = number.describe('From the beginning of the aligned stage; before it, below 0');

export const comparisonQuerySchema = z.strictObject({
  a: z.string(),
  b: z.string(),
  align: stage.optional().describe('Its first beginning is minute 0; `react` by default, else `dose`'),
});

const seriesSchema = bucketsSchema.omit({ t: true, stepMs: true }).extend({
  vessel: z.string(),
  channel: z.string(),
  minutes: z.array(number).describe('Start of each bucket that has readings, ascending'),
  stepMinutes: number,
});
export type ComparedSeries = z.infer<typeof seriesSchema>;

const sideSchema = z.object({
  batch: z.string(),
  name: z.string(),
  site: z.string(),
  stage: stage.describe('Where it is, or how it ended'),
  alignedAt: time,
  stages: z.array(z.object({ stage, vessel: z.string(), minutes })),
  series: z
    .array(seriesSchema)
    .describe(
      'Liquid temperature and what tells of mixing, a vessel after the other, 500 points each at most',
    ),
  creditedReactionMinutes: number.describe('Of the last pass'),
  creditedSettleHours: number,
  washes: number.int(),
  tests: z
    .array(
      z.object({ test: z.string(), passed: z.boolean().nullable(), says: z.string().nullable(), minutes }),
    )
    .describe('As they stand; null where nothing is to be passed'),
  deviations: z.array(
    z.object({ stage, minutes, by: z.string(), reason: z.string(), missing: missingSchema }),
  ),
  alarms: z.array(z.object({ alarm: z.string(), count: number.int() })),
});
export type ComparedBatch = z.infer<typeof sideSchema>;

export const MISSABLE = [
  'stage',
  'washes',
  'test',
  'test-passed',
  'reaction-minutes',
  'settle-hours',
  'condition',
] as const;

const missedSchema = z.object({
  of: z.enum(['a', 'b']),
  what: z.enum(MISSABLE),
  says: z.string(),
  facts: z
    .object({
      stage: stage.optional(),
      test: z.string().optional(),
      condition: z.string().optional(),
      has: number.optional(),
      needs: number.optional().describe('What is wanted, or what the other had'),
    })
    .describe('What the sentence is made from, so that a page can say it in its own words'),
});
export type Missed = z.infer<typeof missedSchema>;

export const comparisonSchema = z.object({
  align: stage,
  a: sideSchema,
  b: sideSchema,
  missed: z.array(missedSchema).describe('What one of them lacks and the other had'),
});
