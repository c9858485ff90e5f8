import { join } from 'node:path';
import { setImmediate } from 'node:timers/promises';
import { describe, expect, onTestFinished, test } from 'vitest';
import { Access } from '../../daemon/access/access.ts';
import { openStore } from '../../daemon/store/open.ts';
import { openReadable } from '../../daemon/store/sqlite/database.ts';
import { isDifference, verifyDatabase } from '../../daemon/store/sqlite/verify.ts';
import type { Store } from '../../daemon/store/store.ts';
import { postedSchema } from '../../shared/wire/reach.ts';
import { ManualClock } from '../support/manual-clock.ts';
import { patiently } from '../support/patiently.ts';
import { receiver } from '../support/receivers.ts';
import { type RunningDaemon, runDaemon } from './running-daemon.ts';
import { temporaryDir } from './store/fixture.ts';

const START_MS = Date.UTC(2026, 2, 2, 10);
const MINUTE_MS = 60_000;
const FAR_MS = 8e15;

interface Running {
  daemon: RunningDaemon;
  data: string;
  store: Store;
  clock: ManualClock;
}

async function run(options: Parameters<typeof runDaemon>[0] = {}, startMs = START_MS): Promise<Running> {
  const data = options.data ?? join(temporaryDir(), 'data');
  const clock = new ManualClock(startMs);
  let store!: Store;
  const daemon = await runDaemon({
    ...options,
    data,
    clock,
    openStore: async (folder) => {
      store = await openStore(folder);
      return store;
    },
  });
  return { daemon, data, store, clock };
}

/** A token for these sites, made as the command makes it, beside the running daemon. */
function tokenFor(
  { data, clock }: Pick<Running, 'data' | 'clock'>,
  name: string,
  ...sites: string[]
): string {
  const arrivals = { nowMs: () => clock.wallMs() };
  return new Access({ dataFolder: data, clock, arrivals }).setForwarder(name, sites, 'somebody');
}

/** A centre, and a site that forwards to it. */
async function pair(siteStartMs = START_MS) {
  const centre = await run();
  const token = tokenFor(centre, 'farm', 'barn');
  const forward = { to: new URL(`http://127.0.0.1:${centre.daemon.httpPort}`), token, sites: null };
  const site = await run({ forward }, siteStartMs);
  return { centre, site, token };
}

/** Lets time go by at both until something is so. */
const until = (running: readonly Running[], check: () => Promise<void> | void) =>
  patiently(async () => {
    for (const { clock } of running) clock.advance(1000);
    await setImmediate();
    await check();
  });

const statusAt = async ({ daemon }: Running) => (await daemon.get('/api/v1/forwarded')).json.sites;

function isWhole(data: string): boolean {
  const database = openReadable(data);
  try {
    return !isDifference(verifyDatabase(database));
  } finally {
    database.close();
  }
}

const sealedOf = async ({ store }: Running) => {
  const head = (await store.heads()).find(({ site }) => site === 'barn');
  return head?.sealed ?? null;
};

