import { expect, test } from 'vitest';
import { recordedBatch } from '../../daemon/record/recorded-batch.ts';
import { openReadable } from '../../daemon/store/sqlite/database.ts';
import { isDifference, verifyDatabase } from '../../daemon/store/sqlite/verify.ts';
import { isoTime } from '../../shared/wire/time.ts';
import { readingTopic } from '../../shared/wire/topics.ts';
import { seededRandom } from '../../simulator/random.ts';
import { gather } from '../daemon/replay-sources/gather.ts';
import { everyEntryOf } from '../daemon/store/fixture.ts';
import { replayedAlarms, storedAlarms } from '../support/alarm-lines.ts';
import { DaemonOnClock } from '../support/daemon-on-clock.ts';

const SITE = 'shed';
const START_MS = Date.parse('2026-03-02T08:00:00.000Z');
const HOUR_MS = 3_600_000;
const MINUTES = 40;
const EVERY_MS = 5000;

/** Probes of the reactor: one goes by the daemon's clock, one by a right one of its own, one by none. */
const FOLLOWING = 'liquid-temperature';
const RIGHT = 'liquid-temperature-2';
const CLOCKLESS = 'liquid-temperature-3';

test.for([1, 2, 3])(
  'a wall clock that is set an hour back and forth: each reading is stored once or listed, seed %i',
  { timeout: 60_000 },
  async (seed) => {
    const random = seededRandom(seed, 'clock steps');
    const site = new DaemonOnClock(START_MS);
    await site.start();
    await site.api.stateSite(SITE, { pressureHPa: 1013.25 });
    await site.publish(readingTopic(SITE, 'r1', 'heater'), '0');
    const batch = await site.api.openBatch(`${SITE}:r1`, {
      watch: { readingEverySeconds: EVERY_MS / 1000 },
    });
    await site.api.enter(batch, 'warm');

    const sent = new Map<string, number[]>([FOLLOWING, RIGHT, CLOCKLESS].map((name) => [name, []]));
    const send = (channel: string, value: number, times: object) => {
      sent.get(channel)!.push(value);
      const payload = { value, ...times };
      return site.publish(readingTopic(SITE, 'r1', channel), payload);
    };
    let behindMs = 0;
    let ahead = 0;
    let steps = 0;
    let lastStepMs: number | null = null;
    for (let seq = 0; seq < (MINUTES * 60_000) / EVERY_MS; seq++) {
      site.clock.advance(EVERY_MS);
      if (random() < 0.03) {
        lastStepMs = random() < 0.5 ? HOUR_MS : -HOUR_MS;
        site.clock.setWallBy(lastStepMs);
        behindMs -= lastStepMs;
        steps++;
      }
      // Over the limit in its middle, and of another value each time.
      const value = 40 + 40 * Math.sin((Math.PI * seq * EVERY_MS) / (MINUTES * 60_000)) + seq / 2 ** 20;
      const wallMs = site.clock.wallMs();
      const messages = [send(FOLLOWING, value, { at: isoTime(wallMs), seq })];
      // While nobody's device is silent for good, some of its messages come twice.
      if (random() < 0.1)
        messages.push(site.publish(readingTopic(SITE, 'r1', FOLLOWING), { value, at: isoTime(wallMs), seq }));
      if (behindMs <= 0) messages.push(send(RIGHT, value, { at: isoTime(wallMs + behindMs), seq }));
      else {
        ahead++;
        messages.push(
          site.publish(readingTopic(SITE, 'r1', RIGHT), { value, at: isoTime(wallMs + behindMs), seq }),
        );
      }
      messages.push(send(CLOCKLESS, value, {}));
      await Promise.all(messages);
    }
    // Silence, and a reading that no rule reads, with which everything said before is stored.
    site.clock.advance(600_000);
    await site.publish(readingTopic(SITE, 'r1', 'lamp'), '1');

    const entries = await everyEntryOf(site.store, SITE);
    for (const [channel, values] of sent) {
      const stored = entries.flatMap((entry) =>
        entry.kind === 'reading' && entry.channel === channel ? [entry.value] : [],
      );
      expect(stored, channel).toEqual(values);
    }
    expect(steps).toBeGreaterThan(4);
    expect(entries.filter((entry) => entry.kind === 'action' && entry.action === 'clock-step')).toHaveLength(
      steps,
    );
    const { clock } = await site.api.get<{ clock: object }>('/api/v1/health');
    expect(clock).toMatchObject({ steps, lastStepMs });
    // What the daemon takes for the future is listed, each time.
    const refused = await site.api.refused();
    expect(refused).toEqual(
      ahead === 0
        ? []
        : [
            expect.objectContaining({
              topic: readingTopic(SITE, 'r1', RIGHT),
              code: 'clock-ahead',
              count: ahead,
            }),
          ],
    );

    const stored = storedAlarms(entries);
    expect(stored.some(({ alarm }) => alarm === 'oil-overheated')).toBe(true);
    expect(stored).toEqual(replayedAlarms(await gather((await recordedBatch(site.store, batch))!)));
    const database = openReadable(site.data);
    try {
      expect(isDifference(verifyDatabase(database))).toBe(false);
    } finally {
      database.close();
    }
    await site.stop();
  },
);
