import type { Random } from '../../../simulator/random.ts';

/** A whole number from 0, less than `below`. */
export const below = (random: Random, end: number): number => Math.floor(random() * end);
export const pick = <T>(random: Random, list: readonly T[]): T => list[below(random, list.length)]!;
export const chance = (random: Random, share: number): boolean => random() < share;
export const bytes = (random: Random, length: number): Buffer =>
  Buffer.from(Array.from({ length }, () => below(random, 256)));

/** In another order, each as likely (Fisher and Yates). */
export function shuffled<T>(random: Random, list: readonly T[]): T[] {
  const mixed = [...list];
  for (let i = mixed.length - 1; i > 0; i--) {
    const j = below(random, i + 1);
    [mixed[i], mixed[j]] = [mixed[j]!, mixed[i]!];
  }
  return mixed;
}

/** The same bytes in up to `most` pieces. */
export function pieces(random: Random, whole: Buffer, most: number): Buffer[] {
  const cuts = Array.from({ length: below(random, most) }, () => below(random, whole.length + 1));
  const ends = [...cuts.sort((a, b) => a - b), whole.length];
  return ends.map((end, i) => whole.subarray(ends[i - 1] ?? 0, end));
}

/** With one to eight bits the other way round. */
export function flipped(random: Random, whole: Buffer): Buffer {
  const changed = Buffer.from(whole);
  if (changed.length === 0) return changed;
  const times = 1 + below(random, 8);
  for (let i = 0; i < times; i++) changed[below(random, changed.length)]! ^= 1 << below(random, 8);
  return changed;
}

/** Bits flipped, cut short, a part left out, twice, or moved, something put in, or overwritten: one to three of these. */
export function mutatedBytes(random: Random, whole: Buffer): Buffer {
  let changed = whole;
  for (let times = 1 + below(random, 3); times > 0; times--)
    changed = pick(random, BYTE_CHANGES)(random, changed);
  return changed;
}

const BYTE_CHANGES: readonly ((random: Random, whole: Buffer) => Buffer)[] = [
  flipped,
  flipped,
  (random, whole) => whole.subarray(0, below(random, whole.length + 1)),
  (random, whole) => {
    const [before, , after] = inThree(random, whole);
    return Buffer.concat([before, after]);
  },
  (random, whole) => {
    const [before, part, after] = inThree(random, whole);
    return Buffer.concat([before, part, part, after]);
  },
  (random, whole) => {
    const [before, part, after] = inThree(random, whole);
    return Buffer.concat([part, before, after]);
  },
  (random, whole) => {
    const [before, part, after] = inThree(random, whole);
    return Buffer.concat([before, part, bytes(random, 1 + below(random, 20)), after]);
  },
  (random, whole) => {
    const changed = Buffer.from(whole);
    const from = below(random, whole.length + 1);
    const to = Math.min(whole.length, from + 1 + below(random, 8));
    return changed.fill(pick(random, [0, 0xff, 0x7f, 0x80]), from, to);
  },
];

function inThree(random: Random, whole: Buffer): [Buffer, Buffer, Buffer] {
  const from = below(random, whole.length + 1);
  const to = Math.min(whole.length, from + below(random, 64));
  return [whole.subarray(0, from), whole.subarray(from, to), whole.subarray(to)];
}

const nested = (open: string, inside: string, close: string, depth: number): string =>
  `${open.repeat(depth)}${inside}${close.repeat(depth)}`;

/** Texts that somebody has to have thought of. */
export const ODD_TEXTS: readonly string[] = [
  '',
  ' ',
  '\0',
  '\n',
  '\r\n',
  '\ud800',
  '\udc00\ud800',
  '\ufeff',
  '\u202egnp.exe',
  'e\u0301\u0301\u0301',
  '👩‍👩‍👧‍👦',
  '٣٫٥',
  '__proto__',
  'constructor',
  'toString',
  'hasOwnProperty',
  'null',
  'undefined',
  'NaN',
  'Infinity',
  '-0',
  '1e999',
  '0x10',
  '1_000',
  '../../../../etc/passwd',
  '%00',
  '%E0%A4%A',
  "'; DROP TABLE site; --",
  '<script>alert(1)</script>',
  '=1+1',
  '2026-02-30T00:00:00.000Z',
  '0000-01-01T00:00:00.000Z',
  '9999-12-31T23:59:59.999Z',
  '+275760-09-13T00:00:00.000Z',
  '-271821-04-20T00:00:00.000Z',
  '2026-06-30T23:59:60.000Z',
  'a'.repeat(41),
  'ä'.repeat(300),
  'x'.repeat(5000),
];