describe('a site at its centre', () => {
  test('is shown as it is, with its age, and its seals make the same chain', async () => {
    const { centre, site } = await pair();
    await site.daemon.read('barn/r1/liquid-temperature', 50, 51, 52);
    await until([centre, site], async () => {
      const { vessels } = (await centre.daemon.get('/api/v1/vessels')).json;
      expect(vessels).toMatchObject([{ site: 'barn', vessel: 'r1', liquidC: 52, forwarded: { live: true } }]);
    });
    expect((await centre.daemon.get('/api/v1/sites')).json.sites).toMatchObject([
      { site: 'barn', forwarded: { live: true } },
    ]);
    while (await site.store.seal('barn', FAR_MS));
    await until([centre, site], async () => {
      expect(await sealedOf(site)).not.toBeNull();
      expect(await sealedOf(centre)).toEqual(await sealedOf(site));
    });
    const asked = '/api/v1/vessels/barn:r1/readings?channel=liquid-temperature&points=raw&from=0';
    expect((await centre.daemon.get(asked)).json).toEqual((await site.daemon.get(asked)).json);
    expect((await site.daemon.get('/api/v1/health')).json.forward).toMatchObject({
      sites: [{ site: 'barn', because: null, pictureAt: expect.any(String) }],
    });
    expect([isWhole(centre.data), isWhole(site.data)]).toEqual([true, true]);
    expect([...centre.daemon.errors, ...site.daemon.errors]).toEqual([]);
  });

  test('is as old as it is by the centre’s clock, whatever the site’s clock says', async () => {
    const { centre, site } = await pair(START_MS + 365 * 24 * 60 * MINUTE_MS);
    await site.daemon.read('barn/r1/liquid-temperature', 50);
    await until([centre, site], async () => expect(await statusAt(centre)).toMatchObject([{ live: true }]));
    await site.daemon.stop();
    const before = (await statusAt(centre))[0].ageMs;
    centre.clock.advance(3 * MINUTE_MS);
    centre.clock.setWallBy(-10 * MINUTE_MS);
    expect(await statusAt(centre)).toMatchObject([{ live: false, ageMs: before + 3 * MINUTE_MS }]);
    const [vessel] = (await centre.daemon.get('/api/v1/vessels')).json.vessels;
    expect(vessel.forwarded.live).toBe(false);
    expect(vessel.readings['liquid-temperature'].ageMs).toBeGreaterThanOrEqual(3 * MINUTE_MS);
  });

  test('is changed by nobody there: it is to be done at the site', async () => {
    const { centre, site } = await pair();
    await site.daemon.read('barn/r1/liquid-temperature', 50);
    const plan = { oil: { volumeL: 100, kind: 'rapeseed' }, site: { altitudeM: 100 } };
    const opened = await site.daemon.send('POST', '/api/v1/batches', { vessel: 'r1', plan });
    expect(opened.status).toBe(201);
    const { id } = opened.json;
    while (await site.store.seal('barn', FAR_MS));
    await until([centre, site], async () => {
      expect((await centre.daemon.get(`/api/v1/batches/${id}`)).status).toBe(200);
      expect((await statusAt(centre))[0].live).toBe(true);
    });
    for (const [method, path, body] of [
      ['PUT', '/api/v1/sites/barn', { altitudeM: 5 }],
      ['PUT', '/api/v1/vessels/barn:r1', { role: 'settling' }],
      ['PUT', '/api/v1/vessels/barn:r9', { role: 'settling' }],
      ['POST', '/api/v1/vessels/r1/readings', { channel: 'liquid-temperature', value: 1 }],
      ['POST', '/api/v1/batches', { vessel: 'barn:r1', plan }],
      ['POST', `/api/v1/batches/${id}/stage`, { stage: 'warm' }],
      ['POST', '/api/v1/alarms/barn.r1.1/acknowledge', {}],
      ['POST', '/api/v1/alarms/barn.r1.1/shelve', { reason: 'no', minutes: 5 }],
    ] as const) {
      const answer = await centre.daemon.send(method, path, body);
      expect([answer.status, answer.json.code], path).toEqual([409, 'site-forwarded']);
    }
    await centre.daemon.read('barn/r1/liquid-temperature', 99);
    const { refused } = (await centre.daemon.get('/api/v1/refused')).json;
    expect(refused).toMatchObject([{ code: 'site-forwarded' }]);
    for (const path of [`/api/v1/batches/${id}/record?format=json`, '/api/v1/vessels/r1/timeline'])
      expect((await centre.daemon.get(path)).status, path).toBe(200);
    expect(isWhole(centre.data)).toBe(true);
  });

  test('goes on at both after either starts again, and is not begun anew', async () => {
    const { centre, site, token } = await pair();
    await site.daemon.read('barn/r1/liquid-temperature', 50);
    while (await site.store.seal('barn', FAR_MS));
    await until([centre, site], async () => expect(await sealedOf(centre)).toEqual(await sealedOf(site)));
    await centre.daemon.stop();
    await site.daemon.stop();
    const again = await run({ data: centre.data }, centre.clock.wallMs());
    expect(await statusAt(again)).toMatchObject([{ site: 'barn', asOf: null, live: false }]);
    const forward = { to: new URL(`http://127.0.0.1:${again.daemon.httpPort}`), token, sites: null };
    const siteAgain = await run({ data: site.data, forward }, site.clock.wallMs());
    await siteAgain.daemon.read('barn/r1/liquid-temperature', 51);
    while (await siteAgain.store.seal('barn', FAR_MS));
    await until([again, siteAgain], async () => {
      expect(await sealedOf(again)).toEqual(await sealedOf(siteAgain));
      expect(await statusAt(again)).toMatchObject([{ live: true }]);
    });
    expect([isWhole(again.data), isWhole(siteAgain.data)]).toEqual([true, true]);
  });
});

