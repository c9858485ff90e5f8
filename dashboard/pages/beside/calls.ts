import type { z } from 'zod';
import { comparisonSchema } from '../../../shared/wire/comparison.ts';
import { call } from '../../api.ts';

export type Comparison = z.infer<typeof comparisonSchema>;

/** Two whole batches are read and worked out, ms. */
const PATIENCE_MS = 60_000;

export const compare = (query: { a: string; b: string; align?: string }): Promise<Comparison> =>
  call(comparisonSchema, `batches/compare?${new URLSearchParams(query)}`, 'GET', undefined, {
    patienceMs: PATIENCE_MS,
  });
