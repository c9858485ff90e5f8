import { z } from 'zod';
import { planNumbersSchema } from '../plan/answer.ts';
import { planRequestSchema } from '../plan/request.ts';
import { resolvedWatchPlanSchema } from '../plan/watch-plan.ts';
import { missingSchema } from './api.ts';
import { entrySchema } from './entries.ts';
import { drawSchema, wentIntoSchema } from './lots.ts';
import { MOVED } from './names.ts';
import { isoTimeOut, name, person, reason, stage, title, wireTime } from './parts.ts';

/** Batches as the HTTP API takes and gives them. Apart from `api.ts`: who only looks at the vessels does not load it. */

export const newBatchBodySchema = z.strictObject({
  vessel: z.string(),
  plan: planRequestSchema.optional(),
  soapLimitPpm: z
    .number()
    .positive()
    .max(10_000)
    .optional()
    .describe('Of soap in washed fuel; by default as much as holds the metal that the standards take'),
  template: z.string().optional().describe('A template, over which `plan` is laid'),
  like: z.string().optional().describe('A batch, over whose request `plan` is laid'),
  name: title.optional(),
  at: wireTime.optional(),
  by: person.optional(),
});

export const stageBodySchema = z.strictObject({
  stage,
  vessel: z.string().optional(),
  at: wireTime.optional(),
  by: person.optional(),
  again: z.boolean().optional(),
  seen: z
    .array(z.string().max(40))
    .max(40)
    .optional()
    .describe(
      'What was looked at and found so. Given, the rest that is to be seen is missing; left out, it is noted as not seen',
    ),
  reason: reason.optional().describe('Why it is rejected or void'),
  stagesKnown: z
    .number()
    .int()
    .nonnegative()
    .optional()
    .describe('How many stages the batch had for who decides this: 409 where somebody went on meanwhile'),
  anyway: z.strictObject({ reason }).optional(),
});

export const batchStageSchema = z.object({
  stage,
  vessel: name,
  at: isoTimeOut,
  by: z.string(),
  deviation: z.object({ reason: z.string(), missing: missingSchema }).nullable(),
  seen: z.array(z.string()).describe('Looked at and found so'),
  unseen: z.array(z.string()).describe('To be looked at, and nobody said that they did'),
  reason: z.string().nullable().describe('Why it is rejected or void'),
});

export const moveBodySchema = z.strictObject({
  from: z.string(),
  to: z.string(),
  litres: z.number().positive().max(1e6),
  what: z.enum(MOVED),
  at: wireTime.optional(),
  by: person.optional(),
});

export const moveSchema = z.object({
  at: isoTimeOut,
  by: z.string(),
  from: name,
  to: name,
  litres: z.number(),
  what: z.enum(MOVED),
});

export const batchSchema = z.object({
  id: z.string(),
  name: z.string(),
  site: name,
  vessel: name.describe('Where it is: the vessel that it was opened on, or went on in'),
  stage,
  opened: isoTimeOut,
  open: z.boolean(),
  stages: z.array(batchStageSchema),
  moves: z.array(moveSchema).describe('Liquid that went to another vessel'),
  glycerolIn: z.array(name).describe('Vessels that hold its glycerol now'),
  soapLimitPpm: z.number().describe('Of soap in washed fuel: the person’s own'),
  entries: z.array(entrySchema).describe('What people noted by hand, in the order in which they did'),
  draws: z.array(drawSchema).describe('What went into it, in the order in which it was noted'),
  wentInto: z.array(wentIntoSchema).describe('What other batches drew from it'),
  madeLike: z.string().nullable().describe('The batch that its request was taken over from'),
  template: z.string().nullable().describe('The template that its request was taken over from'),
  plan: resolvedWatchPlanSchema.describe('As frozen at the start: the plan of a replay vessel line'),
  request: planRequestSchema,
  computed: planNumbersSchema
    .nullable()
    .describe('The computed plan, as frozen at the start; null where a batch is older than plans'),
});
export type Batch = z.infer<typeof batchSchema>;

export const batchesQuerySchema = z.strictObject({
  site: z.string().optional(),
  open: z.enum(['true', 'false']).optional(),
  stage: stage.optional().describe('Where it is now'),
  from: z.string().optional().describe('Opened then or later: ISO 8601 UTC or epoch ms'),
  to: z.string().optional().describe('Opened then or earlier: ISO 8601 UTC or epoch ms'),
  text: z.string().max(120).optional().describe('Somewhere in the name, in small letters or capitals'),
  limit: z.coerce
    .number()
    .int()
    .min(1)
    .max(10_000)
    .default(200)
    .describe('The newest so many, and all that are open'),
});
