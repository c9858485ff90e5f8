import axe from 'axe-core';
import { connectAsync, type MqttClient } from 'mqtt';
import type { Browser, Page, Request } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, onTestFinished, test } from 'vitest';
import { besideHref, hrefOf, idHref, type Route, vesselHref } from '../../../dashboard/route.ts';
import type { AccessNote } from '../../../shared/wire/access.ts';
import type { Right, Session } from '../../../shared/wire/session.ts';
import { isoTime } from '../../../shared/wire/time.ts';
import { Api, eventually } from '../../support/api.ts';
import { startChromium } from '../../support/chromium.ts';
import { notReachedByTab } from '../../support/hands.ts';
import { goOnTo } from '../../support/opened-page.ts';
import { dataFolder, LOOPBACK, type Served, serve } from '../../support/serving.ts';
import { isThorough } from '../../support/thorough.ts';

/**
 * Every page, on a site where something is going on: it shows its own content, fits, says nothing wrong in the
 * console, asks no other host, and axe-core finds nothing against WCAG 2.2 A and AA. One width and theme in an
 * ordinary run, where one tab goes from page to page as a reader does; in `npm run test:hard` all of them, each page
 * loaded for itself, then with all unfolded too, and by Tab through every page.
 */
const WIDTHS = isThorough ? [320, 768, 1440] : [320];
const THEMES = isThorough ? (['light', 'dark'] as const) : (['light'] as const);
const TAGS = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'];
const AXE = axe.source;
const AT = { site: 'shed', vessel: 'r1' };
const PATIENCE_MS = 20_000;
/** So long after the last answer nothing more is asked for, ms. */
const QUIET_MS = 250;

let browser: Browser;
let served: Served;
let device: MqttClient;
let removeData: () => void;
/** Of every page but the one that a message's link leads to, which `reach.test.ts` opens. */
let hashes: Record<Exclude<Route['page'], 'answer'>, string>;

beforeAll(async () => {
  const { data, remove } = dataFolder();
  removeData = remove;
  served = await serve({ data });
  browser = await startChromium();
  device = await connectAsync(`mqtt://${LOOPBACK}:${served.mqttPort}`, { reconnectPeriod: 0 });
  const api = new Api(served.httpPort);
  const read = (channel: string, value: number, vessel = 'r1') =>
    device.publishAsync(`esterwatch/v1/reading/shed/${vessel}/${channel}`, String(value), { qos: 1 });
  for (const vessel of ['r1', 'r2', 'm1']) await read('liquid-temperature', 40, vessel);
  await api.call('PUT', '/api/v1/vessels/shed:m1', { role: 'methoxide' });
  await api.stateSite('shed', { altitudeM: 340 });
  const past = await api.openBatch('shed:r1');
  await api.enter(past, 'react');
  await api.enter(past, 'finished');
  const { id: lot } = (await (
    await api.call('POST', '/api/v1/lots', {
      site: 'shed',
      kind: 'oil',
      name: 'Canteen, second drum',
      litres: 80,
    })
  ).json()) as { id: string };
  expect(lot).toBeTruthy();
  const now = await api.openBatch('shed:r1', { oil: { volumeL: 100 }, watch: { lowestStirrerSpeed: 200 } });
  await api.enter(now, 'react');
  await device.publishAsync(
    'esterwatch/v1/reading/shed/r1/liquid-temperature',
    JSON.stringify(
      Array.from({ length: 50 }, (_, i) => ({
        value: 54 + i / 20,
        at: isoTime(Date.now() - (50 - i) * 1000),
      })),
    ),
    { qos: 1 },
  );
  await device.publishAsync('esterwatch/v1/presence/shed/r1-node', 'here', { qos: 1, retain: true });
  for (const [channel, value] of [
    ['stirrer-speed', 305],
    ['ambient-pressure', 972],
    ['liquid-temperature', 62.9],
  ] as const)
    await read(channel, value);
  await device.publishAsync('esterwatch/v1/reading/shed/r1/a/b/c/a-long-name-that-cannot-be-broken', '1', {
    qos: 1,
  });
  const [alarm] = await eventually(
    () => api.alarms('?standing=true'),
    ({ length }) => length > 0,
  );
  hashes = {
    overview: hrefOf('overview'),
    vessel: vesselHref(AT),
    wall: vesselHref(AT, 'wall'),
    history: vesselHref(AT, 'history'),
    oil: hrefOf('oil'),
    recipe: hrefOf('recipe'),
    batches: hrefOf('batches'),
    batch: idHref('batch', now),
    beside: besideHref(past, now),
    stock: hrefOf('stock'),
    alarms: hrefOf('alarms'),
    alarm: idHref('alarm', alarm!.id),
    'power-cut': hrefOf('power-cut'),
    'set-up': hrefOf('set-up'),
    people: hrefOf('people'),
    refused: hrefOf('refused'),
  };
}, 90_000);
afterAll(async () => {
  await browser?.close();
  await device?.endAsync(true);
  served?.kill('SIGKILL');
  await served?.ended;
  removeData?.();
});