describe('who may forward', () => {
  test('a token is for its sites alone, and opens nothing else', async () => {
    const centre = await run();
    await centre.daemon.read('attic/r1/liquid-temperature', 20);
    const token = tokenFor(centre, 'farm', 'barn', 'attic');
    const call = async (site: string, given: string | null) => {
      const headers: Record<string, string> = given === null ? {} : { authorization: `Bearer ${given}` };
      const { status, json } = await centre.daemon.get(`/api/v1/forwarded/${site}`, headers);
      return [status, json.code ?? json.entries];
    };
    expect(await call('barn', token)).toEqual([200, 0]);
    expect(await call('barn', null)).toEqual([401, 'forwarder-refused']);
    expect(await call('barn', `${token}x`)).toEqual([401, 'forwarder-refused']);
    expect(await call('shed', token)).toEqual([403, 'site-of-another']);
    expect(await call('attic', token)).toEqual([409, 'site-own']);
    expect(() => tokenFor(centre, 'other', 'barn')).toThrow(/farm/);
    const renewed = tokenFor(centre, 'farm', 'barn');
    expect(await call('barn', token)).toEqual([401, 'forwarder-refused']);
    expect(await call('barn', renewed)).toEqual([200, 0]);
  });

  test('a picture of something else, or of no moment, is refused, and no picture makes an older one look new', async () => {
    const { centre, site } = await pair();
    await site.daemon.read('barn/r1/liquid-temperature', 50);
    await until([centre, site], async () => expect(await statusAt(centre)).toMatchObject([{ live: true }]));
    await site.daemon.stop();
    const token = tokenFor(centre, 'farm', 'barn');
    const authorization = `Bearer ${token}`;
    const { mark } = (await centre.daemon.get('/api/v1/forwarded/barn', { authorization })).json;
    const [vessel] = (await site.daemon.get('/api/v1/vessels').catch(() => null))?.json.vessels ?? [null];
    expect(vessel).toBeNull();
    const [shown] = (await centre.daemon.get('/api/v1/vessels')).json.vessels;
    const { forwarded: _, ...own } = shown;
    const { forwarded: __, ...answer } = (await centre.daemon.get('/api/v1/sites')).json.sites[0];
    const at = '2026-03-02T10:00:00.000Z';
    const picture = {
      mark,
      agoMs: 0,
      at,
      ready: true,
      because: [],
      site: answer,
      vessels: [own],
      resting: [],
    };
    const put = async (body: object) => {
      const path = '/api/v1/forwarded/barn/picture';
      const { status, json } = await centre.daemon.send('PUT', path, body, { authorization });
      return [status, json.code ?? 'taken'];
    };
    expect(await put({ ...picture, vessels: [{ ...own, site: 'attic' }] })).toEqual([400, 'body-invalid']);
    expect(await put({ ...picture, vessels: [own, own] })).toEqual([400, 'body-invalid']);
    expect(await put({ ...picture, mark: 'x.1' })).toEqual([409, 'mark-unknown']);
    expect(await put({ ...picture, vessels: [{ ...own, liquidC: 'hot' }] })).toEqual([400, 'body-invalid']);
    // Held up on the way for five minutes: it is as old as that.
    centre.clock.advance(5 * MINUTE_MS);
    expect(await put(picture)).toEqual([200, 'taken']);
    const [{ ageMs, live }] = await statusAt(centre);
    expect(ageMs).toBeGreaterThanOrEqual(5 * MINUTE_MS);
    expect(live).toBe(false);
  });
});

