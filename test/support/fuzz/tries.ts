import { randomInt } from 'node:crypto';
import { setTimeout as wait } from 'node:timers/promises';
import { expect } from 'vitest';
import { type Random, seededRandom } from '../../../simulator/random.ts';
import { isThorough } from '../thorough.ts';

/** How often each kind is tried: in an ordinary run, and in a thorough one. */
export const TRIES = {
  'MQTT packets': [500, 27_500],
  'MQTT payloads': [500, 27_530],
  'HTTP requests': [350, 16_000],
  'WebSocket frames': [250, 10_000],
  'NDJSON runs': [120, 7000],
  'CSV runs': [100, 6000],
  'replay commands': [4, 100],
  'configuration files': [80, 3000],
  'files of the data folder': [60, 1500],
  databases: [33, 1340],
  'starts on damaged folders': [3, 30],
} as const satisfies Record<string, readonly [ordinary: number, thorough: number]>;
export type Kind = keyof typeof TRIES;

/** What everything random follows from; one that failed is given again by the environment. */
export const SEED = Number(process.env.ESTERWATCH_SEED ?? randomInt(2 ** 31));
/** One try alone, by its number. */
const ONLY = process.env.ESTERWATCH_TRY;

/** Room for the tries of a kind in a thorough run on a slow machine that is busy with other things, ms. */
export const TRIES_TIMEOUT_MS = 600_000;

interface TryOptions {
  /** Each is over within this, ms: far more than any takes on a busy machine, since nothing here measures speed. */
  withinMs: number;
  /** So many are under way at the same time. */
  atOnce?: number;
  /** Others, who are looked after once in so many tries, and at the end. */
  others?: () => Promise<unknown>;
  othersEvery?: number;
}

/**
 * Tries a kind as often as its place in the table says, each with a random stream of its own, so that one that failed
 * can be had again alone. Prints how often and how long.
 */
export async function tryOften(
  kind: Kind,
  { withinMs, atOnce = 1, others, othersEvery = 50 }: TryOptions,
  run: (random: Random, index: number) => unknown,
): Promise<void> {
  const all = TRIES[kind][isThorough ? 1 : 0];
  const first = ONLY === undefined ? 0 : Number(ONLY);
  const end = ONLY === undefined ? all : Math.min(all, first + 1);
  const fromMs = performance.now();
  let next = first;
  let done = 0;
  const work = async () => {
    while (next < end) {
      const index = next++;
      try {
        await within(withinMs, () => run(seededRandom(SEED, `${kind} ${index}`), index));
        if (others !== undefined && index % othersEvery === 0) await within(withinMs, others);
      } catch (error) {
        next = end;
        const what = error instanceof Error ? error.message : String(error);
        throw new Error(`${kind}, ESTERWATCH_SEED=${SEED} ESTERWATCH_TRY=${index}: ${what}`, {
          cause: error,
        });
      }
      done++;
    }
  };
  await Promise.all(Array.from({ length: atOnce }, work));
  await others?.();
  expect(done).toBe(ONLY === undefined ? all : Math.max(0, end - first));
  const seconds = ((performance.now() - fromMs) / 1000).toFixed(1);
  process.stdout.write(`${kind}: ${done} tries in ${seconds} s, seed ${SEED}\n`);
}

/** What is not over in time is a mistake; what holds up everything meanwhile is found out afterwards. */
async function within(ms: number, run: () => unknown): Promise<void> {
  const fromMs = performance.now();
  const late = new AbortController();
  const lateAfter = async () => {
    await wait(ms, undefined, { signal: late.signal });
    throw new Error(`not over within ${ms} ms`);
  };
  try {
    const running = run();
    if (running instanceof Promise) await Promise.race([running, lateAfter()]);
  } finally {
    late.abort();
  }
  if (performance.now() - fromMs > ms) throw new Error(`not over within ${ms} ms`);
}