const PAGES = [
  'overview',
  'vessel',
  'wall',
  'history',
  'oil',
  'recipe',
  'batches',
  'batch',
  'beside',
  'stock',
  'alarms',
  'alarm',
  'power-cut',
  'set-up',
  'people',
  'refused',
] as const satisfies readonly Route['page'][];

interface Opened {
  page: Page;
  /** What the browser's console calls an error, and what the page threw. */
  errors: string[];
  /** Hosts asked for anything. */
  hosts: Set<string>;
  /** Resolves when whatever it fetches has come. */
  fetched(): Promise<unknown>;
}

async function open(
  hash: string,
  width: number,
  theme: 'light' | 'dark',
  prepare: (page: Page) => Promise<unknown> = async () => {},
  atEnd: (cleanUp: () => Promise<void>) => void = onTestFinished,
): Promise<Opened> {
  const context = await browser.newContext({
    viewport: { width, height: width === 320 ? 640 : 900 },
    colorScheme: theme,
    reducedMotion: 'reduce',
    locale: 'en-GB',
  });
  atEnd(() => context.close());
  const page = await context.newPage();
  page.setDefaultTimeout(PATIENCE_MS);
  const errors: string[] = [];
  const hosts = new Set<string>();
  page.on('console', (message) => {
    if (message.type() === 'error') errors.push(message.text());
  });
  page.on('pageerror', (error) => errors.push(String(error)));
  const underWay = new Set<Request>();
  let changedMs = performance.now();
  page.on('request', (request) => {
    // What a page makes itself (a picture, a worker) has no host.
    const { host } = new URL(request.url());
    if (host !== '') hosts.add(host);
    underWay.add(request);
    changedMs = performance.now();
  });
  const ended = (request: Request) => {
    underWay.delete(request);
    changedMs = performance.now();
  };
  page.on('requestfinished', ended).on('requestfailed', ended);
  page.on('websocket', (socket) => hosts.add(new URL(socket.url()).host));
  const fetched = () =>
    eventually(
      () => underWay.size === 0 && performance.now() - changedMs > QUIET_MS,
      (isQuiet) => isQuiet,
    );
  await prepare(page);
  await page.goto(`http://${LOOPBACK}:${served.httpPort}/${hash}`);
  return { page, errors, hosts, fetched };
}

let tab: Opened | undefined;

/** A page in a tab of its own where the run is thorough; else in the one tab, coming from the page before. */
async function show(hash: string, width: number, theme: 'light' | 'dark'): Promise<Opened> {
  if (isThorough) return open(hash, width, theme);
  // The browser is closed after all tests.
  if (tab === undefined) {
    tab = await open(hash, width, theme, undefined, () => {});
    return tab;
  }
  const { page, errors, hosts } = tab;
  errors.length = 0;
  hosts.clear();
  await page.evaluate(() => {
    document.documentElement.style.fontSize = '';
  });
  await goOnTo(page, `http://${LOOPBACK}:${served.httpPort}/${hash}`);
  return tab;
}

/** What axe-core finds against the standard, a line each. */
async function violations(page: Page): Promise<string[]> {
  if (!(await page.evaluate(() => 'axe' in globalThis))) await page.evaluate(AXE);
  return page.evaluate(async (tags) => {
    const axe = (globalThis as unknown as { axe: { run(options: object): Promise<AxeResult> } }).axe;
    const { violations } = await axe.run({ runOnly: { type: 'tag', values: tags } });
    return violations.flatMap(({ id, nodes }) =>
      nodes.map(({ target, failureSummary }) => `${id}: ${target.join(' ')}: ${failureSummary}`),
    );
  }, TAGS);
}
interface AxeResult {
  violations: { id: string; nodes: { target: string[]; failureSummary: string }[] }[];
}

test('with alarms of every kind the head of the page takes one row at a desk', {
  timeout: 60_000,
}, async () => {
  const { page } = await open(hashes.overview, 1280, 'light');
  await page.locator('.top .standing').waitFor();
  const { head, link } = await page.evaluate(() => {
    // The gravest in a word stands there already.
    const standing = document.querySelector('.top .standing')!;
    const kind = standing.querySelector('span')!;
    const others = [1, 2, 3].map(() => {
      const other = kind.cloneNode(true) as HTMLElement;
      other.className = 'shape-only';
      return other;
    });
    standing.replaceChildren(kind, ...others, '1 set aside');
    const heightOf = (what: string) => document.querySelector(what)!.getBoundingClientRect().height;
    return { head: heightOf('.top'), link: heightOf('.top nav a') };
  });
  expect(head).toBeLessThan(1.5 * link);
});