test('who looks on at the centre has the figures of many vessels spread over a second', async () => {
  const { centre, site } = await pair();
  const vessels = Array.from({ length: 40 }, (_, i) => `v${i}`);
  for (const vessel of vessels) await site.daemon.read(`barn/${vessel}/liquid-temperature`, 20);
  const shownAs = async (value: number) => {
    const { json } = await centre.daemon.get('/api/v1/vessels');
    expect(json.vessels.map(({ liquidC }: { liquidC: number }) => liquidC)).toEqual(Array(40).fill(value));
  };
  await until([centre, site], () => shownAs(20));
  const viewer = await centre.daemon.look();
  for (const vessel of vessels) await site.daemon.read(`barn/${vessel}/liquid-temperature`, 21);
  await until([site], () => shownAs(21));
  const seen = () =>
    viewer.messages.filter((message) => message.type === 'estimate' && message.liquidC === 21).length;
  centre.clock.advance(1000);
  await patiently(() => expect(seen()).toBeGreaterThan(0));
  expect(seen()).toBeLessThan(20);
  centre.clock.advance(1000);
  await patiently(() => expect(seen()).toBeGreaterThanOrEqual(40));
});

test('the centre tells people of alarms of a site, once, and of a site from which nothing comes', async () => {
  const { centre, site } = await pair();
  const post = await receiver();
  const messages = () => post.received.map(({ body }) => postedSchema.parse(JSON.parse(String(body))));
  await centre.daemon.send('PUT', '/api/v1/reach/people/Ada', {
    post: { url: post.url, secret: 'a secret of the siren' },
  });
  await site.daemon.send('PUT', '/api/v1/sites/barn', { altitudeM: 0 });
  const plan = { oil: { volumeL: 100, kind: 'rapeseed' } };
  await site.daemon.read('barn/r1/liquid-temperature', 50);
  const { id } = (await site.daemon.send('POST', '/api/v1/batches', { vessel: 'r1', plan })).json;
  await site.daemon.send('POST', `/api/v1/batches/${id}/stage`, { stage: 'react', reason: 'a test' });
  await site.daemon.read('barn/r1/liquid-temperature', 64.4, 64.5);
  const told = (alarm: string) =>
    messages().filter(({ alarms }) => alarms.some((one) => one.alarm === alarm));
  await until([centre, site], () =>
    expect(told('boiling-near')).toMatchObject([{ kind: 'alarms', site: 'barn', answer: null }]),
  );
  await site.daemon.stop();
  for (let minute = 0; minute < 14; minute++) {
    centre.clock.advance(MINUTE_MS);
    await setImmediate();
  }
  const silent = () => told('site-silent');
  expect(silent()).toEqual([]);
  await patiently(() => {
    centre.clock.advance(MINUTE_MS);
    expect(silent()).toHaveLength(1);
  });
  for (let minute = 0; minute < 30; minute++) {
    centre.clock.advance(MINUTE_MS);
    await setImmediate();
  }
  expect(silent()).toHaveLength(1);
  expect(told('boiling-near')).toHaveLength(1);
  // What was told stands in a chain of its own, beside the site's.
  expect((await centre.store.actions('-barn')).map(({ action }) => action)).toContain('told');
  expect((await centre.daemon.get('/api/v1/sites')).json.sites).toHaveLength(1);
  expect(isWhole(centre.data)).toBe(true);
});

test('a centre that does not answer holds nothing up, and is found again', async () => {
  const centre = await run();
  const token = tokenFor(centre, 'farm', 'barn');
  const to = new URL(`http://127.0.0.1:${centre.daemon.httpPort}`);
  await centre.daemon.stop();
  const site = await run({ forward: { to, token, sites: null } });
  await site.daemon.read('barn/r1/liquid-temperature', 50, 51);
  await until([site], async () => {
    const { ready, forward } = (await site.daemon.get('/api/v1/health')).json;
    expect(ready).toBe(true);
    expect(forward.sites).toMatchObject([{ site: 'barn', because: 'ECONNREFUSED' }]);
  });
  expect((await site.daemon.get('/metrics')).text).toContain('esterwatch_forward_failing 1');
  const stopped = site.daemon.stop();
  onTestFinished(() => stopped);
  await stopped;
});
