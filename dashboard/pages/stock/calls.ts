import { z } from 'zod';
import { type Lot, type LotNoteBody, lotSchema } from '../../../shared/wire/lots.ts';
import { call, segment } from '../../api.ts';

const lotsSchema = z.object({ lots: z.array(lotSchema) });

/** Of one place, or of all. */
export const getLots = async (site?: string): Promise<Lot[]> =>
  (await call(lotsSchema, site === undefined ? 'lots' : `lots?${new URLSearchParams({ site })}`)).lots;

export const takeIn = (body: object): Promise<Lot> => call(lotSchema, 'lots', 'POST', body);

export const noteOfLot = (lot: string, body: Pick<LotNoteBody, 'by'> & { what: object }): Promise<unknown> =>
  call(z.unknown(), `lots/${segment(lot)}/notes`, 'POST', body);
