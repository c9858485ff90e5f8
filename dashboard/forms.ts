import type { TemperatureUnit } from '../shared/units/temperature.ts';
import {
  decimal,
  fromUnit,
  parseNumber,
  toUnit,
  type VolumeUnit,
  volumeFromUnit,
  volumeToUnit,
} from './units.ts';

/** Forms that are written as tables: what a person typed becomes the body of a request, and back. Pure. */

export interface FieldSpec {
  /** Its place in the body; `titration.mL` lies in `titration`, which is left out where its first field is empty. */
  name: string;
  label: string;
  /** `numbers` are several runs of one measurement; volumes and temperatures are typed in the reader's unit. */
  is: 'number' | 'numbers' | 'volume' | 'temperature' | 'text' | 'secret' | 'choice' | 'yes-no' | 'date';
  unit?: string;
  /** Of a choice: what stands in the body, and what is read. */
  options?: Readonly<Record<string, string>>;
  optional?: boolean;
  /** What stands there before anything was typed, as it would be typed. */
  start?: string;
  help?: string;
  /** Told without its label where the whole is told in a line. */
  bare?: boolean;
  /** The same, in brackets behind what stands before it. */
  aside?: boolean;
}

export interface Units {
  temperature: TemperatureUnit;
  volume: VolumeUnit;
}

export type Typed = Readonly<Record<string, string>>;
type Value = string | number | boolean | number[];

export const startOf = (fields: readonly FieldSpec[]): Typed =>
  Object.fromEntries(fields.map(({ name, start }) => [name, start ?? '']));

const groupOf = (name: string): string | undefined =>
  name.includes('.') ? name.slice(0, name.indexOf('.')) : undefined;

/** The body of a request, or the first field that cannot be understood. */
export function bodyOf(
  fields: readonly FieldSpec[],
  typed: Typed,
  units: Units,
): { body: Record<string, unknown> } | { wrong: FieldSpec } {
  const body: Record<string, unknown> = {};
  const left = new Set<string>();
  const begun = new Set<string>();
  for (const field of fields) {
    const group = groupOf(field.name);
    const text = (typed[field.name] ?? '').trim();
    if (group !== undefined && !begun.has(group)) {
      begun.add(group);
      if (text === '' && field.optional) left.add(group);
    }
    if (group !== undefined && left.has(group)) continue;
    if (text === '') {
      if (field.optional) continue;
      return { wrong: field };
    }
    const value = understood(field, text, units);
    if (value === undefined) return { wrong: field };
    if (group === undefined) body[field.name] = value;
    else {
      body[group] ??= {};
      (body[group] as Record<string, unknown>)[field.name.slice(group.length + 1)] = value;
    }
  }
  return { body };
}

function understood({ is, options }: FieldSpec, text: string, units: Units): Value | undefined {
  const number = parseNumber(text);
  switch (is) {
    case 'number':
      return number;
    case 'numbers': {
      const numbers = text.split(/[\s;]+/).map(parseNumber);
      if (numbers.some((one) => one === undefined)) return undefined;
      return numbers.length === 1 ? numbers[0] : (numbers as number[]);
    }
    case 'volume':
      return number === undefined ? undefined : volumeFromUnit(number, units.volume);
    case 'temperature':
      return number === undefined ? undefined : fromUnit(number, units.temperature);
    case 'yes-no':
      return text === 'yes' ? true : text === 'no' ? false : undefined;
    case 'choice':
      return Object.hasOwn(options!, text) ? text : undefined;
    case 'date':
      return /^\d{4}-\d\d-\d\d$/.test(text) ? text : undefined;
    case 'text':
    case 'secret':
      return text;
  }
}

/** As it would have been typed: to begin a correction from. */
export const typedFrom = (fields: readonly FieldSpec[], body: object, units: Units): Typed =>
  Object.fromEntries(
    fields.map((field) => {
      const value = valueIn(field, body);
      return [field.name, value === undefined ? '' : typedAs(field, value, units)];
    }),
  );

export function valueIn({ name }: FieldSpec, body: object): Value | undefined {
  let found: unknown = body;
  for (const part of name.split('.')) found = (found as Record<string, unknown> | undefined)?.[part];
  return found as Value | undefined;
}

function typedAs({ is }: FieldSpec, value: Value, units: Units): string {
  if (typeof value === 'boolean') return value ? 'yes' : 'no';
  if (Array.isArray(value)) return value.join(' ');
  if (typeof value === 'string') return value;
  return plain(
    is === 'volume'
      ? volumeToUnit(value, units.volume)
      : is === 'temperature'
        ? toUnit(value, units.temperature)
        : value,
  );
}

/** To six figures, without the noise of binary fractions. */
export const plain = (value: number): string => {
  const text = String(Number(value.toPrecision(6)));
  // Very large and very small numbers would be written with an exponent, which nobody types.
  return text.includes('e') ? decimal(value, 6) : text;
};
