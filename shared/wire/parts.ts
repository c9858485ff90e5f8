import { z } from 'zod';
import { NAME_PATTERN, STAGES } from './names.ts';
import { parseWireTimeMs } from './time.ts';

/** Parts that the schemas of the wire are made of. */

/** Of a site, a vessel, a channel or a device. */
export const name = z.string().regex(NAME_PATTERN);
/** As the daemon writes times. */
export const isoTimeOut = z.iso.datetime({ precision: 3 });
/** As it takes them. */
export const wireTime = z
  .union([z.string(), z.number()])
  .refine((time) => parseWireTimeMs(time) !== undefined, { error: 'not ISO 8601 UTC or epoch milliseconds' });
export const person = z.string().trim().min(1).max(80);
export const reason = z.string().trim().min(1).max(1000);
export const stage = z.enum(STAGES);
