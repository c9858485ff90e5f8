import { readdirSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import axe from 'axe-core';
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { idHref } from '../../../dashboard/route.ts';
import { ALARM_TEXTS } from '../../../dashboard/texts/alarms.ts';
import { TEXTS } from '../../../dashboard/texts/live.ts';
import { ALARM_NAMES } from '../../../shared/rules/names.ts';
import { Api, eventually } from '../../support/api.ts';
import { startChromium } from '../../support/chromium.ts';
import { openPage } from '../../support/opened-page.ts';
import { dataFolder, LOOPBACK, type Served, serve } from '../../support/serving.ts';
import { isThorough } from '../../support/thorough.ts';

const HELP = fileURLToPath(new URL('../../../dist/dashboard/help', import.meta.url));
/** An ordinary phone, px. */
const PHONE = { width: 360, height: 740 };
const TAGS = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'];

let browser: Browser;
let served: Served;
let removeData: () => void;

beforeAll(async () => {
  const { data, remove } = dataFolder();
  removeData = remove;
  served = await serve({ data });
  browser = await startChromium();
});
afterAll(async () => {
  await browser?.close();
  served?.kill('SIGTERM');
  await served?.ended;
  removeData?.();
});

const pages = (): string[] =>
  readdirSync(HELP, { recursive: true, encoding: 'utf8' })
    .filter((path) => path.endsWith('.html'))
    .sort();

test('every page of the help is there, loads by the policy, fits a phone, and asks nobody else', {
  // Some seventy pages in a thorough run; all of them are made by one program from one form.
  timeout: 180_000,
}, async () => {
  const found = pages();
  expect(found).toEqual(
    expect.arrayContaining([
      'docs/guide/index.html',
      ...ALARM_NAMES.map((name) => `docs/guide/alarms/${name}.html`),
    ]),
  );
  const { page, errors, hosts, width } = await openPage(
    browser,
    served.httpPort,
    'help/docs/guide/index.html',
  );
  await page.setViewportSize(PHONE);
  const oneIn = isThorough ? 1 : 6;
  for (const [i, path] of found.entries()) {
    const url = `http://${LOOPBACK}:${served.httpPort}/help/${path}`;
    const fetched = await fetch(url);
    expect([path, fetched.status, (await fetched.text()).match(/<h1/g)?.length]).toEqual([path, 200, 1]);
    if (i % oneIn !== 0) continue;
    const answer = await page.goto(url);
    expect([path, answer?.status(), await page.locator('h1').count()]).toEqual([path, 200, 1]);
    expect([path, await width()]).toEqual([path, PHONE.width]);
    // The style sheet came: without it a text stretches over any screen.
    expect(await page.evaluate(() => getComputedStyle(document.body).maxWidth)).not.toBe('none');
  }
  expect(errors).toEqual([]);
  expect([...hosts]).toEqual([`${LOOPBACK}:${served.httpPort}`]);
});

test.each(['light', 'dark'] as const)(
  'axe-core finds nothing against the help, %s',
  {
    timeout: 90_000,
  },
  async (colorScheme) => {
    const { page } = await openPage(browser, served.httpPort, 'help/docs/guide/index.html', (tab) =>
      tab.emulateMedia({ colorScheme }),
    );
    // Each kind of page once; in the dark, which changes colours alone, that with the most kinds of text.
    const kinds = ['guide/index', 'guide/jar', 'guide/alarms/boiling-near', 'guide/charts', 'rules'];
    for (const path of isThorough || colorScheme === 'light' ? kinds : ['guide/charts', 'rules']) {
      await page.goto(`http://${LOOPBACK}:${served.httpPort}/help/docs/${path}.html`);
      // Past the policy, which forbids a script of ours, as a browser's own tools are.
      const found = (await page.evaluate(
        `(() => { ${axe.source}; return axe.run({ runOnly: ${JSON.stringify(TAGS)} }); })()`,
      )) as { violations: { id: string; nodes: { html: string }[] }[] };
      expect([path, found.violations.map(({ id, nodes }) => `${id}: ${nodes[0]?.html}`)]).toEqual([path, []]);
    }
  },
);

test('the head of the page leads to the help, an alarm to its own page of it', async () => {
  const api = new Api(served.httpPort);
  await api.call('PUT', '/api/v1/sites/shed', { altitudeM: 340 });
  await api.call('PUT', '/api/v1/vessels/shed:r1', { role: 'reactor' });
  const batch = await api.openBatch('shed:r1');
  await api.enter(batch, 'dose');
  for (const value of [62.9, 63])
    await api.call('POST', '/api/v1/vessels/shed:r1/readings', { channel: 'liquid-temperature', value });
  const alarm = await eventually(
    async () => (await api.get<{ alarms: { id: string; alarm: string }[] }>('/api/v1/alarms')).alarms[0],
    (one) => one !== undefined,
  );
  const { page } = await openPage(browser, served.httpPort, idHref('alarm', alarm!.id));
  const opened = async (name: string): Promise<string> => {
    const [tab] = await Promise.all([
      page.context().waitForEvent('page'),
      page.getByRole('link', { name, exact: true }).click(),
    ]);
    await tab.locator('h1').waitFor();
    return new URL(tab.url()).pathname;
  };
  expect(await opened(ALARM_TEXTS.one.guide)).toBe(`/help/docs/guide/alarms/${alarm!.alarm}.html`);
  expect(await opened(TEXTS.nav.help)).toBe('/help/docs/guide/index.html');
});

test('the help is there before anybody has signed in', async () => {
  const { data, remove } = dataFolder();
  const shut = await serve({ data });
  try {
    const api = new Api(shut.httpPort);
    const body = { passphrase: 'a long enough phrase', rights: ['work', 'keep'] };
    await api.call('PUT', '/api/v1/people/Ada', body);
    expect((await fetch(`http://${LOOPBACK}:${shut.httpPort}/api/v1/vessels`)).status).toBe(401);
    const answer = await fetch(`http://${LOOPBACK}:${shut.httpPort}/help/docs/guide/index.html`);
    expect(answer.status).toBe(200);
    expect(answer.headers.get('content-security-policy')).toContain("script-src 'self'");
  } finally {
    shut.kill('SIGTERM');
    await shut.ended;
    remove();
  }
});
