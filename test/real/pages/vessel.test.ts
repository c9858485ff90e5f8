import { connectAsync, type MqttClient } from 'mqtt';
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, expect, onTestFinished, test } from 'vitest';
import { HISTORY } from '../../../dashboard/texts/history.ts';
import { TEXTS } from '../../../dashboard/texts/live.ts';
import { TYPED } from '../../../dashboard/texts/typed.ts';
import { Api, eventually } from '../../support/api.ts';
import { startChromium } from '../../support/chromium.ts';
import { goOnTo, NARROW, openPage } from '../../support/opened-page.ts';
import { dataFolder, LOOPBACK, type Served, serve } from '../../support/serving.ts';

let browser: Browser;
let removeData: () => void;
let served: Served;
let api: Api;
let device: MqttClient;

const send = (vessel: string, channel: string, value: number) =>
  device.publishAsync(`esterwatch/v1/reading/shed/${vessel}/${channel}`, String(value), { qos: 1 });

beforeAll(async () => {
  const { data, remove } = dataFolder();
  removeData = remove;
  [browser, served] = await Promise.all([startChromium(), serve({ data })]);
  device = await connectAsync(`mqtt://${LOOPBACK}:${served.mqttPort}`, { reconnectPeriod: 0 });
  api = new Api(served.httpPort);
  await api.ready();
  await api.stateSite('shed', { altitudeM: 0 });
  await send('r1', 'liquid-temperature', 54);
});
afterAll(async () => {
  await browser?.close();
  await device?.endAsync(true);
  served?.kill('SIGKILL');
  await served?.ended;
  removeData?.();
});

test('a temperature that looks like °F is asked about once more, and taken all the same', {
  timeout: 60_000,
}, async () => {
  const { page, errors } = await openPage(browser, served.httpPort, '#/vessel/shed/r1');
  const typed = page.locator('.typed');
  const value = async () => (await api.vessel('shed:r1')).readings['liquid-temperature']!.value;
  await typed.getByRole('textbox').fill('129');
  await typed.getByRole('button', { name: TYPED.save }).click();
  await typed.getByText(TYPED.otherUnit('129.0 °C', '°F', '54.0 °C')).waitFor();
  // Asked again it is asked about again; another number is another question.
  await typed.getByRole('textbox').press('Enter');
  expect(await value()).toBe(54);
  await typed.getByRole('textbox').fill('55');
  await typed.getByRole('button', { name: TYPED.anyway }).waitFor({ state: 'detached' });
  await typed.getByRole('textbox').fill('129');
  await typed.getByRole('button', { name: TYPED.save }).click();
  await typed.getByRole('button', { name: TYPED.anyway }).click();
  await eventually(value, (now) => now === 129);
  expect(errors).toEqual([]);
});

test('a channel that no rule reads says so beside its chart', { timeout: 60_000 }, async () => {
  await send('r2', 'liquid-temperature', 20);
  await api.call('POST', '/api/v1/vessels/shed:r2/readings', { channel: 'room-humidity', value: 61 });
  const { page } = await openPage(browser, served.httpPort, '#/vessel/shed/r2');
  const captions = page.locator('figcaption');
  await captions.filter({ hasText: 'Room humidity' }).getByText(HISTORY.unread).waitFor();
  expect(await captions.filter({ hasText: 'Liquid temperature' }).getByText(HISTORY.unread).count()).toBe(0);
});

