import { z } from 'zod';
import { BASE_KINDS } from '../chemistry/bases.ts';
import { purityPercent, titrationSchema, waterPpm } from '../plan/request.ts';
import { NAME_PATTERN } from './names.ts';
import { person, reason, title } from './parts.ts';
import { parseWireTimeMs } from './time.ts';

/**
 * Lots of what goes into batches, what is noted of them later, and what batches drew: bodies and answers of the
 * HTTP API. Amounts in L or kg, whichever the lot is kept in.
 */

const site = z.string().regex(NAME_PATTERN);
const time = z.iso.datetime({ precision: 3 });
const wireTime = z
  .union([z.string(), z.number()])
  .refine((at) => parseWireTimeMs(at) !== undefined, { error: 'not ISO 8601 UTC or epoch milliseconds' });
const text = z.string().trim().min(1).max(2000);
const said = { at: wireTime.optional(), by: person.optional() };
/** L or kg. Less than a millionth is none: stocks are reckoned to that. */
const amount = z.number().min(1e-6).max(1e6);
const price = z.number().min(0).max(1e6).optional();
const openedOn = z.iso.date().optional();
const soapPpm = z.number().min(0).max(1_000_000).optional();

// ---- lots ----

export const LOT_KINDS = ['oil', 'methanol', 'catalyst', 'dry-bed'] as const;
export type LotKind = (typeof LOT_KINDS)[number];

const oilFields = {
  kind: z.literal('oil'),
  from: text.optional().describe('Where it is from'),
  litres: amount.describe('At the start'),
  filtered: z.boolean().optional(),
  waterPpm: waterPpm.optional(),
  titration: titrationSchema.optional(),
  pricePerL: price,
};
const methanolFields = {
  kind: z.literal('methanol'),
  litres: amount.describe('At the start'),
  purityPercent: purityPercent.optional(),
  openedOn,
  pricePerL: price,
};
const catalystFields = {
  kind: z.literal('catalyst'),
  base: z.enum(BASE_KINDS),
  kg: amount.describe('At the start'),
  purityPercent: purityPercent.optional(),
  openedOn,
  pricePerKg: price,
};
const dryBedFields = {
  kind: z.literal('dry-bed'),
  medium: text.describe('What the bed is of'),
  kg: amount.describe('Of medium'),
  dueAfterL: amount.describe('Litres of fuel after which it is due for change'),
  pricePerKg: price,
};

/** What a lot was at the start. */
export const lotWhatSchema = z.discriminatedUnion('kind', [
  z.strictObject(oilFields),
  z.strictObject(methanolFields),
  z.strictObject(catalystFields),
  z.strictObject(dryBedFields),
]);
export type LotWhat = z.infer<typeof lotWhatSchema>;

const newLotFields = { site, name: title, ...said };
export const newLotBodySchema = z.discriminatedUnion('kind', [
  z.strictObject({ ...newLotFields, ...oilFields }),
  z.strictObject({ ...newLotFields, ...methanolFields }),
  z.strictObject({ ...newLotFields, ...catalystFields }),
  z.strictObject({ ...newLotFields, ...dryBedFields }),
]);
export type NewLotBody = z.infer<typeof newLotBodySchema>;

export const lotsQuerySchema = z.strictObject({ site: site.optional(), kind: z.enum(LOT_KINDS).optional() });

// ---- what is noted of a lot later ----

const noteWhatSchema = z.discriminatedUnion('kind', [
  z.strictObject({ kind: z.literal('titration'), titration: titrationSchema }),
  z.strictObject({ kind: z.literal('water'), ppm: waterPpm }),
  z.strictObject({
    kind: z.literal('count').describe('What is there, whatever was reckoned'),
    litres: amount.or(z.literal(0)).optional(),
    kg: amount.or(z.literal(0)).optional(),
    reason,
  }),
  z.strictObject({
    kind: z.literal('soap').describe('In the fuel before and after a dry bed'),
    beforePpm: soapPpm,
    afterPpm: soapPpm,
  }),
  z.strictObject({
    kind: z.literal('bed-changed').describe('New medium: the litres through it begin anew'),
    kg: amount.optional(),
  }),
  z.strictObject({ kind: z.literal('closed').describe('Used up, or nothing to go on with'), reason }),
  z.strictObject({ kind: z.literal('note'), text }),
]);
export type LotNoteWhat = z.infer<typeof noteWhatSchema>;

/** What can be noted of each kind of lot. */
export const NOTES_OF: Record<LotKind, readonly LotNoteWhat['kind'][]> = {
  oil: ['titration', 'water', 'count', 'closed', 'note'],
  methanol: ['count', 'closed', 'note'],
  catalyst: ['count', 'closed', 'note'],
  'dry-bed': ['soap', 'bed-changed', 'closed', 'note'],
};

