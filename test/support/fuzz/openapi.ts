import fc from 'fast-check';
import type { Random } from '../../../simulator/random.ts';
import { below, chance, pick } from './mutations.ts';

/** What is used of a schema in an OpenAPI 3.1 document. */
export interface Schema {
  type?: string;
  enum?: readonly unknown[];
  const?: unknown;
  anyOf?: readonly Schema[];
  oneOf?: readonly Schema[];
  properties?: Record<string, Schema>;
  required?: readonly string[];
  additionalProperties?: boolean | Schema;
  items?: Schema;
  minItems?: number;
  maxItems?: number;
  minLength?: number;
  maxLength?: number;
  pattern?: string;
  format?: string;
  minimum?: number;
  maximum?: number;
  exclusiveMinimum?: number;
}

export interface Operation {
  method: string;
  path: string;
  parameters: readonly { in: 'path' | 'query'; name: string; required?: boolean; schema: Schema }[];
  /** By media type. */
  body: Record<string, { schema: Schema }> | null;
}

interface Document {
  paths: Record<
    string,
    Record<string, { parameters?: Operation['parameters']; requestBody?: { content: Operation['body'] } }>
  >;
}

export const operationsOf = ({ paths }: Document): Operation[] =>
  Object.entries(paths).flatMap(([path, methods]) =>
    Object.entries(methods).map(([method, { parameters = [], requestBody }]) => ({
      method: method.toUpperCase(),
      path,
      parameters,
      body: requestBody?.content ?? null,
    })),
  );

/** A value for a field of this name that means something to the daemon, where there is one. */
export type Known = (field: string, random: Random) => unknown;

/** A value that a schema allows, as far as it says so; `known` is asked for texts first. */
export function sampleOf(schema: Schema, random: Random, known: Known, field = ''): unknown {
  const choices = schema.anyOf ?? schema.oneOf;
  if (choices !== undefined) return sampleOf(pick(random, choices), random, known, field);
  if (schema.enum !== undefined) return pick(random, schema.enum);
  if ('const' in schema) return schema.const;
  switch (schema.type) {
    case 'object':
      return objectOf(schema, random, known);
    case 'array': {
      const { minItems = 0, maxItems = 10 } = schema;
      const length = minItems + below(random, Math.min(3, maxItems - minItems) + 1);
      return Array.from({ length }, () => sampleOf(schema.items ?? {}, random, known, field));
    }
    case 'string':
      return known(field, random) ?? textOf(schema, random);
    case 'number':
    case 'integer': {
      const number = numberOf(schema, random);
      return schema.type === 'integer' ? Math.round(number) : number;
    }
    case 'boolean':
      return chance(random, 0.5);
    case 'null':
      return null;
    default:
      return known(field, random) ?? {};
  }
}

function objectOf({ properties = {}, required = [] }: Schema, random: Random, known: Known): object {
  const isNeeded = new Set(required);
  return Object.fromEntries(
    Object.entries(properties)
      .filter(([name]) => isNeeded.has(name) || chance(random, 0.4))
      .map(([name, schema]) => [name, sampleOf(schema, random, known, name)]),
  );
}

function numberOf({ minimum, exclusiveMinimum, maximum }: Schema, random: Random): number {
  const least = minimum ?? exclusiveMinimum ?? -1000;
  const most = maximum ?? least + 2000;
  // Where it is allowed, more often small than as large as may be, and sometimes at the very end.
  const share = pick(random, [0, 1, random(), random() ** 8, random() ** 20]);
  return least + (most - least) * share;
}

const SAMPLES = 30;
const samples = new Map<string, readonly string[]>();

function textOf({ format, pattern, minLength = 0, maxLength = 40 }: Schema, random: Random): string {
  if (format === 'date-time') return new Date(1_700_000_000_000 + below(random, 1e11)).toISOString();
  if (format === 'date') return new Date(1_700_000_000_000 + below(random, 1e11)).toISOString().slice(0, 10);
  if (format === 'email') return 'ada@example.invalid';
  if (format === 'base64url') return 'A'.repeat(maxLength);
  if (format === 'uri') return 'http://127.0.0.1:9/';
  if (pattern === undefined)
    return 'x'.repeat(minLength + below(random, Math.min(maxLength - minLength, 20) + 1));
  let texts = samples.get(pattern);
  if (texts === undefined) {
    texts = fc.sample(fc.stringMatching(new RegExp(pattern)), { numRuns: SAMPLES, seed: 1 });
    samples.set(pattern, texts);
  }
  return pick(random, texts);
}
