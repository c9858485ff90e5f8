import fc from 'fast-check';
import { z } from 'zod';
import { type PlanRequest, planRequestSchema } from '../../../shared/plan/request.ts';

/** Plan requests for properties: any that the schema takes, and those that people send. */

export type JsonSchema = z.core.JSONSchema.BaseSchema;

/** The schema of a request as JSON Schema: the ranges and words that it takes. */
export const REQUEST_SCHEMA: JsonSchema = z.toJSONSchema(planRequestSchema, { io: 'input' });

/** What the schema says of a field by its path, `oil.titration.mL` or `passes.0.sharePercent`. */
export function schemaAt(path: string): JsonSchema | undefined {
  return path.split('.').reduce<JsonSchema | undefined>((schema, key) => {
    const all = schema === undefined ? [] : [schema, ...((schema.anyOf ?? []) as JsonSchema[])];
    return all
      .map(({ properties, items, additionalProperties, propertyNames }) => {
        if (/^\d+$/.test(key)) return items as JsonSchema | undefined;
        const named = ((propertyNames as JsonSchema | undefined)?.enum ?? []).includes(key);
        return (properties?.[key] ?? (named ? additionalProperties : undefined)) as JsonSchema | undefined;
      })
      .find((found) => found !== undefined);
  }, REQUEST_SCHEMA);
}

/** Shares of several passes, that sum to 100 %. */
const passes = fc
  .array(fc.oneof(fc.integer({ min: 1, max: 100 }), fc.double({ min: 1e-9, max: 100, noNaN: true })), {
    minLength: 1,
    maxLength: 10,
  })
  .map((parts) => {
    const sum = parts.reduce((total, part) => total + part, 0);
    return parts.map((part) => ({ sharePercent: Math.min(100, (100 * part) / sum) }));
  });

/** Both ends of a range, anything within, and of a wide one each order of magnitude alike. */
function numbers({ minimum, exclusiveMinimum, maximum }: JsonSchema): fc.Arbitrary<number> {
  const most = maximum as number;
  const least = (minimum ?? exclusiveMinimum) as number;
  const within =
    exclusiveMinimum === undefined ? (value: number) => value : (value: number) => Math.max(value, 1e-9);
  const smallest = Math.max(least, most * 1e-9);
  return fc
    .oneof(
      fc.constantFrom(least, most),
      fc.double({ min: least, max: most, noNaN: true }),
      fc
        .double({ min: Math.log(smallest), max: Math.log(most), noNaN: true })
        .map((log) => Math.min(most, Math.max(least, Math.exp(log)))),
    )
    .map(within);
}

function valuesOf(schema: JsonSchema, path: string): fc.Arbitrary<unknown> {
  if (path === 'passes') return passes;
  if (schema.anyOf) return fc.oneof(...(schema.anyOf as JsonSchema[]).map((one) => valuesOf(one, path)));
  if (schema.enum) return fc.constantFrom(...schema.enum);
  switch (schema.type) {
    case 'number':
      return numbers(schema);
    case 'boolean':
      return fc.boolean();
    case 'null':
      return fc.constant(null);
    case 'array':
      return fc.array(valuesOf(schema.items as JsonSchema, path), { minLength: 1, maxLength: 5 });
    case 'object': {
      const names = (schema.propertyNames as JsonSchema | undefined)?.enum ?? [];
      const named = names.map((name) => [name, schema.additionalProperties as JsonSchema] as const);
      const fields = [...Object.entries((schema.properties ?? {}) as Record<string, JsonSchema>), ...named];
      const record = fc.record(
        Object.fromEntries(fields.map(([name, one]) => [name, valuesOf(one, `${path}${name}`)])),
        { requiredKeys: (schema.required ?? []) as never[] },
      );
      return path === 'site'
        ? record.map((site) => (Object.keys(site).length === 0 ? { altitudeM: 0 } : site))
        : record;
    }
    default:
      throw new Error(`no values for ${path}: ${JSON.stringify(schema)}`);
  }
}

/** Whatever the schema takes, its corners with it; some of them contradict themselves. */
export const anyRequest = valuesOf(REQUEST_SCHEMA, '') as fc.Arbitrary<PlanRequest>;

const OIL_KINDS = [
  'soybean',
  'rapeseed',
  'sunflower',
  'palm',
  'olive',
  'coconut',
  'tallow',
  'lard',
  'used',
] as const;
const number = (min: number, max: number) => fc.double({ min, max, noNaN: true });

/** What a practitioner asks for, every field stated that a property changes. */
export const usualRequest = fc.record({
  oil: fc.record({
    volumeL: number(0.1, 1000),
    volumeAtC: number(15, 60),
    kind: fc.constantFrom(...OIL_KINDS),
    titration: fc.record({
      mL: number(0, 8),
      titrant: fc.constantFrom('NaOH' as const, 'KOH' as const),
    }),
  }),
  methanol: fc.record({ percentOfOilVolume: number(15, 35), startC: number(0, 35) }),
  catalyst: fc.record({ kind: fc.constantFrom('NaOH' as const, 'KOH' as const) }),
  passes,
  site: fc.record({ altitudeM: number(-400, 5000) }),
  reaction: fc.record({ temperatureC: number(20, 60) }),
});
