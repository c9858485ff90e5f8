import { z } from 'zod';
import { BASE_KINDS } from '../chemistry/bases.ts';
import { FUEL_PROPERTIES, type FuelProperty } from '../chemistry/fuel-limits.ts';
import { titrationSchema } from '../plan/request.ts';
import { NAME_PATTERN } from './names.ts';
import { person, wireTime } from './parts.ts';

/** What people note by hand of a batch: each kind with what belongs to it. */

const text = z.string().trim().min(1).max(2000);
const amount = z.number().positive().max(1e6);
/** Of an amount that is taken in; less was, once, and is still answered. */
const LEAST_AMOUNT = 1e-6;
const AMOUNTS = ['kg', 'litres', 'waterL', 'fuelMl', 'methanolMl'];

export const WEIGHED = ['oil', 'methanol', 'catalyst', 'sulphuric-acid', 'glycerol', 'fuel'] as const;
export const DRAINED = ['water', 'glycerol', 'wash-water'] as const;
export const MEASURED = ['oil', 'methanol', 'methanol-recovered', 'glycerol', 'fuel', 'water'] as const;
export const HANDED_OUT = ['used', 'given-away'] as const;
export const WASHES = ['mist', 'bubble', 'stirred', 'still', 'dry-bed'] as const;

const noteSchema = z.strictObject({ kind: z.literal('note'), text });
const weighingSchema = z.strictObject({
  kind: z.literal('weighing'),
  what: z.enum(WEIGHED),
  kg: amount.describe('As the scales show it, tared'),
  pass: z
    .number()
    .int()
    .min(1)
    .max(20)
    .optional()
    .describe('Of methanol and catalyst: for which pass, where it is not for the next dose'),
});
const drainedSchema = z.strictObject({ kind: z.literal('drained'), what: z.enum(DRAINED), litres: amount });
const volumeSchema = z.strictObject({
  kind: z.literal('volume'),
  what: z.enum(MEASURED).describe('`water` is water that came off the oil'),
  litres: amount,
  atC: z.number().min(-20).max(100).optional().describe('Its temperature; 20 where it is not said'),
});
const handedOutSchema = z.strictObject({
  kind: z.literal('handed-out').describe('Fuel that left the store, also after the batch ended'),
  use: z.enum(HANDED_OUT),
  litres: amount,
  to: text.optional(),
});
const washSchema = z.strictObject({
  kind: z.literal('wash'),
  method: z.enum(WASHES),
  waterL: amount.optional(),
  emulsion: z.boolean().default(false),
  remedy: text.optional().describe('What was done about an emulsion'),
});
const testSchemas = [
  z.strictObject({
    kind: z.literal('test'),
    test: z.literal('3/27').describe('Fuel in nine parts of methanol: oil that did not react drops out'),
    fuelMl: amount.default(3),
    methanolMl: amount.default(27),
    dropoutMl: z.number().nonnegative().max(1e6),
  }),
  z.strictObject({
    kind: z.literal('test'),
    test: z.literal('shake').describe('With water, shaken: whether it parts clean'),
    partsClean: z.boolean(),
  }),
  z.strictObject({
    kind: z.literal('test'),
    test: z.literal('soap').describe('Titrated with acid to bromophenol blue'),
    acidMl: z.number().nonnegative().max(1000),
    blankMl: z.number().nonnegative().max(1000).default(0),
    acidMolPerL: z.number().min(0.0001).max(1).default(0.01),
    sampleG: z.number().min(0.1).max(1000),
    base: z.enum(BASE_KINDS),
  }),
  z.strictObject({
    kind: z.literal('test'),
    test: z.literal('water'),
    ppm: z.number().nonnegative().max(1e6),
  }),
  z.strictObject({
    kind: z.literal('test'),
    test: z.literal('titration').describe('Of the oil, with a base of known strength'),
    ...titrationSchema.shape,
  }),
  z.strictObject({
    kind: z.literal('test'),
    test: z.literal('laboratory').describe('What a laboratory found, in the unit of EN 14214 or D6751'),
    property: z.enum(Object.keys(FUEL_PROPERTIES) as [FuelProperty, ...FuelProperty[]]),
    value: z.number().min(-1000).max(1e6),
    method: text.optional(),
  }),
  z.strictObject({
    kind: z.literal('test'),
    test: z.literal('freezer').describe('The coldest at which it is still clear'),
    clearAtC: z.number().min(-60).max(60),
  }),
  z.strictObject({
    kind: z.literal('test'),
    test: z.literal('density'),
    kgPerM3: z.number().min(700).max(1300),
    atC: z.number().min(-20).max(100),
  }),
] as const;

