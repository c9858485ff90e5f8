import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { z } from 'zod';
import { planAnswerSchema } from '../../shared/plan/answer.ts';
import { CAUTION_CODES } from '../../shared/plan/caution-codes.ts';
import { computePlan } from '../../shared/plan/compute.ts';
import { readPlanRequest } from '../../shared/plan/read-request.ts';
import { planRequestSchema } from '../../shared/plan/request.ts';
import { resolvePlanRequest } from '../../shared/plan/resolve.ts';
import { LIMIT_DEFAULTS } from '../../shared/rules/limits.ts';

/** docs/plan.md is written by hand: what the schemas have must stand in it. */
const page = readFileSync(new URL('../../docs/plan.md', import.meta.url), 'utf8');

/** Cells of the tables between a heading and the next of the same depth, without the head. */
function rowsUnder(heading: string): string[][] {
  const [, after = ''] = page.split(`\n${heading}\n`);
  const [depth] = heading.split(' ');
  return after
    .split(new RegExp(`^#{2,${depth!.length}} `, 'm'))[0]!
    .split('\n')
    .filter((line) => line.startsWith('| `'))
    .map((line) =>
      line
        .slice(1, -1)
        .split('|')
        .map((cell) => cell.trim()),
    );
}

const named = (cell: string | undefined): string => cell?.replaceAll('`', '') ?? '';

type Schema = z.core.JSONSchema.BaseSchema;

/** Every field of a schema by its path, and the alternatives that it may be. */
function fieldsOf(schema: Schema, path = ''): Map<string, Schema[]> {
  const fields = new Map<string, Schema[]>();
  for (const alternative of alternativesOf(schema)) {
    const inner = alternative.items ? alternativesOf(alternative.items as Schema) : [alternative];
    for (const { properties = {} } of inner) {
      for (const [key, field] of Object.entries(properties)) {
        const name = path === '' ? key : `${path}.${key}`;
        fields.set(name, alternativesOf(field as Schema));
        for (const [deeper, found] of fieldsOf(field as Schema, name)) fields.set(deeper, found);
      }
    }
  }
  return fields;
}

const alternativesOf = (schema: Schema): Schema[] =>
  schema.anyOf ? (schema.anyOf as Schema[]).flatMap(alternativesOf) : [schema];

const isGroup = (alternatives: readonly Schema[]): boolean =>
  alternatives.some(({ properties }) => properties !== undefined);

const num = (value: number): string => value.toLocaleString('en-US').replace('-', '−');

/** What the page has to say of a field that may be this. */
function mayBe(schema: Schema): string {
  if (schema.enum) return schema.enum.join(', ');
  if (schema.type === 'number') {
    const { minimum, exclusiveMinimum, maximum } = schema;
    const least = typeof exclusiveMinimum === 'number' ? `over ${num(exclusiveMinimum)}` : num(minimum!);
    return `${least} to ${num(maximum!)}`;
  }
  if (schema.type === 'null') return 'null';
  if (schema.type === 'array') return `a list of ${schema.minItems} to ${schema.maxItems}`;
  if (schema.type === 'boolean') return 'true, false';
  if (schema.properties?.nearMarginC) return `each ${mayBe(schema.properties.nearMarginC as Schema)}`;
  return schema.type === 'object' ? 'an object' : '';
}