export const lotNoteBodySchema = z.strictObject({ what: noteWhatSchema, ...said });
export type LotNoteBody = z.infer<typeof lotNoteBodySchema>;

export const lotNoteSchema = z.object({
  id: z.string(),
  at: time.describe('When it was so'),
  noted: time.describe('When it was noted'),
  by: z.string(),
  what: noteWhatSchema,
});
export type LotNote = z.infer<typeof lotNoteSchema>;

/** What is known of a lot at a time; null where it is not, or has no meaning for its kind. */
export const lotKnownSchema = z.object({
  titration: titrationSchema.nullable(),
  waterPpm: z.number().nullable(),
  filtered: z.boolean().nullable(),
  purityPercent: z.number().nullable(),
});
export type LotKnown = z.infer<typeof lotKnownSchema>;

// ---- what batches drew ----

export const drawBodySchema = z.strictObject({
  lot: z.string().optional(),
  batch: z.string().optional().describe('Instead of a lot: a rejected or failed batch, as oil'),
  litres: amount.optional().describe('Of a dry bed: of fuel through it'),
  kg: amount.optional(),
  ...said,
  anyway: z.strictObject({ reason }).optional(),
});
export type DrawBody = z.infer<typeof drawBodySchema>;

export const undoDrawBodySchema = z.strictObject({ reason, by: person.optional() });

const undoneSchema = z
  .object({ reason: z.string(), by: z.string(), at: time })
  .nullable()
  .describe('Taken back: it counts no more, and stays');

const drawnFields = { litres: z.number().nullable(), kg: z.number().nullable() };

export const drawSchema = z.object({
  id: z.string(),
  kind: z.enum(LOT_KINDS),
  lot: z.string().nullable(),
  fromBatch: z.string().nullable().describe('Instead of a lot'),
  name: z.string().describe('Of the lot or of the batch drawn from'),
  ...drawnFields,
  at: time.describe('When it was so'),
  noted: time.describe('When it was noted'),
  by: z.string(),
  known: lotKnownSchema.describe('What the lot was known to be then'),
  deviation: z
    .object({
      reason: z.string(),
      missing: z.array(z.object({ what: z.string(), has: z.number(), needs: z.number() })),
    })
    .nullable(),
  caution: z
    .string()
    .optional()
    .describe(
      'Of what is worse than the plan counts with, by what was known then; left out where nothing is',
    ),
  undone: undoneSchema,
});
export type Draw = z.infer<typeof drawSchema>;

/** A draw as it is seen from what was drawn from. */
export const wentIntoSchema = z.object({
  batch: z.string(),
  name: z.string(),
  draw: z.string(),
  ...drawnFields,
  at: time,
  by: z.string(),
  undone: undoneSchema,
});
export type WentInto = z.infer<typeof wentIntoSchema>;

// ---- a lot as it is ----

/** A batch as a trial of its oil: one litre in a jar, mostly. */
const triedSchema = z.object({
  batch: z.string(),
  name: z.string(),
  at: time.describe('Of the newest 3/27 that stands'),
  litres: z.number().describe('Of this oil'),
  base: z.enum(BASE_KINDS).nullable(),
  baseGPerL: z
    .number()
    .nullable()
    .describe('Pure base per litre of oil, as planned, the titration’s part included'),
  passed: z.boolean(),
  dropoutMl: z.number(),
});
export type Tried = z.infer<typeof triedSchema>;

export const lotSchema = z.object({
  id: z.string(),
  site,
  name: z.string(),
  kind: z.enum(LOT_KINDS),
  at: time,
  noted: time,
  by: z.string(),
  what: lotWhatSchema.describe('As it was stated at the start'),
  known: lotKnownSchema.describe('Now'),
  newest: z
    .object({
      titration: lotNoteSchema.optional(),
      water: lotNoteSchema.optional(),
      count: lotNoteSchema.optional(),
      soap: lotNoteSchema.optional(),
      'bed-changed': lotNoteSchema.optional(),
      closed: lotNoteSchema.optional(),
      note: lotNoteSchema.optional(),
    })
    .describe('Of each kind of note, by its time'),
  notes: z.array(lotNoteSchema).describe('In the order in which they were noted'),
  litresLeft: z.number().nullable().describe('Below 0: more was drawn than was known of'),
  kgLeft: z.number().nullable(),
  litresThrough: z.number().nullable().describe('Of a dry bed, since it was last changed'),
  due: z.boolean().describe('A dry bed over its limit'),
  closed: z.boolean(),
  wentInto: z.array(wentIntoSchema),
  tried: z.array(triedSchema).describe('Of oil: how it did in each batch with a 3/27'),
});
export type Lot = z.infer<typeof lotSchema>;
