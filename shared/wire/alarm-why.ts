import { z } from 'zod';
import { resolvedWatchPlanSchema } from '../plan/watch-plan.ts';
import { alarmSchema } from './api.ts';

/** What `GET /api/v1/alarms/:id` answers; apart from the rest, since only one page asks. */
export const alarmWhySchema = z.object({
  alarm: alarmSchema,
  batch: z
    .object({ id: z.string(), name: z.string() })
    .nullable()
    .describe('Whose vessel it was when the alarm was raised; its run can be played'),
  plan: resolvedWatchPlanSchema.describe('What the rule went by: the batch’s frozen plan, else the defaults'),
});
export type AlarmWhy = z.infer<typeof alarmWhySchema>;
