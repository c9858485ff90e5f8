import { cpSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as wait } from 'node:timers/promises';
import { expect, onTestFinished, test } from 'vitest';
import { openStore } from '../../daemon/store/open.ts';
import { openReadable } from '../../daemon/store/sqlite/database.ts';
import { isDifference, verifyDatabase } from '../../daemon/store/sqlite/verify.ts';
import type { Head, NewEntry } from '../../daemon/store/store.ts';
import { type Random, seededRandom } from '../../simulator/random.ts';
import { runCommand } from '../support/command.ts';
import { Link } from '../support/link.ts';
import { dataFolder, LOOPBACK, type Served, serve } from '../support/serving.ts';
import { isThorough } from '../support/thorough.ts';

/** Three weeks, as they lie after a long time without a link; days in an ordinary run. */
const HOURS = (isThorough ? 21 : 2) * 24;
/** So many hours a seal: each is a request, and a link that is up for a moment takes a few. */
const SEALED_HOURS = 8;
const HOUR_MS = 3_600_000;
const SEED = 11;
/** The link is up or down so long at a time, ms. */
const LONGEST_SPELL_MS = isThorough ? 3000 : 1000;
/** Of each site, all goes over so soon at half a link on a loaded machine, ms. */
const WITHIN_MS = 240_000;

const folder = (): string => {
  const { data, remove } = dataFolder();
  onTestFinished(remove);
  return data;
};

/** Weeks of a site, sealed, in a store that no daemon has open. */
async function weeksOf(site: string, data: string): Promise<void> {
  const store = await openStore(data);
  const endMs = Math.floor(Date.now() / HOUR_MS) * HOUR_MS;
  for (let n = 0; n < HOURS; n++) {
    const startMs = endMs - (HOURS - n) * HOUR_MS;
    const entries = Array.from({ length: 30 }, (_, i): NewEntry => {
      const atMs = startMs + i * 120_000;
      return {
        kind: 'reading',
        vessel: 'r1',
        channel: 'liquid-temperature',
        atMs,
        arrivedMs: atMs,
        stamped: false,
        value: 20 + (n % 24) + i / 16,
        seq: null,
        source: 'device',
      };
    });
    await store.write([{ site, entries }]);
    if (n % SEALED_HOURS === SEALED_HOURS - 1) while (await store.seal(site, startMs + HOUR_MS));
  }
  await store.close();
}

function verified(data: string, head?: string) {
  const database = openReadable(data);
  try {
    const found = verifyDatabase(database, head);
    return isDifference(found) ? found : found.sites;
  } finally {
    database.close();
  }
}

function sealedOf(data: string, site: string): Head {
  const found = verified(data);
  const sealed = Array.isArray(found) ? found.find((one) => one.site === site)?.sealed : undefined;
  if (sealed == null) throw new Error(`${site} is not whole, or not sealed: ${JSON.stringify(found)}`);
  return sealed;
}

async function startSite(data: string, to: number, token: string): Promise<Served> {
  const tokenFile = join(data, 'centre-token');
  const config = join(data, 'esterwatch.json');
  writeFileSync(tokenFile, `${token}\n`);
  writeFileSync(config, JSON.stringify({ forward: { to: `http://${LOOPBACK}:${to}`, tokenFile } }));
  return serve({ data, config });
}

interface Status {
  site: string;
  entries: number;
  live: boolean;
}

/** A link that is up half of the time, by chance. */
function cutHalfOfTheTime(link: Link, to: number, random: Random): () => void {
  let ended = false;
  void (async () => {
    for (let isUp = true; !ended; isUp = !isUp) {
      link.to = isUp ? to : null;
      if (!isUp) link.cut();
      await wait(random() * LONGEST_SPELL_MS);
    }
    link.to = to;
  })();
  return () => {
    ended = true;
  };
}

async function patiently(check: () => Promise<boolean>, said: () => Promise<string>): Promise<void> {
  const untilMs = Date.now() + WITHIN_MS;
  while (!(await check())) {
    if (Date.now() > untilMs) throw new Error(`it has not all gone over: ${await said()}`);
    await wait(300);
  }
}

test('two sites with much behind them and a link cut half of the time, killed between: the centre ends equal and whole', {
  timeout: 400_000,
}, async () => {
  const random = seededRandom(SEED, 'links');
  const centreData = folder();
  const sites = ['barn', 'shed'].map((name) => ({ name, data: folder() }));
  await Promise.all(sites.map(({ name, data }) => weeksOf(name, data)));
  let centre = await serve({ data: centreData });
  const centrePort = centre.httpPort;
  const running = await Promise.all(
    sites.map(async ({ name, data }) => {
      const made = await runCommand(data, ['forwarder', 'add', name, '--sites', name, '--data', centreData]);
      const token = made.out.trim().split('\n').at(-1)!;
      const link = await Link.open(centrePort);
      onTestFinished(() => link.close());
      const stop = cutHalfOfTheTime(link, centrePort, random);
      return { name, data, token, link, stop, daemon: await startSite(data, link.port, token) };
    }),
  );
  // Each killed on the way, wherever it is then.
  for (let round = 0; round < (isThorough ? 3 : 2); round++) {
    await wait(500 + random() * 1500);
    centre.kill('SIGKILL');
    await centre.ended;
    const one = running[round % 2]!;
    one.daemon.kill('SIGKILL');
    await one.daemon.ended;
    // What lies on the disk at such a moment is whole, however much has come.
    const image = folder();
    cpSync(centreData, image, { recursive: true });
    expect(Array.isArray(verified(image))).toBe(true);
    centre = await serve({ data: centreData, httpPort: centrePort });
    one.daemon = await startSite(one.data, one.link.port, one.token);
  }
  const ends = sites.map(({ name, data }) => ({ name, entries: sealedOf(data, name).entries }));
  for (const { entries } of ends) expect(entries).toBeGreaterThanOrEqual(30 * HOURS);
  const status = async (): Promise<Status[]> => {
    const answer = await fetch(`http://${LOOPBACK}:${centrePort}/api/v1/forwarded`);
    return ((await answer.json()) as { sites: Status[] }).sites;
  };
  await patiently(
    async () => {
      const known = await status();
      return ends.every(({ name, entries }) =>
        known.some((one) => one.site === name && one.live && one.entries >= entries),
      );
    },
    async () => JSON.stringify([ends, await status()]),
  );
  for (const { stop } of running) stop();
  for (const { daemon } of running) daemon.kill('SIGTERM');
  centre.kill('SIGTERM');
  for (const { ended } of [centre, ...running.map(({ daemon }) => daemon)])
    expect((await ended).code).toBe(0);
  for (const { name, data } of sites) {
    const there = sealedOf(centreData, name);
    expect(there.entries).toBeGreaterThanOrEqual(30 * HOURS);
    // An hour may have been sealed meanwhile: the site's chain, found whole, leads by the centre's head.
    expect(verified(data, there.head)).toMatchObject([{ site: name }]);
  }
  expect(verified(centreData)).toMatchObject([{ site: 'barn' }, { site: 'shed' }]);
});
