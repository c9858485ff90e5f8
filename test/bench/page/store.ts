import { openStore } from '../../../daemon/store/open.ts';
import type { NewEntry, SiteProgress } from '../../../daemon/store/store.ts';
import { emptySiteState } from '../../../shared/engine/state.ts';
import { seededRandom } from '../../../simulator/random.ts';
import { reading, steady } from '../noisy-probe.ts';

/** A store as a daemon leaves it that has watched for so long, up to the present. */

export const SITE = 'barn';
/** Has the long past, of one probe. */
export const LONG = 'r1';
/** Has six channels, for a day. */
export const WIDE = 'r2';
const HOUR_MS = 3_600_000;
const WIDE_HOURS = 24;

const random = seededRandom(7, 'page');
const CHANNELS: Readonly<Record<string, (atMs: number) => number>> = {
  'liquid-temperature': (atMs) => reading(steady(atMs), random),
  'liquid-temperature-2': (atMs) => reading(steady(atMs) - 0.4, random),
  'stirrer-speed': () => 300 + Math.round(20 * random()),
  'stirrer-current': () => 1.4 + Math.round(10 * random()) / 100,
  heater: (atMs) => (atMs % 600_000 < 240_000 ? 1 : 0),
  'room-vapour': () => 40 + Math.round(8 * random()),
};

/** What its six channels say at a moment. */
export const wideReadings = (atMs: number): [channel: string, value: number][] =>
  Object.entries(CHANNELS).map(([channel, say]) => [channel, say(atMs)]);

function* secondsOf(vessel: string, channels: readonly string[], fromMs: number, toMs: number) {
  for (let atMs = fromMs; atMs < toMs; atMs += 1000)
    for (const channel of channels)
      yield {
        kind: 'reading',
        vessel,
        channel,
        atMs,
        stamped: false,
        arrivedMs: atMs + 100,
        value: CHANNELS[channel]!(atMs),
        seq: null,
        source: 'device',
      } as const satisfies NewEntry;
}

/** So many days of `LONG` at 1 Hz, and a day of all channels of `WIDE`. How many readings, and from when. */
export async function fillStore(data: string, days: number): Promise<{ count: number; fromMs: number }> {
  const nowMs = Date.now();
  const endMs = Math.floor(nowMs / HOUR_MS) * HOUR_MS;
  const fromMs = endMs - days * 24 * HOUR_MS;
  const store = await openStore(data);
  const probe = ['liquid-temperature'];
  let count = 0;
  for (let hourMs = fromMs; hourMs < endMs; hourMs += HOUR_MS) {
    const toMs = hourMs + HOUR_MS;
    const entries: NewEntry[] = [...secondsOf(LONG, probe, hourMs, toMs)];
    if (hourMs >= endMs - WIDE_HOURS * HOUR_MS)
      entries.push(...secondsOf(WIDE, Object.keys(CHANNELS), hourMs, toMs));
    await store.write([{ site: SITE, entries }]);
    count += entries.length;
    await store.seal(SITE, toMs + 1000);
  }
  const [{ lastPosition: position }] = (await store.sites()) as [SiteProgress];
  const judged = { position, atMs: endMs };
  const snapshot = { position, state: JSON.stringify(emptySiteState()) };
  await store.write([{ site: SITE, entries: [], judged, snapshot }]);
  // From here on the daemon judges at its start: so it knows both vessels.
  const added = [LONG, WIDE].map((vessel): NewEntry => {
    const body = { vessel, role: 'reactor' };
    return { kind: 'action', action: 'vessel-added', atMs: endMs, arrivedMs: endMs, by: 'Ada Brook', body };
  });
  const last = [
    ...secondsOf(LONG, probe, endMs, nowMs),
    ...secondsOf(WIDE, Object.keys(CHANNELS), endMs, nowMs),
  ];
  await store.write([{ site: SITE, entries: [...added, ...last] }]);
  await store.close();
  return { count: count + last.length, fromMs };
}
