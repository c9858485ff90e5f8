import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { OutOfRange } from '../../../shared/chemistry/formula.ts';
import { readPlanRequest } from '../../../shared/plan/read-request.ts';
import { anyRequest, type JsonSchema, REQUEST_SCHEMA } from './requests.ts';

function refusal(json: unknown): OutOfRange {
  try {
    readPlanRequest(json);
  } catch (error) {
    if (error instanceof OutOfRange) return error;
    throw error;
  }
  throw new Error(`was taken: ${JSON.stringify(json)}`);
}

/** A field of the schema: where it stands, what it may be, and whether null is one of it. */
interface Leaf {
  path: string[];
  schemas: JsonSchema[];
}

function* leavesOf(schema: JsonSchema, path: string[] = []): Generator<Leaf> {
  const alternatives = (schema.anyOf ?? [schema]) as JsonSchema[];
  const object = alternatives.find(({ type }) => type === 'object');
  const list = alternatives.find(({ type }) => type === 'array');
  if (object !== undefined) {
    const names = (object.propertyNames as JsonSchema | undefined)?.enum ?? [];
    const named = names.map((name) => [name, object.additionalProperties] as [string, JsonSchema]);
    const fields = [...Object.entries((object.properties ?? {}) as Record<string, JsonSchema>), ...named];
    for (const [name, inside] of fields) yield* leavesOf(inside, [...path, name]);
  } else if (list !== undefined && alternatives.length === 1) {
    yield* leavesOf(list.items as JsonSchema, [...path, '0']);
  } else {
    yield { path, schemas: alternatives };
  }
}

const LEAVES = [...leavesOf(REQUEST_SCHEMA)];

/** What else has to be there for a request with one field to be valid. */
const BESIDE: Record<string, object> = {
  'oil.titration': { mL: 1, titrant: 'NaOH' },
  site: { altitudeM: 0 },
};

/** A request that holds this value at this path, and else as little as can be. */
function requestWith(path: string[], value: unknown): object {
  const build = (at: number): unknown => {
    if (at === path.length) return value;
    const key = path[at]!;
    if (/^\d+$/.test(key)) return [build(at + 1)];
    return { ...BESIDE[path.slice(0, at).join('.')], [key]: build(at + 1) };
  };
  return build(0) as object;
}

/** As a request comes: through JSON. */
const sent = (json: unknown) => JSON.parse(JSON.stringify(json)) as unknown;

function wrongValues({ schemas }: Leaf): [value: unknown, shown: string][] {
  const number = schemas.find(({ type }) => type === 'number');
  const of = (...types: string[]) => schemas.some((one) => types.includes(one.type as string));
  const below = number === undefined ? [] : [number.minimum ?? number.exclusiveMinimum!].map(Number);
  return [
    ...below.map((least): [number, string] => {
      const value = number!.exclusiveMinimum === undefined ? least - 1 : least;
      return [value, String(value)];
    }),
    ...(number === undefined
      ? []
      : [[Number(number.maximum) + 1, String(Number(number.maximum) + 1)] as [number, string]]),
    ...(number === undefined ? [] : [[1e300, '1e+300'] as [number, string]]),
    ...(of('null') ? [] : [[null, 'null'] as [null, string]]),
    ...(of('boolean') ? [] : [[true, 'true'] as [boolean, string]]),
    ...(of('number') ? [] : [[1, '1'] as [number, string]]),
    ['55C', '"55C"'],
    ['', '""'],
    [{}, '{}'],
    [[], '[]'],
  ];
}

