import { z } from 'zod';
import { batchBalanceSchema, yearsSchema } from '../../../shared/wire/balance.ts';
import { type Batch, batchSchema } from '../../../shared/wire/batch.ts';
import { type BatchEntry, entrySchema } from '../../../shared/wire/entries.ts';
import { type Draw, type DrawBody, drawSchema } from '../../../shared/wire/lots.ts';
import type { Moved } from '../../../shared/wire/names.ts';
import { call, segment } from '../../api.ts';

/** What the pages on batches ask of the daemon, and tell it. */

const batchPath = (id: string, rest: string): string => `batches/${segment(id)}/${rest}`;

const listSchema = z.object({ batches: z.array(batchSchema), others: z.number() });

export const getBatches = (query: Readonly<Record<string, string>>): Promise<z.infer<typeof listSchema>> =>
  call(listSchema, `batches?${new URLSearchParams(query)}`);

export const getYears = async (): Promise<z.infer<typeof yearsSchema>['years']> =>
  (await call(yearsSchema, 'years')).years;

/** `at` is the reader's own local time, as a field for it gives it. */
export interface Said {
  by?: string;
  at?: string;
}

export const noteEntry = (
  batch: string,
  body: Said & { what: object; vessel?: string; corrects?: { entry: string; reason: string } },
): Promise<BatchEntry> => call(entrySchema, batchPath(batch, 'entries'), 'POST', body);

export const sendPicture = (
  batch: string,
  picture: Blob,
  query: Record<string, string>,
): Promise<BatchEntry> =>
  call(entrySchema, batchPath(batch, `photographs?${new URLSearchParams(query)}`), 'POST', picture);

export const pictureHref = (batch: string, entry: string): string =>
  `/api/v1/${batchPath(batch, `photographs/${segment(entry)}`)}`;

export const recordHref = (batch: string, query: Record<string, string>): string =>
  `/api/v1/${batchPath(batch, `record?${new URLSearchParams(query)}`)}`;

export const labelHref = (batch: string, query: Record<string, string>): string =>
  `/api/v1/${batchPath(batch, `labels?${new URLSearchParams(query)}`)}`;

export const drawFrom = (batch: string, body: DrawBody): Promise<Draw> =>
  call(drawSchema, batchPath(batch, 'draws'), 'POST', body);

export const undoDraw = (batch: string, draw: string, body: { reason: string; by?: string }): Promise<Draw> =>
  call(drawSchema, batchPath(batch, `draws/${segment(draw)}/undo`), 'POST', body);

export const moveLiquid = (
  batch: string,
  body: Said & { from: string; to: string; litres: number; what: Moved },
): Promise<Batch> => call(batchSchema, batchPath(batch, 'move'), 'POST', body);

export const getBalance = (
  batch: string,
  prices: Record<string, string>,
): Promise<z.infer<typeof batchBalanceSchema>> =>
  call(batchBalanceSchema, batchPath(batch, `balance?${new URLSearchParams(prices)}`));