test('alarms that are over are short lines, and beyond three behind one', { timeout: 60_000 }, async () => {
  // Each jump is over with the reading that confirms it, and goes elsewhere: two devices on the channel would not.
  const values = [20, 60, 60, 25, 25, 65, 65, 31, 31, 71, 71];
  for (const value of values) await send('r3', 'liquid-temperature', value);
  await eventually(
    () => api.alarms('?standing=true'),
    (alarms) => alarms.filter(({ standing }) => !standing).length === 5,
  );
  const { page, width } = await openPage(browser, served.httpPort, '#/vessel/shed/r3');
  const over = page.getByRole('list', { name: TEXTS.alarms.over });
  await over.first().waitFor();
  expect(await over.first().getByRole('listitem').count()).toBe(3);
  const more = page.locator('.more-over');
  await more.getByText(TEXTS.alarms.moreOver(2)).click();
  await eventually(
    () => more.getByRole('listitem').count(),
    (count) => count === 2,
  );
  // In short: without the sentence that says what was.
  expect(await page.locator('.over').allTextContents()).not.toContainEqual(expect.stringContaining('faster'));
  expect(await width()).toBeLessThanOrEqual(NARROW.width);
});

test('a page that the daemon has no file for any more says that it is older', {
  timeout: 60_000,
}, async () => {
  // Without a service worker, whose requests cannot be answered from here.
  const context = await browser.newContext({ viewport: NARROW, serviceWorkers: 'block' });
  onTestFinished(() => context.close());
  const page = await context.newPage();
  await page.goto(`http://${LOOPBACK}:${served.httpPort}/`);
  await page.locator('.page.live').waitFor();
  await page.route('**/assets/*-page-*', (route) => route.fulfill({ status: 404, body: '' }));
  const goTo = (hash: string) =>
    page.evaluate((to) => {
      location.hash = to;
    }, hash);
  await goTo('#/stock');
  await page.getByRole('heading', { level: 1, name: TEXTS.latePage.failed }).waitFor();
  expect(await page.locator('.outdated').count()).toBe(0);

  await page.route('**/index.html', async (route) => {
    const answer = await route.fetch();
    const next = (await answer.text()).replace(/assets\/page-[\w-]+\.js/, 'assets/page-12345678.js');
    await route.fulfill({ response: answer, body: next });
  });
  await goTo('#/recipe');
  await page.getByRole('heading', { level: 1, name: TEXTS.latePage.outdated }).waitFor();
  await page.unrouteAll();
  await page.locator('.outdated').getByRole('button', { name: TEXTS.latePage.reload }).click();
  await page.getByRole('heading', { level: 1, name: TEXTS.nav.recipe }).waitFor();
  expect(await page.locator('.outdated').count()).toBe(0);
});

test('a page that is of nothing has one first heading', { timeout: 60_000 }, async () => {
  const { page } = await openPage(browser, served.httpPort, '#/vessel/shed/none');
  await page.locator('.page.live').waitFor();
  for (const hash of [
    '#/vessel/shed/none',
    '#/wall/shed/none',
    '#/history/shed/none',
    '#/alarm/none',
    '#/batch/none',
    '#/beside/none/other',
    '#/stock?lot=none',
  ]) {
    const address = `http://${LOOPBACK}:${served.httpPort}/${hash}`;
    if (page.url() !== address) await goOnTo(page, address);
    // It is asked for, and what is said then has a heading, too.
    await page.waitForTimeout(300);
    await page.locator('main h1').waitFor({ state: 'attached' });
    expect([hash, await page.locator('main h1').count()]).toEqual([hash, 1]);
  }
});

test('a name from right to left leaves the words around it as they are', { timeout: 60_000 }, async () => {
  await send('r4', 'liquid-temperature', 20);
  const name = '\u202eabc ندى';
  const answer = await api.call('POST', '/api/v1/batches', { vessel: 'shed:r4', plan: {}, name });
  const { id } = (await answer.json()) as { id: string };
  const { page } = await openPage(browser, served.httpPort, `#/batch/${id}`);
  const heading = page.locator('main h1 bdi');
  await heading.waitFor();
  expect(await heading.evaluate((one) => getComputedStyle(one).unicodeBidi)).toBe('isolate');
  await page.goto(`http://${LOOPBACK}:${served.httpPort}/#/batches`);
  await page.locator('td bdi', { hasText: 'abc' }).waitFor();
});