describe('every field of the schema', () => {
  test('there are as many as the request has', () => {
    const paths = LEAVES.map(({ path }) => path.join('.'));
    for (const path of [
      'oil.volumeL',
      'oil.titration.mL',
      'oil.titration.purityPercent',
      'methanol.startC',
      'catalyst.grams',
      'passes.0.sharePercent',
      'site.altitudeM',
      'site.pressureHPa',
      'reaction.temperatureC',
      'vessel.liquidHeightM',
      'watch.lowestPumpFlow',
      'watch.limits.nearMarginC',
    ])
      expect(paths).toContain(path);
  });

  test.for(LEAVES.map((leaf) => [leaf.path.join('.'), leaf] as const))(
    '%s: what is wrong there is refused by its path, its value and what is allowed',
    ([path, leaf]) => {
      for (const [value, shown] of wrongValues(leaf)) {
        const error = refusal(sent(requestWith(leaf.path, value)));
        expect(error, shown).toMatchObject({ code: 'out-of-range', field: path, value: shown });
        const number = leaf.schemas.find(({ type }) => type === 'number');
        const words = leaf.schemas.flatMap((one) => one.enum ?? []);
        if (number !== undefined) {
          expect(error.allowed).toContain(String(number.maximum));
          expect(error.allowed).toContain(String(number.minimum ?? number.exclusiveMinimum));
        }
        for (const word of words) expect(error.allowed).toContain(word);
        expect(error.allowed).not.toMatch(/undefined|object Object/);
        expect(error.message).toBe(`${path} is ${shown}, and has to be ${error.allowed}`);
      }
    },
  );

  test.for(LEAVES.map((leaf) => [leaf.path.join('.'), leaf] as const))(
    '%s: both ends of its range are taken',
    ([, leaf]) => {
      const number = leaf.schemas.find(({ type }) => type === 'number');
      // A single share is 100 %.
      if (number === undefined || leaf.path[0] === 'passes') return;
      const { minimum, exclusiveMinimum, maximum } = number;
      for (const value of [maximum, minimum ?? Number(exclusiveMinimum) + 1e-6]) {
        const request = sent(requestWith(leaf.path, value));
        expect(readPlanRequest(request)).toEqual(request);
      }
    },
  );

  test.for(LEAVES.map((leaf) => [leaf.path.join('.'), leaf] as const))(
    '%s: a near miss of its name is refused',
    ([, leaf]) => {
      const name = leaf.path.at(-1)!;
      // Of a share it is said first that it is missing.
      if (leaf.path[0] === 'passes') return;
      for (const miss of [name.toUpperCase(), `${name}s`, name.slice(0, -1), ` ${name}`]) {
        const path = [...leaf.path.slice(0, -1), miss];
        const error = refusal(requestWith(path, 1));
        expect(error.field).toBe(path.join('.'));
        expect(error.value).toBe('1');
        // It says which names there are.
        expect(error.allowed).toContain(name);
      }
    },
  );

  test('numbers that JSON has not', () => {
    for (const { path, schemas } of LEAVES) {
      if (!schemas.some(({ type }) => type === 'number')) continue;
      for (const value of [Number.NaN, Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY]) {
        expect(refusal(requestWith(path, value))).toMatchObject({
          field: path.join('.'),
          value: String(value),
        });
      }
    }
    expect(refusal(JSON.parse('{"oil":{"volumeL":1e999}}'))).toMatchObject({
      field: 'oil.volumeL',
      value: 'Infinity',
    });
  });
});

describe('parts', () => {
  test.for([null, [], 'x', 5, true, undefined])('%s is no request', (json) => {
    expect(refusal(json)).toMatchObject({ field: 'request', allowed: 'an object' });
  });

  test.for([
    'oil',
    'methanol',
    'catalyst',
    'site',
    'reaction',
    'vessel',
    'watch',
    'oil.titration',
    'watch.limits',
  ])('%s is an object', (path) => {
    for (const wrong of [5, 'x', true, [], [1]]) {
      const error = refusal(requestWith(path.split('.'), wrong));
      expect(error.field).toBe(path);
      expect(error.allowed).toMatch(/^an object/);
    }
    if (path !== 'oil.titration') expect(refusal(requestWith(path.split('.'), null)).field).toBe(path);
  });

  test('a titration wants its millilitres and its titrant', () => {
    expect(refusal({ oil: { titration: { titrant: 'NaOH' } } })).toMatchObject({
      field: 'oil.titration.mL',
      value: 'missing',
    });
    expect(refusal({ oil: { titration: { mL: 1 } } })).toMatchObject({
      field: 'oil.titration.titrant',
      value: 'missing',
      allowed: 'NaOH or KOH',
    });
  });

  test('runs of a titration: 1 to 100, each in range', () => {
    const titrated = (mL: unknown) => ({ oil: { titration: { mL, titrant: 'NaOH' } } });
    expect(readPlanRequest(titrated(Array(100).fill(2)))).toEqual(titrated(Array(100).fill(2)));
    for (const wrong of [[], Array(101).fill(2), [2, -1], [2, '2'], [2, null], [[2]]]) {
      const error = refusal(titrated(wrong));
      expect(error.field).toMatch(/^oil\.titration\.mL(\.[01])?$/);
      expect(error.allowed).toMatch(/a number from 0 to 1000/);
    }
  });

  test('passes: 1 to 10 shares that sum to 100 %', () => {
    const shares = (...percents: unknown[]) => ({
      passes: percents.map((sharePercent) => ({ sharePercent })),
    });
    expect(readPlanRequest(shares(80, 20))).toEqual(shares(80, 20));
    expect(readPlanRequest(shares(33.3, 33.3, 33.4))).toBeDefined();
    for (const wrong of [shares(), shares(50), shares(80, 21), shares(...Array(11).fill(100 / 11))])
      expect(refusal(wrong).field).toBe('passes');
    expect(refusal(shares(80, 21)).allowed).toMatch(/sum to 100 %/);
    expect(refusal(shares(100, 0)).field).toBe('passes.1.sharePercent');
    expect(refusal({ passes: [{ sharePercent: 100, share: 1 }] }).field).toBe('passes.0.share');
    expect(refusal({ passes: {} }).field).toBe('passes');
  });

  test('a site says its altitude, its pressure or both', () => {
    expect(refusal({ site: {} })).toMatchObject({ field: 'site', allowed: 'altitudeM, pressureHPa or both' });
    for (const site of [{ altitudeM: 340 }, { pressureHPa: 973 }, { altitudeM: 340, pressureHPa: 973 }])
      expect(readPlanRequest({ site })).toEqual({ site });
  });
});

