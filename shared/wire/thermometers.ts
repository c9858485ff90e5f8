import { z } from 'zod';
import { pressureHPa } from '../plan/request.ts';
import { isoTimeOut, name, person, reason, wireTime } from './parts.ts';

/** Checks of thermometers: bodies and answers of the HTTP API. */

/** No thermometer that is to be corrected shows more in either bath, °C. */
const readC = z
  .number()
  .min(-50)
  .max(150)
  .describe(
    'What was read in the bath, °C, as it is shown here: with the correction that stands, if one does',
  );

export const checkBodySchema = z
  .strictObject({
    ice: z.strictObject({ readC }).optional(),
    boiling: z
      .strictObject({
        readC,
        pressureHPa: pressureHPa.optional().describe('Station pressure; what the site goes by, by default'),
      })
      .optional(),
    due: z.iso.date().optional().describe('To be checked again by this day (UTC); in 12 months by default'),
    at: wireTime.optional().describe('When it was in the baths; it corrects from when it is noted'),
    by: person.optional(),
    readUnder: wireTime
      .nullable()
      .optional()
      .describe(
        '`noted` of the check that stood when the numbers were read; null: none did. Left out: that which stands',
      ),
    anyway: z.strictObject({ reason }).optional().describe('Where it is far off, and yet this is so'),
  })
  .refine(({ ice, boiling }) => ice !== undefined || boiling !== undefined, {
    error: 'ice, boiling or both',
  });
export type CheckBody = z.infer<typeof checkBodySchema>;

export const withdrawBodySchema = z.strictObject({ reason, by: person.optional() });

/** One bath of a check as it is kept, °C. */
const checkedPointSchema = z.object({
  readC: z.number().describe('As it was shown here'),
  sentC: z.number().describe('What the thermometer had sent'),
  trueC: z.number().describe('What the bath was'),
});
export type CheckedPoint = z.infer<typeof checkedPointSchema>;

export const checkSchema = z.object({
  site: name,
  vessel: name,
  channel: name,
  at: isoTimeOut,
  noted: isoTimeOut.describe('What arrived later is corrected'),
  by: z.string(),
  ice: checkedPointSchema.nullable(),
  boiling: checkedPointSchema.extend({ pressureHPa: z.number() }).nullable(),
  due: z.iso.date(),
  deviation: z
    .object({
      reason: z.string(),
      missing: z.array(z.object({ what: z.string(), has: z.number(), needs: z.number() })),
    })
    .nullable()
    .describe('Why so large an error was kept'),
  ended: z
    .object({ at: isoTimeOut, by: z.string(), reason: z.string().nullable().describe('Null: checked anew') })
    .nullable(),
});
export type Check = z.infer<typeof checkSchema>;

export const thermometerSchema = z.object({
  site: name,
  vessel: name,
  channel: name,
  check: checkSchema.nullable().describe('That corrects it now'),
  overdue: z.boolean().describe('Whether the day by which it was to be checked again is over'),
  water: z
    .object({ pressureHPa: z.number(), boilingC: z.number() })
    .nullable()
    .describe('At what water boils here now; null while neither altitude nor pressure was stated'),
});
export type Thermometer = z.infer<typeof thermometerSchema>;

export const checksSchema = z.object({ checks: z.array(checkSchema).describe('The newest first') });
