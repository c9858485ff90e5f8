import { test } from 'vitest';
import { seededRandom } from '../../simulator/random.ts';
import { esterwatch } from '../support/serving.ts';
import { Soak, type SoakPlan } from '../support/soak.ts';
import { isThorough } from '../support/thorough.ts';

/**
 * A usual site for a while, in which everything fails that can: devices lose their power and their clocks, links break
 * in every way, the daemon is stopped and killed, an outside broker is stopped. `SOAK_MINUTES` says for how long.
 */
const MINUTES = Number(process.env.SOAK_MINUTES ?? (isThorough ? 6 : 1 / 5));
/** Of the time: the rest is one process's, which is watched for what it holds. */
const RESTARTS_SHARE = 0.6;
/** In less there are too few readings and connections to tell what stays of each from what a process holds anyway. */
const isLong = MINUTES >= 3;
/** At the heap of the watched daemon, from the first to the last moment; the first quarter of them does not count. */
const LOOKS = 16;
const PLAN: SoakPlan = {
  restartsMs: MINUTES * 60_000 * RESTARTS_SHARE,
  watchedMs: MINUTES * 60_000 * (1 - RESTARTS_SHARE),
  restartEveryMs: isLong ? 15_000 : 2000,
  linkFaultEveryMs: isLong ? 1500 : 500,
  deviceRestartEveryMs: isLong ? 3000 : 1000,
  clockEveryMs: isLong ? 5000 : 1000,
  stageEveryMs: 500,
  looks: isLong ? LOOKS : 0,
};
/** Another at every run; one that fails is named, although no two runs fail at quite the same moment. */
const seed = Date.now() % 1_000_000;

/** Files of the store that are open at one moment and not at another. */
const SOME_FILES = 4;
/** Timers of a moment: a retry, a request under way. */
const SOME_TIMERS = 4;

/**
 * Of the heap of the daemon's main thread, from the first half of its looks to the second, MB. In between lie some 1.2 minutes
 * of the 6, 8,600 readings and hundreds of connections: 250 bytes that stay of each reading are more. What may grow are
 * the samples of stages under way and the lists of what people did, of which the run has far more than a site.
 */
const MOST_GROWTH_MB = 2;

const median = (values: readonly number[]): number => values.toSorted((a, b) => a - b)[values.length >> 1]!;

const BROKERS = ['its own broker', 'a real Mosquitto'] as const;

test.concurrent.for(BROKERS)(
  'whatever fails, what a device saw acknowledged is there once: %s',
  { timeout: MINUTES * 60_000 + 200_000 },
  async (at, { expect, onTestFinished }) => {
    const named = `seed ${seed}`;
    const soak = await Soak.start(at === 'a real Mosquitto', seededRandom(seed, at));
    onTestFinished(() => soak.end());
    const { before, looks, after } = await soak.run(PLAN);
    const counts = soak.counts();

    expect(await soak.wrong(), named).toEqual([]);
    // There was something to lose, and much that failed.
    expect(counts.kept, named).toBeGreaterThan(1000);
    expect(counts.daemonRestarts, named).toBeGreaterThanOrEqual(2);
    for (const { code, signal, stderr } of soak.endings)
      expect(signal === 'SIGKILL' || code === 0, `${named}: ${stderr}`).toBe(true);

    // Nothing is left of devices that came and went.
    expect(after.descriptors, named).toBeLessThanOrEqual(before.descriptors + SOME_FILES);
    expect(after.threads, named).toBeLessThanOrEqual(before.threads);
    expect(after.resources.Timeout, named).toBeLessThanOrEqual((before.resources.Timeout ?? 0) + SOME_TIMERS);
    if (isLong) {
      // The first looks are at a process that still loads what it needs.
      const heaps = looks.slice(LOOKS / 4).map(({ heapMb }) => heapMb);
      const half = heaps.length / 2;
      const [first, second] = [median(heaps.slice(0, half)), median(heaps.slice(half))];
      const said = `${named}, MB: ${heaps.map((mb) => mb.toFixed(1)).join(' ')}`;
      expect(looks, named).toHaveLength(LOOKS);
      expect(second - first, said).toBeLessThan(MOST_GROWTH_MB);
    }

    expect((await soak.stop()).code, named).toBe(0);
    const verified = await esterwatch(['verify', '--data', soak.data]);
    expect(verified, named).toMatchObject({ code: 0 });
    let alarms = 0;
    for (const { stored, replayed } of await soak.alarms()) {
      expect(stored, named).toEqual(replayed);
      alarms += stored.length;
    }
    expect(alarms, named).toBeGreaterThan(20);
    if (isLong) {
      const heaps = [before, ...looks, after].map(({ heapMb }) => Math.round(heapMb * 10) / 10).join(' ');
      const said = { seed, ...counts, alarms, descriptors: [before.descriptors, after.descriptors], heaps };
      process.stderr.write(`${at}: ${JSON.stringify(said)}\n`);
    }
  },
);
