import { z } from 'zod';
import { planRequestSchema } from '../plan/request.ts';
import { NAME_PATTERN } from './names.ts';
import { person, title } from './parts.ts';

/** Plans that a person uses again and again: bodies and answers of the HTTP API. */

const site = z.string().regex(NAME_PATTERN);
const time = z.iso.datetime({ precision: 3 });

export const newTemplateBodySchema = z.strictObject({
  site,
  name: title,
  plan: planRequestSchema,
  by: person.optional(),
});
export type NewTemplateBody = z.infer<typeof newTemplateBodySchema>;

export const retireBodySchema = z.strictObject({ by: person.optional() });

export const templateSchema = z.object({
  id: z.string(),
  site,
  name: z.string(),
  plan: planRequestSchema,
  at: time,
  by: z.string(),
  retired: z.object({ at: time, by: z.string() }).nullable().describe('No batch is made from it any more'),
});
export type Template = z.infer<typeof templateSchema>;
