import { z } from 'zod';

/** What `GET /api/v1/batches/:id/balance` takes and answers, and what a record says of it. kg, L at 20 °C. */

const number = z.number();
const maybe = number.nullable();

/** What stands in a balance, by the names of what is missing. */
export const BALANCED = [
  'oil',
  'methanol',
  'catalyst',
  'sulphuric-acid',
  'water-in',
  'fuel',
  'glycerol',
  'water-out',
  'methanol-recovered',
] as const;

const amountSchema = z.object({
  kg: maybe,
  litres: maybe.describe('At 20 °C; null of a solid, and where it is not known'),
  from: z
    .enum(['weighed', 'measured', 'drained', 'moved', 'noted', 'drawn', 'planned', 'none', 'missing'])
    .describe(
      'By scales, by volume, by the tap, as moved to another vessel, with the washes, as drawn from lots and batches; as planned where nobody noted it; none: 0; missing: null',
    ),
  entries: z.array(z.string()).describe('The entries that it is made of'),
});
export type Amount = z.infer<typeof amountSchema>;

export const balanceSchema = z.object({
  in: z.object({
    oil: amountSchema,
    methanol: amountSchema,
    catalyst: amountSchema,
    sulphuricAcid: amountSchema,
    water: amountSchema.describe('With which the fuel was washed'),
  }),
  out: z.object({
    fuel: amountSchema,
    glycerol: amountSchema.describe('The layer, with all that is in it'),
    water: amountSchema.describe('Off the oil, and wash water'),
    methanolRecovered: amountSchema,
  }),
  inKg: maybe,
  outKg: maybe,
  unaccountedKg: maybe.describe(
    'In less out, to the milligram: lost, or wrongly noted; below 0 where more came out',
  ),
  unaccountedPercent: maybe.describe('Of what went in'),
  missing: z
    .array(z.object({ what: z.enum(BALANCED), says: z.string() }))
    .describe('What has to be noted for it to add up'),
  notes: z.array(z.string()).describe('What was taken for granted'),
  methanol: z
    .object({
      inKg: maybe,
      reactedKg: maybe.describe('An estimate: the plan’s, by the oil'),
      reactedKgLow: maybe,
      reactedKgHigh: maybe,
      recoveredKg: maybe,
      notRecoveredKg: maybe.describe('Left in fuel and glycerol, or lost'),
    })
    .describe('Where the methanol is'),
});
export type Balance = z.infer<typeof balanceSchema>;

export const yieldSchema = z.object({
  oilL: maybe,
  fuelL: maybe,
  litresPerLitre: maybe.describe('Fuel by oil'),
  kgPerKg: maybe.describe('Fuel by oil'),
  planned: z
    .object({
      fuel: z.enum(['crude', 'washed']).describe('What it is held against: washed where it was washed'),
      litres: number,
      litresLow: number,
      litresHigh: number,
      percent: maybe.describe('Of the litres planned'),
      lies: z.enum(['below', 'within', 'above']).nullable().describe('By the bounds of the plan'),
    })
    .nullable()
    .describe('Null where a batch is older than plans'),
  earlier: z
    .object({
      finished: number.int().describe('The site’s last finished batches opened before this one, ten at most'),
      known: number.int().describe('Those of them that say how much oil and fuel'),
      median: maybe,
      least: maybe,
      most: maybe,
    })
    .describe('Litres of fuel by litre of oil'),
});
export type Yield = z.infer<typeof yieldSchema>;

export const PRICES = ['oilPerL', 'methanolPerL', 'catalystPerKg'] as const;

// Not coerced: nothing at all would be a price of 0.
const price = z
  .string()
  .regex(/^\d{1,9}(\.\d{1,9})?$/, { error: 'has to be a decimal number from 0 on, as 1.25' })
  .transform(Number)
  .optional();
export const pricesSchema = z.strictObject({ oilPerL: price, methanolPerL: price, catalystPerKg: price });
export type Prices = z.infer<typeof pricesSchema>;

export const costSchema = z.object({
  perL: maybe.describe('Of fuel, in the money of the prices'),
  total: maybe,
  missing: z.array(z.enum([...PRICES, 'oil', 'methanol', 'catalyst', 'fuel'])),
  says: z.array(z.string()).describe('The arithmetic'),
});
export type Cost = z.infer<typeof costSchema>;

export const batchBalanceSchema = z.object({
  batch: z.string(),
  balance: balanceSchema,
  yield: yieldSchema,
  cost: costSchema,
});

export const yearsQuerySchema = z.strictObject({ site: z.string().optional() });

export const yearsSchema = z.object({
  years: z
    .array(
      z.object({
        year: number.int().describe('UTC'),
        madeL: number.describe('Fuel of the batches that were finished in it, but what others drew of it'),
        usedL: number,
        givenAwayL: number,
        finished: number.int(),
        rejected: number.int(),
        void: number.int(),
        finishedWithoutFuel: number.int().describe('Of those finished: not in madeL, nobody noted how much'),
      }),
    )
    .describe('Years in which something was, ascending'),
});
export type Year = z.infer<typeof yearsSchema>['years'][number];