describe('the request', () => {
  const rows = new Map(rowsUnder('## The request').map((row) => [named(row[0]), row]));
  const all = fieldsOf(z.toJSONSchema(planRequestSchema, { io: 'input' }));
  // An object that only holds fields needs no row; one that may be null does.
  // The limits have a table of their own, and one row for all of them.
  const wanted = [...all].filter(
    ([name, alternatives]) =>
      !name.startsWith('watch.limits.') &&
      (name === 'watch.limits' || !isGroup(alternatives) || alternatives.length > 1),
  );

  test('every field stands there with all that it may be', () => {
    expect(wanted.length).toBeGreaterThan(20);
    for (const [name, alternatives] of wanted) {
      const said = rows.get(name)?.[3];
      for (const alternative of alternatives) expect(said, name).toContain(mayBe(alternative));
      expect(said?.includes('null'), name).toBe(alternatives.some(({ type }) => type === 'null'));
    }
  });

  test('no field stands there that is not taken', () => {
    const fields = [...rows.keys()].filter((name) => !(name in LIMIT_DEFAULTS));
    expect(fields.filter((name) => !all.has(name))).toEqual([]);
  });

  test('every default is the one that is filled in', () => {
    const asked = { oil: { titration: { mL: 1, titrant: 'NaOH' as const } } };
    const { watch } = computePlan(asked);
    const filledIn: unknown = { ...resolvePlanRequest(asked), watch };
    let compared = 0;
    for (const [name, alternatives] of wanted) {
      const value = name.split('.').reduce<unknown>((inside, key) => {
        const one: unknown = Array.isArray(inside) ? inside[0] : inside;
        return (one as Record<string, unknown> | undefined)?.[key];
      }, filledIn);
      const isGiven = name === 'oil.titration.mL' || name === 'oil.titration.titrant';
      if (isGiven || isGroup(alternatives) || typeof value === 'object' || value === undefined) continue;
      // The titrant's purity is said in words.
      if (name === 'oil.titration.purityPercent') continue;
      const said = typeof value === 'number' ? num(value) : String(value);
      expect(rows.get(name)?.[4]?.split(/[ ,;:]/)[0], name).toBe(said);
      compared += 1;
    }
    expect(compared).toBeGreaterThan(15);
  });

  test('the base doses and purities of both catalysts are the ones that are filled in', () => {
    const of = (catalyst: 'NaOH' | 'KOH', kind: 'soybean' | 'used') =>
      resolvePlanRequest({ catalyst: { kind: catalyst }, oil: { kind } }).catalyst;
    const short = (value: number) => String(Number(value.toPrecision(3)));
    const doses = (catalyst: 'NaOH' | 'KOH') =>
      `${short(of(catalyst, 'soybean').baseGPerL)}, used oil ${short(of(catalyst, 'used').baseGPerL)} (${catalyst})`;
    expect(rows.get('catalyst.baseGPerL')?.[4]).toBe(`${doses('NaOH')}; ${doses('KOH')}`);
    const purity = (catalyst: 'NaOH' | 'KOH') => `${of(catalyst, 'soybean').purityPercent} (${catalyst})`;
    expect(rows.get('catalyst.purityPercent')?.[4]).toBe(`${purity('NaOH')}, ${purity('KOH')}`);
  });

  test('every limit stands there with its default', () => {
    const limits = rowsUnder('### Limits').map(([name, value]) => [named(name), value]);
    expect(limits).toEqual(Object.entries(LIMIT_DEFAULTS).map(([name, value]) => [name, num(value)]));
  });
});

test('every field of the answer stands there, marked where it has bounds, and no other', () => {
  const all = fieldsOf(z.toJSONSchema(planAnswerSchema));
  const isBound = (name: string) => /(Low|High)$/.test(name) && all.has(name.replace(/(Low|High)$/, ''));
  const ofRequest = new Set(rowsUnder('## The request').map(([name]) => named(name)));
  const wanted = [...all]
    .map(([name]) => name)
    .filter((name) => !isBound(name) && name !== 'watch.chemistry')
    .filter((name) => !(name.startsWith('watch.') && ofRequest.has(name)));
  const found = rowsUnder('## The answer');
  expect(found.map(([name]) => named(name)).sort()).toEqual(wanted.sort());
  for (const [name, bounds] of found) {
    expect(bounds, named(name)).toBe(all.has(`${named(name)}Low`) ? 'yes' : '');
  }
});

test('every caution stands there, the gravest first', () => {
  expect(rowsUnder('## Cautions').map(([code]) => named(code))).toEqual([...CAUTION_CODES]);
});

test.for(['## Used oil with KOH', '## A jar'])(
  'the example under ‘%s’ is what the command answers',
  (heading) => {
    const example = page.split(`\n${heading}\n`)[1]!;
    const asked = JSON.parse(/echo '(\{[^']*\})' \| npx esterwatch plan\n```/.exec(example)![1]!);
    const shown = JSON.parse(/```json\n(.*?)```/s.exec(example)![1]!);
    const { workings, ...answer } = computePlan(readPlanRequest(asked));
    const field = shown.workings?.[0].fields[0];
    const opened = workings.filter(({ fields }) => fields.includes(field));
    expectShown({ ...answer, workings: opened }, shown);
  },
);

test('the refusal shown is what the command says', () => {
  const [, asked, said] = /\$ echo '(.*)' \| npx esterwatch plan\nesterwatch: (.*)\n/.exec(page)!;
  expect(() => readPlanRequest(JSON.parse(asked!))).toThrow(said);
});

/** What is shown is a part of what there is, with numbers as they are or to four digits. */
function expectShown(actual: unknown, shown: unknown, path = ''): void {
  if (typeof shown === 'number' && typeof actual === 'number') {
    expect([actual, Number(actual.toPrecision(4))], path).toContain(shown);
  } else if (Array.isArray(shown)) {
    expect(actual, path).toHaveLength(shown.length);
    for (const [i, one] of shown.entries()) expectShown((actual as unknown[])[i], one, `${path}[${i}]`);
  } else if (typeof shown === 'object' && shown !== null) {
    for (const [key, value] of Object.entries(shown))
      expectShown((actual as Record<string, unknown>)[key], value, `${path}.${key}`);
  } else expect(actual, path).toBe(shown);
}
