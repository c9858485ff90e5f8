import { readdirSync, readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { seededRandom } from '../../../simulator/random.ts';
import { isThorough } from '../thorough.ts';
import { flipped, mutatedBytes, mutatedJson, mutatedText, pieces } from './mutations.ts';
import { SEED, TRIES, tryOften } from './tries.ts';

const FOLDER = new URL('../../real/fuzz/', import.meta.url);
const KIND = 'replay commands';

describe('tries', () => {
  test('are 2,000 in an ordinary run, 100,000 in a thorough one, and each kind is tried', () => {
    const counts = Object.values(TRIES);
    expect(counts.reduce((sum, [ordinary]) => sum + ordinary, 0)).toBe(2000);
    expect(counts.reduce((sum, [, thorough]) => sum + thorough, 0)).toBe(100_000);
    const files = readdirSync(FOLDER).map((name) => readFileSync(new URL(name, FOLDER), 'utf8'));
    for (const kind of Object.keys(TRIES))
      expect(files.filter((text) => text.includes(`'${kind}',`))).toHaveLength(1);
  });

  test('are all done, each with a stream of its own, and others are looked after', async () => {
    const seen = new Map<number, number>();
    let looks = 0;
    const others = async () => {
      looks++;
    };
    await tryOften(KIND, { withinMs: 10_000, atOnce: 3, others, othersEvery: 2 }, (random, index) => {
      seen.set(index, random());
    });
    const all = TRIES[KIND][isThorough ? 1 : 0];
    expect([...seen.keys()]).toEqual(Array.from({ length: all }, (_, i) => i));
    expect(new Set(seen.values()).size).toBe(all);
    expect(looks).toBe(all / 2 + 1);
  });

  test.for([
    { what: 'one that throws', run: () => Promise.reject(new Error('a mistake')) },
    { what: 'one that never ends', run: () => new Promise(() => {}) },
    {
      what: 'one that holds up everything',
      run: () => void Atomics.wait(new Int32Array(new SharedArrayBuffer(4)), 0, 0, 200),
    },
  ])('$what is named with its seed', async ({ run }) => {
    const third = (_: unknown, index: number) => (index === 2 ? run() : undefined);
    await expect(tryOften(KIND, { withinMs: 100 }, third)).rejects.toThrow(
      `ESTERWATCH_SEED=${SEED} ESTERWATCH_TRY=2`,
    );
  });
});

describe('what is changed', () => {
  const BYTES = Buffer.from('a reading, and one more');
  const JSON_VALUE = { value: 61.4, at: ['2026-03-02T10:15:00.000Z'], deep: { unit: null } };

  test('is the same for the same seed, mostly another for another, and leaves what it was made of', () => {
    const made = (seed: number) => {
      const random = seededRandom(seed, 'test');
      const parts = pieces(random, BYTES, 4);
      expect(Buffer.concat(parts)).toEqual(BYTES);
      const changed = [mutatedBytes(random, BYTES), mutatedText(random, String(BYTES))];
      return JSON.stringify([...changed, mutatedJson(random, JSON_VALUE)]);
    };
    const all = Array.from({ length: 100 }, (_, seed) => made(seed));
    expect(all).toEqual(Array.from({ length: 100 }, (_, seed) => made(seed)));
    expect(new Set(all).size).toBeGreaterThan(90);
    expect(String(BYTES)).toBe('a reading, and one more');
    expect(JSON_VALUE.deep).toEqual({ unit: null });
  });

  test('flipped has as many bytes, and bits that differ', () => {
    const changed = flipped(seededRandom(1, 'test'), BYTES);
    expect(changed).toHaveLength(BYTES.length);
    expect(changed).not.toEqual(BYTES);
  });
});
