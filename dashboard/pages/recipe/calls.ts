import { z } from 'zod';
import type { PlanRequest } from '../../../shared/plan/request.ts';
import { type Batch, batchSchema } from '../../../shared/wire/batch.ts';
import { type NewTemplateBody, type Template, templateSchema } from '../../../shared/wire/templates.ts';
import { call } from '../../api.ts';

export { getSites } from '../set-up/calls.ts';

export const getTemplates = async (): Promise<Template[]> =>
  (await call(z.object({ templates: z.array(templateSchema) }), 'templates')).templates;

export const keepTemplate = (body: NewTemplateBody): Promise<Template> =>
  call(templateSchema, 'templates', 'POST', body);

export const retireTemplate = (id: string, body: { by?: string }): Promise<Template> =>
  call(templateSchema, `templates/${encodeURIComponent(id)}/retire`, 'POST', body);

export const openBatch = (body: {
  vessel: string;
  name?: string;
  by?: string;
  plan: PlanRequest;
}): Promise<Batch> => call(batchSchema, 'batches', 'POST', body);