describe.each(THEMES)('%s', (theme) => {
  describe.each(WIDTHS)('%i px', (width) => {
    test.for(PAGES)('%s', { timeout: 90_000 }, async (name) => {
      const { page, errors, hosts, fetched } = await show(hashes[name], width, theme);
      await page.locator('.page.live').waitFor();
      await page.locator('main :is(h1, h2)').first().waitFor({ state: 'attached' });
      await fetched();
      expect(await page.locator('main h1').count(), 'one first heading').toBe(1);
      expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBeLessThanOrEqual(width);
      expect(await violations(page)).toEqual([]);
      if (isThorough) {
        await page.evaluate(() => {
          for (const folded of document.querySelectorAll('details')) folded.open = true;
        });
        await page.waitForTimeout(500);
        expect(
          await page.evaluate(() => document.documentElement.scrollWidth),
          'unfolded',
        ).toBeLessThanOrEqual(width);
        expect(await violations(page), 'unfolded').toEqual([]);
      }
      expect(errors).toEqual([]);
      // All that it asks for may be there already, from the page before.
      expect([...hosts].filter((host) => host !== `${LOOPBACK}:${served.httpPort}`)).toEqual([]);
      // Whoever reads large letters does not scroll sideways for them.
      await page.evaluate(() => {
        document.documentElement.style.fontSize = '200%';
      });
      expect(
        await page.evaluate(() => document.documentElement.scrollWidth),
        'text at 200 %',
      ).toBeLessThanOrEqual(width);
    });
  });
});

/** As where somebody is set up and nobody signed in. */
const shut = (page: Page) =>
  page.route('**/api/v1/session', (route) => route.fulfill({ json: { wanted: true, person: null } }));

/** As where a keeper is signed in, and others, a script and devices are set up. */
async function kept(page: Page): Promise<void> {
  const may = (...rights: Right[]): Right[] => ['look', ...rights];
  const ada = { name: 'Ada Brook', rights: may('work', 'keep') };
  const at = isoTime(Date.now());
  const answers: Readonly<Record<string, object>> = {
    session: { wanted: true, person: ada } satisfies Session,
    people: { people: [ada, { name: 'Somebodywithaverylongname Valentine', rights: may() }] },
    tokens: { tokens: [{ name: 'sheet', person: ada.name, rights: may(), ends: at }] },
    publishers: {
      publishers: [
        { name: 'r1-node', site: 'shed' },
        { name: 'spare-node', site: null },
      ],
    },
    'access/history': {
      history: [
        { what: 'signed-in', at, by: ada.name, from: LOOPBACK },
        { what: 'sign-in-refused', at, by: ada.name, person: null, from: LOOPBACK },
        { what: 'access-changed', at, by: ada.name, kind: 'device', name: 'r1-node', may: 'shed' },
      ] satisfies AccessNote[],
    },
  };
  for (const [path, json] of Object.entries(answers))
    await page.route(`**/api/v1/${path}`, (route) => route.fulfill({ json }));
}

const LET_IN = [
  ['the form to sign in', 'overview', shut, 'main form'],
  ['people, as a keeper sees them', 'people', kept, 'main .let-in'],
] as const;

describe.each(THEMES)('%s', (theme) => {
  describe.each(WIDTHS)('%i px', (width) => {
    test.for(LET_IN)('%s', { timeout: 60_000 }, async ([, name, prepare, shows]) => {
      const { page, errors, fetched } = await open(hashes[name], width, theme, prepare);
      await page.locator(shows).first().waitFor();
      await page.evaluate(() => {
        for (const folded of document.querySelectorAll('main details'))
          (folded as HTMLDetailsElement).open = true;
      });
      await fetched();
      expect(await page.locator('main h1').count(), 'one first heading').toBe(1);
      expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBeLessThanOrEqual(width);
      expect(await violations(page)).toEqual([]);
      expect(errors).toEqual([]);
      await page.evaluate(() => {
        document.documentElement.style.fontSize = '200%';
      });
      expect(
        await page.evaluate(() => document.documentElement.scrollWidth),
        'text at 200 %',
      ).toBeLessThanOrEqual(width);
    });
  });
});

describe.runIf(isThorough)('by Tab alone', () => {
  describe.each([320, 1440])('%i px', (width) => {
    test.for(PAGES)('%s', { timeout: 90_000 }, async (name) => {
      const { page, fetched } = await open(hashes[name], width, 'light');
      await page.locator('.page.live').waitFor();
      await fetched();
      expect(await notReachedByTab(page)).toEqual([]);
    });
  });
});
