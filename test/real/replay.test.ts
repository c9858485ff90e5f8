import { expect, test } from 'vitest';
import { recordedBatch } from '../../daemon/record/recorded-batch.ts';
import type { StoredEntry } from '../../daemon/store/store.ts';
import type { LiveMessage } from '../../shared/wire/api.ts';
import { isoTime } from '../../shared/wire/time.ts';
import { readingTopic } from '../../shared/wire/topics.ts';
import { type RunItem, run } from '../../simulator/run.ts';
import { SCENARIOS, type ScenarioName } from '../../simulator/scenarios/index.ts';
import { gather } from '../daemon/replay-sources/gather.ts';
import { everyEntryOf } from '../daemon/store/fixture.ts';
import { canBeSeen, replayedAlarms, storedAlarms, toldAlarms } from '../support/alarm-lines.ts';
import { DaemonOnClock } from '../support/daemon-on-clock.ts';
import { isThorough } from '../support/thorough.ts';

const SITE = 'shed';
const START_MS = Date.parse('2026-03-02T08:00:00.000Z');

/** Lives through the first minutes of a scenario, everything at its time; restarts once, or never. */
async function live(
  name: ScenarioName,
  {
    minutes,
    everyMs,
    restart,
  }: { minutes: number; everyMs: number; restart?: { atMinutes: number; how: 'stopped' | 'crashed' } },
): Promise<{ entries: StoredEntry[]; lines: string[]; told: LiveMessage[] }> {
  const site = new DaemonOnClock(START_MS);
  await site.start();
  const { pressureHPa } = SCENARIOS[name].surroundings;
  await site.api.stateSite(SITE, { pressureHPa });
  for (const vessel of ['r1', 'm1']) await site.publish(readingTopic(SITE, vessel, 'heater'), '0');
  const batch = await site.api.openBatch(`${SITE}:r1`, { watch: { readingEverySeconds: everyMs / 1000 } });

  const startMs = START_MS + 60_000;
  let restartMs = restart === undefined ? Number.POSITIVE_INFINITY : startMs + restart.atMinutes * 60_000;
  let together: Promise<unknown>[] = [];
  for (const item of run(SCENARIOS[name], { seed: 7, startMs, readingEveryMs: everyMs })) {
    if (item.atMs > startMs + minutes * 60_000) break;
    if (item.atMs > site.clock.wallMs()) {
      await Promise.all(together);
      together = [];
      if (site.clock.wallMs() >= restartMs) {
        await site.restart(restart!.how);
        restartMs = Number.POSITIVE_INFINITY;
      }
      site.clock.advance(item.atMs - site.clock.wallMs());
    }
    together.push(pass(site, batch, item));
    if (item.kind !== 'reading') await Promise.all(together);
  }
  await Promise.all(together);
  // Silence at the end; then a reading that no rule reads, with which everything said before is stored.
  site.clock.advance(600_000);
  await site.publish(readingTopic(SITE, 'r1', 'lamp'), '1');
  const entries = await everyEntryOf(site.store, SITE);
  const lines = await gather((await recordedBatch(site.store, batch))!);
  await site.stop();
  return { entries, lines, told: site.told };
}

async function pass(site: DaemonOnClock, batch: string, item: RunItem): Promise<unknown> {
  switch (item.kind) {
    case 'reading': {
      const { value, atMs, seq } = item;
      return site.publish(readingTopic(SITE, item.vessel, item.channel), { value, at: isoTime(atMs), seq });
    }
    case 'backlog': {
      const kept = item.readings.map(({ value, atMs, seq }) => ({ value, at: atMs, seq }));
      return site.publish(readingTopic(SITE, item.vessel, item.channel), kept);
    }
    case 'presence':
      return site.publish(`esterwatch/v1/presence/${SITE}/${item.device}`, item.presence);
    case 'stage':
      return site.api.enter(batch, item.stage, `${SITE}:${item.vessel}`);
  }
}

const LIVES = [
  { name: 'stirrer-stops', minutes: 125, everyMs: 10_000, alarms: ['mixing-stopped', 'reading-late'] },
  { name: 'heater-runs-on', minutes: 120, everyMs: 10_000, alarms: ['boiling-near', 'boiling-reached'] },
  { name: 'link-drops', minutes: 90, everyMs: 10_000, alarms: ['reading-late'] },
  { name: 'probe-resets', minutes: 90, everyMs: 10_000, alarms: ['probe-jump', 'probe-out-of-range'] },
  { name: 'probe-unplugged', minutes: 75, everyMs: 10_000, alarms: ['reading-late'] },
  { name: 'cut-short', minutes: 470, everyMs: 30_000, alarms: ['reaction-short', 'settling-short'] },
  {
    name: 'stirrer-stops',
    minutes: 90,
    everyMs: 10_000,
    restart: { atMinutes: 75, how: 'stopped' },
    alarms: ['mixing-stopped'],
  },
  {
    name: 'heater-runs-on',
    minutes: 120,
    everyMs: 10_000,
    restart: { atMinutes: 80, how: 'crashed' },
    alarms: ['boiling-near', 'boiling-reached'],
  },
] as const;

/** In an ordinary run one that goes through and the two restarts. */
const chosen = LIVES.filter((life) => isThorough || 'restart' in life || life.name === 'cut-short');

test.each(chosen)(
  'the daemon and a replay of what it stored give the same alarms: $name, restart $restart.how',
  { timeout: 60_000 },
  async ({ name, alarms, ...how }) => {
    const { entries, lines, told } = await live(name, how);
    const stored = storedAlarms(entries);
    const replayed = replayedAlarms(lines);
    expect(stored).toEqual(replayed);
    expect(toldAlarms(told, SITE)).toEqual(replayed.filter(canBeSeen));
    // The run was one that has something to say.
    const raised = new Set(stored.filter(({ event }) => event === 'raised').map(({ alarm }) => alarm));
    expect([...raised]).toEqual(expect.arrayContaining([...alarms]));
  },
);