export const ODD_NUMBERS: readonly number[] = [
  0,
  -0,
  1,
  -1,
  0.1,
  1e-320,
  Number.MIN_VALUE,
  Number.EPSILON,
  1e21,
  1e300,
  -1e300,
  Number.MAX_VALUE,
  -Number.MAX_VALUE,
  Number.MAX_SAFE_INTEGER,
  Number.MAX_SAFE_INTEGER + 1,
  Number.MIN_SAFE_INTEGER,
  2 ** 31,
  -(2 ** 31),
  2 ** 32,
  2 ** 63,
  8.64e15,
  8.64e15 + 1,
  -8.64e15,
  -273.15,
  4_102_444_800_000,
];

/** Any JSON that is wrong nearly everywhere. */
export function oddJson(random: Random): unknown {
  switch (below(random, 9)) {
    case 0:
      return null;
    case 1:
      return chance(random, 0.5);
    case 2:
    case 3:
      return pick(random, ODD_NUMBERS);
    case 4:
    case 5:
      return pick(random, ODD_TEXTS);
    case 6:
      return Array.from({ length: below(random, 4) }, () => oddJson(random));
    case 7:
      return Object.fromEntries(
        Array.from({ length: below(random, 4) }, () => [pick(random, ODD_TEXTS), oddJson(random)]),
      );
    default:
      return chance(random, 0.1)
        ? Array(pick(random, [1000, 6000])).fill(0)
        : JSON.parse(nested('[', '', ']', pick(random, [2, 50, 2000])));
  }
}

type Container = unknown[] | Record<string, unknown>;

/** The same with one to three places changed: another value there, left out, twice, under another name, or wrapped. */
export function mutatedJson(random: Random, whole: unknown): unknown {
  const root: Record<string, unknown> = { root: structuredClone(whole) };
  for (let times = 1 + below(random, 3); times > 0; times--) {
    const [inside, key] = pick(random, placesOf(root));
    changeAt(random, inside, key, inside === root);
  }
  return root.root;
}

function changeAt(random: Random, inside: Container, key: string, isRoot: boolean): void {
  const record = inside as Record<string, unknown>;
  const value = record[key];
  const set = (to: unknown, at = key): void => {
    // As JSON.parse does it, whatever the key means to JavaScript.
    Object.defineProperty(record, at, { value: to, writable: true, enumerable: true, configurable: true });
  };
  const way = isRoot && chance(random, 0.9) ? 'more' : pick(random, CHANGES);
  if (way === 'odd') set(oddJson(random));
  else if (way === 'near' && typeof value === 'number')
    set(pick(random, [-value, value + 1, value - 1, value * 1e6, value / 3, String(value)]));
  else if (way === 'near' && typeof value === 'string') set(mutatedText(random, value));
  else if (way === 'near' && typeof value === 'boolean') set(!value);
  else if (way === 'gone' && !isRoot) {
    if (Array.isArray(inside)) inside.splice(Number(key), 1);
    else delete record[key];
  } else if (way === 'twice' && Array.isArray(inside))
    inside.push(...Array(1 + below(random, 3)).fill(value));
  else if (way === 'renamed' && !Array.isArray(inside) && !isRoot) {
    delete record[key];
    set(value, pick(random, [...ODD_TEXTS, key.toUpperCase(), `${key}s`]));
  } else if (way === 'wrapped') set(chance(random, 0.5) ? [value] : { [key]: value });
  else if (typeof value === 'object' && value !== null && !Array.isArray(value))
    Object.defineProperty(value, pick(random, ODD_TEXTS), {
      value: oddJson(random),
      writable: true,
      enumerable: true,
      configurable: true,
    });
  else set(oddJson(random));
}

const CHANGES = ['odd', 'odd', 'near', 'near', 'gone', 'twice', 'renamed', 'wrapped', 'more'] as const;
/** Changes deeper than this are found by nobody. */
const DEEPEST = 20;

function placesOf(inside: Container, depth = 0): [Container, string][] {
  return Object.entries(inside).flatMap(([key, value]) => [
    [inside, key] as [Container, string],
    ...(typeof value === 'object' && value !== null && depth < DEEPEST
      ? placesOf(value as Container, depth + 1)
      : []),
  ]);
}

/** A text with a part left out, twice, or something odd in it. */
export function mutatedText(random: Random, text: string): string {
  const from = below(random, text.length + 1);
  const to = from + below(random, Math.min(12, text.length - from) + 1);
  switch (below(random, 5)) {
    case 0:
      return text.slice(0, from) + text.slice(to);
    case 1:
      return text.slice(0, to) + text.slice(from);
    case 2:
      return text.slice(0, from);
    case 3:
      return text.slice(0, from) + pick(random, ODD_TEXTS) + text.slice(to);
    default:
      return text.slice(0, from) + pick(random, [...'"{}[],:.-+eE0 \n\t\\/']) + text.slice(to);
  }
}
