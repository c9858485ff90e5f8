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
/** A name on one line: no control character, no line break of any kind. */
const oneLine = z
  .string()
  .trim()
  .min(1)
  .regex(/^[^\u0000-\u001f\u007f-\u009f\u2028\u2029]*$/, {
    error: 'has a control character or a line break',
  });
/** Who did something. */
export const person = oneLine.max(80);
/** What people call a batch, a lot or a template. */
export const title = oneLine.max(120);
export const reason = z.string().trim().min(1).max(1000);
export const stage = z.enum(STAGES);
