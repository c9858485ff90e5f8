import { z } from 'zod';
import { OutOfRange } from '../chemistry/formula.ts';
import { type PlanRequest, planRequestSchema } from './request.ts';

/** The longest part of a wrong value, or of a key, that is shown. */
const MOST_SHOWN = 60;

/**
 * A plan request as it came from outside.
 * @throws OutOfRange with the path of the first field that is wrong, its value and what is allowed there.
 */
export function readPlanRequest(json: unknown): PlanRequest {
  const parsed = planRequestSchema.safeParse(json);
  if (parsed.success) return parsed.data;
  const issue = parsed.error.issues[0]!;
  const unknown = issue.code === 'unrecognized_keys' ? issue.keys.slice(0, 1) : [];
  const path = [...issue.path, ...unknown].map(String);
  const value = shown(path.reduce<unknown>(inside, json));
  const allowed =
    issue.code === 'unrecognized_keys'
      ? `left out: the fields there are ${fieldsAt(issue.path.map(String)).join(', ')}`
      : issue.code === 'custom'
        ? issue.message
        : allowedAt(path);
  throw new OutOfRange(path.map(shownKey).join('.') || 'request', value, allowed);
}

const inside = (value: unknown, key: string): unknown =>
  typeof value === 'object' && value !== null && Object.hasOwn(value, key)
    ? (value as Record<string, unknown>)[key]
    : undefined;

function shown(value: unknown): string {
  if (value === undefined) return 'missing';
  // 1e999 is valid JSON, and infinite.
  return cut(typeof value === 'number' ? String(value) : textOf(value));
}

function textOf(value: unknown): string {
  try {
    return JSON.stringify(value);
  } catch {
    return 'nested too deeply to be shown';
  }
}

/** A key as it was sent, on one line whatever it holds. */
const shownKey = (key: string): string => cut(JSON.stringify(key).slice(1, -1));

/** What a terminal would take for a command or a line's end beyond ASCII, which JSON.stringify leaves. */
const UNPRINTABLE = /[\u007f-\u009f\u2028-\u202e\u2066-\u2069]/g;

function cut(text: string): string {
  const plain = text.replace(UNPRINTABLE, (char) => `\\u${char.charCodeAt(0).toString(16).padStart(4, '0')}`);
  return plain.length > MOST_SHOWN ? `${plain.slice(0, MOST_SHOWN)}…` : plain;
}

/** What a number of a request may be at most and at least, by its path: 'oil.volumeL'. */
export function rangeAt(path: string): { least: number; most: number; isOver: boolean } {
  // By the schema itself: the page has no part that writes JSON Schemas.
  let at: z.core.$ZodType = planRequestSchema;
  for (const key of path.split('.')) {
    const inner = unwrapped(at);
    at = (inner instanceof z.ZodArray ? inner.element : (inner as z.ZodObject).shape?.[key]) ?? z.never();
  }
  const inner = unwrapped(at);
  const number = (inner instanceof z.ZodUnion ? inner.options : [inner]).find(
    (one) => one instanceof z.ZodNumber,
  );
  if (number === undefined) throw new Error(`${path} is no number of a plan request`);
  const checks = (number._zod.def.checks ?? []).map((check) => check._zod.def as Bound);
  const least = checks.find(({ check }) => check === 'greater_than');
  const most = checks.find(({ check }) => check === 'less_than');
  return {
    least: least?.value ?? Number.NEGATIVE_INFINITY,
    most: most?.value ?? Number.POSITIVE_INFINITY,
    isOver: least?.inclusive === false,
  };
}

interface Bound {
  check: string;
  value: number;
  inclusive: boolean;
}

function unwrapped(schema: z.core.$ZodType): z.core.$ZodType {
  return schema instanceof z.ZodOptional || schema instanceof z.ZodNullable
    ? unwrapped(schema.unwrap())
    : schema;
}

// ---- what the schema allows, from its JSON Schema ----

type JsonSchema = z.core.JSONSchema.BaseSchema;

/** Made when it is first asked for. */
let requestSchema: JsonSchema | undefined;

function schemaAt(path: readonly string[]): JsonSchema {
  requestSchema ??= z.toJSONSchema(planRequestSchema, { io: 'input' });
  let schema = requestSchema;
  for (const key of path) {
    const next = [schema, ...(schema.anyOf ?? [])].flatMap((one) => {
      const { properties, items } = one as JsonSchema;
      return [/^\d+$/.test(key) && items ? items : properties?.[key]] as JsonSchema[];
    });
    schema = next.find((one) => one !== undefined) ?? {};
  }
  return schema;
}

const fieldsAt = (path: readonly string[]): string[] =>
  [schemaAt(path), ...(schemaAt(path).anyOf ?? [])].flatMap((one) =>
    Object.keys((one as JsonSchema).properties ?? {}),
  );

const allowedAt = (path: readonly string[]): string => allowedBy(schemaAt(path));

function allowedBy(schema: JsonSchema): string {
  if (schema.anyOf) return (schema.anyOf as JsonSchema[]).map(allowedBy).join(' or ');
  if (schema.enum) return schema.enum.join(', ').replace(/, (?=[^,]*$)/, ' or ');
  switch (schema.type) {
    case 'number': {
      const { minimum, exclusiveMinimum, maximum } = schema;
      return exclusiveMinimum === undefined
        ? `a number from ${minimum} to ${maximum}`
        : `a number over ${exclusiveMinimum}, to ${maximum}`;
    }
    case 'array':
      return `a list of ${schema.minItems} to ${schema.maxItems}, each ${allowedBy(schema.items as JsonSchema)}`;
    case 'object':
      return 'an object';
    case 'boolean':
      return 'true or false';
    default:
      return String(schema.type ?? 'left out');
  }
}
