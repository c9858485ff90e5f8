import { z } from 'zod';
import { alarmSchema, bucketsSchema } from './api.ts';
import { balanceSchema, yieldSchema } from './balance.ts';
import { batchSchema } from './batch.ts';
import { drawSchema } from './lots.ts';
import { STAGES } from './names.ts';
import { checkSchema } from './thermometers.ts';

/** The record of a batch as JSON: what it was made by, what happened, and what the rules made of it. */

const time = z.iso.datetime({ precision: 3 });
const number = z.number();
const chainHead = z.object({
  entries: number.describe('The first so many entries of the site that the head stands for'),
  head: z.string().describe('SHA-256, hex: `verify --head` looks it up'),
});

const vesselFiguresSchema = z
  .object({
    vessel: z.string(),
    creditedReactionMinutes: number,
    creditedSettleHours: number,
    conversionPercent: number.describe('An estimate from the kinetics, no test'),
    conversionPercentLow: number,
    conversionPercentHigh: number,
    highestLiquidC: number.nullable(),
    smallestHeadroomC: number.nullable().describe('While methanol was present; null if never'),
  })
  .describe('What the rules make of the whole run today');

const recordChannelSchema = z.object({
  vessel: z.string(),
  channel: z.string(),
  from: time.describe('When the vessel came into the batch'),
  to: time,
  readings: number.describe('How many there are'),
  least: number,
  mean: number,
  most: number,
  line: bucketsSchema.describe('To be drawn; the CSV has every reading'),
});

const recordThermometerSchema = z.object({
  vessel: z.string(),
  channel: z.string(),
  checks: z
    .array(checkSchema)
    .describe('By which its readings were corrected in that time, the earliest first'),
  overdue: z.boolean().describe('Whether it was to be checked again before that time was over'),
});

const recordTestSchema = z.object({
  entry: z.string(),
  test: z.string(),
  at: time,
  by: z.string(),
  says: z.string(),
  passed: z.boolean().nullable(),
  property: z.string().nullable().describe('What the standards limit that it speaks of; null: nothing'),
  value: number.nullable().describe('In the unit of the limits'),
  limits: z.array(
    z.object({
      standard: z.string().describe('With its edition'),
      unit: z.string(),
      least: number.nullable(),
      most: number.nullable(),
      method: z.string().describe('By which alone a value counts'),
      within: z.boolean(),
    }),
  ),
});
export type RecordTest = z.infer<typeof recordTestSchema>;

export const recordSchema = z.object({
  form: z.literal('esterwatch batch record 1'),
  made: time,
  batch: batchSchema,
  from: time.describe('The first that was done to it'),
  to: time.describe('The last, or as far as it has been watched'),
  boilingC: number.nullable().describe('Of methanol, as planned'),
  outcome: z
    .object({ stage: z.enum(STAGES), at: time, by: z.string(), reason: z.string().nullable() })
    .nullable()
    .describe('How it ended, and who said so: of finished fuel who released it; null while it is open'),
  tests: z.array(recordTestSchema).describe('The newest of each test of the fuel, beside the limits'),
  lots: z.array(drawSchema).describe('What it drew, each with what was known of it then'),
  vessels: z.array(vesselFiguresSchema),
  channels: z.array(recordChannelSchema),
  thermometers: z.array(recordThermometerSchema).describe('Of those channels the thermometers'),
  alarms: z.array(alarmSchema).describe('Raised in its time on its vessels, the earliest first'),
  deviations: z.array(
    z.object({
      stage: z.enum(STAGES),
      at: time,
      by: z.string(),
      reason: z.string(),
      missing: z.array(z.object({ what: z.string(), has: number, needs: number })),
    }),
  ),
  balance: balanceSchema.describe('What went in and came out, by what was noted by hand'),
  yield: yieldSchema,
  chain: chainHead.extend({
    sealed: chainHead.nullable().describe('Of what is sealed: can be looked up however far it goes on'),
  }),
});
export type BatchRecord = z.infer<typeof recordSchema>;

/** What a record is given out as; besides, as CSV, every reading. */
export const RECORD_FORMATS = ['json', 'html', 'pdf'] as const;
export type RecordFormat = (typeof RECORD_FORMATS)[number];

export const PAPERS = ['a4', 'letter'] as const;
export type Paper = (typeof PAPERS)[number];