describe('hostile', () => {
  test.for(['__proto__', 'constructor', 'prototype', 'toString', 'hasOwnProperty'])(
    'a key %s is refused',
    (key) => {
      for (const [before, after, path] of [
        ['{', '}', key],
        ['{"oil":{', '}}', `oil.${key}`],
        ['{"oil":{"titration":{"mL":1,"titrant":"KOH",', '}}}', `oil.titration.${key}`],
        ['{"passes":[{"sharePercent":100,', '}]}', `passes.0.${key}`],
        ['{"watch":{', '}}', `watch.${key}`],
      ]) {
        const json = JSON.parse(`${before}"${key}":{"volumeL":7}${after}`);
        expect(refusal(json)).toMatchObject({ field: path, value: '{"volumeL":7}' });
      }
    },
  );

  test('the message is one line and short, whatever was sent', () => {
    fc.assert(
      fc.property(
        fc.string({ unit: 'binary', maxLength: 300 }),
        fc.string({ unit: 'binary' }),
        (key, text) => {
          for (const json of [
            { [key]: 1 },
            { oil: { [key]: text } },
            { oil: { kind: text } },
            { oil: text },
          ]) {
            const { message, field } = refusal(json);
            expect(message).not.toMatch(/[\x00-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069]/);
            expect(field.length).toBeLessThan(80);
            expect(message.length).toBeLessThan(1000);
          }
        },
      ),
    );
    expect(refusal({ oil: { 'volume\nL': 5 } }).field).toBe('oil.volume\\nL');
    // A line's end, a terminal's command, a turn of the writing's direction.
    expect(refusal({ oil: { kind: '\u2028\u0085\u009b2J\u202e' } }).value).toBe(
      '"\\u2028\\u0085\\u009b2J\\u202e"',
    );
  });

  test('very much of everything', () => {
    const long = 'x'.repeat(500_000);
    expect(refusal({ oil: { kind: long } }).message.length).toBeLessThan(300);
    expect(refusal({ [long]: 1 }).message.length).toBeLessThan(300);
    expect(refusal({ oil: { titration: { mL: Array(100_000).fill(1), titrant: 'KOH' } } }).field).toBe(
      'oil.titration.mL',
    );
    expect(refusal({ passes: Array(50_000).fill({ sharePercent: 100 }) }).field).toBe('passes');
    const keys = Object.fromEntries(Array.from({ length: 20_000 }, (_, i) => [`k${i}`, i]));
    expect(refusal(keys).field).toBe('k0');
    let deep: unknown = 1;
    for (let i = 0; i < 5000; i++) deep = { oil: deep };
    expect(refusal(deep).field).toBe('oil.oil');
  });
});

test('what the schema takes is handed on as it is', () => {
  fc.assert(
    fc.property(anyRequest, (request) => {
      const json = sent(request);
      expect(readPlanRequest(json)).toEqual(json);
    }),
  );
});
