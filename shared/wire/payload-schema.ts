import { z } from 'zod';
import { parseWireTimeMs } from './time.ts';

/** One reading as a device sends it in JSON: what documents are made from, and what the parser is held to. */
export const readingPayloadSchema = z.strictObject({
  value: z.number(),
  at: z
    .union([z.string(), z.number()])
    .refine((at) => parseWireTimeMs(at) !== undefined)
    .optional(),
  seq: z.number().int().min(0).max(Number.MAX_SAFE_INTEGER).optional(),
  unit: z.string().optional(),
});