/** Media types of pictures that are taken in. */
export const PICTURE_TYPES = ['image/jpeg', 'image/png'] as const;
export type PictureType = (typeof PICTURE_TYPES)[number];
/** Of a picture's width and height, pixels. */
export const MOST_PICTURE_SIDE = 20_000;
/** Of a picture, bytes: 4 MiB. */
export const MOST_PICTURE_BYTES = 4 * 1024 * 1024;

/** What a photograph shows, characters: it comes in the address of a request, which has room for 16 KiB. */
const MOST_PICTURE_TEXT = 1000;

const side = z.number().int().min(1).max(MOST_PICTURE_SIDE);
const photographSchema = z.strictObject({
  kind: z.literal('photograph'),
  text: z.string().max(MOST_PICTURE_TEXT).describe('What it shows; empty where nobody said'),
  type: z.enum(PICTURE_TYPES),
  bytes: z.number().int().min(1).max(MOST_PICTURE_BYTES),
  width: side.describe('Pixels, as they are stored: a picture may say that it is to be turned'),
  height: side,
  sha256: z.string().regex(/^[0-9a-f]{64}$/),
});
export type PhotographWhat = z.infer<typeof photographSchema>;

const saidSchemas = [
  noteSchema,
  weighingSchema,
  drainedSchema,
  volumeSchema,
  handedOutSchema,
  washSchema,
  z.discriminatedUnion('test', testSchemas),
] as const;
const whatSchema = z.discriminatedUnion('kind', [...saidSchemas, photographSchema]);
/** What is noted. */
export type EntryWhat = z.infer<typeof whatSchema>;

/** A photograph comes as what it is, with these beside it. */
export const photographQuerySchema = z.strictObject({
  text: z.string().trim().max(MOST_PICTURE_TEXT).default(''),
  vessel: z.string().regex(NAME_PATTERN).optional().describe('Where it is not the batch’s own'),
  at: z.string().optional().describe('When it was taken, ISO 8601 UTC or epoch ms; now by default'),
  by: person.optional(),
});

export const entryBodySchema = z.strictObject({
  what: z
    .discriminatedUnion('kind', saidSchemas)
    .superRefine((what, context) => {
      for (const [path, value] of Object.entries(what))
        if (AMOUNTS.includes(path) && Number(value) < LEAST_AMOUNT)
          context.addIssue({ code: 'custom', path: [path], message: `has to be ${LEAST_AMOUNT} or more` });
    })
    .describe(`Amounts are ${LEAST_AMOUNT} or more`),
  vessel: z.string().regex(NAME_PATTERN).optional().describe('Where it is not the batch’s own'),
  at: wireTime.optional(),
  by: person.optional(),
  corrects: z
    .strictObject({ entry: z.string(), reason: text })
    .optional()
    .describe('An earlier entry that this one stands for: both stay'),
});
export type EntryBody = z.infer<typeof entryBodySchema>;

const time = z.iso.datetime({ precision: 3 });

/** What follows from an entry by itself, or with the plan. */
export const entryResultSchema = z.object({
  says: z.string().describe('In one line, with the arithmetic'),
  passed: z.boolean().nullable().describe('Null where nothing is to be passed'),
  figure: z.number().nullable().optional().describe('What the arithmetic gave, in the unit that it says'),
});
export type EntryResult = z.infer<typeof entryResultSchema>;

export const entrySchema = z.object({
  id: z.string(),
  vessel: z.string(),
  at: time.describe('When it was so'),
  noted: time.describe('When it was noted'),
  by: z.string(),
  stage: z.string().describe('Of the batch, when it was noted'),
  what: whatSchema,
  result: entryResultSchema.nullable(),
  corrects: z.object({ entry: z.string(), reason: z.string() }).nullable(),
  correctedBy: z.string().nullable().describe('The entry that stands for it now'),
});
export type BatchEntry = z.infer<typeof entrySchema>;
