import { connectAsync, type MqttClient } from 'mqtt';
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { MENDS } from '../../../dashboard/texts/mends.ts';
import { SET_UP } from '../../../dashboard/texts/set-up.ts';
import { SHELL_TEXTS } from '../../../dashboard/texts/shell.ts';
import type { SiteAnswer } from '../../../shared/wire/set-up.ts';
import { Api, eventually } from '../../support/api.ts';
import { startChromium } from '../../support/chromium.ts';
import { NARROW, openPage } from '../../support/opened-page.ts';
import { dataFolder, LOOPBACK, type Served, serve } from '../../support/serving.ts';

let browser: Browser;
let served: Served;
let device: MqttClient;
let api: Api;
let removeData: () => void;

const publish = (topic: string, payload: string) =>
  device.publishAsync(`esterwatch/v1/${topic}`, payload, { qos: 1 });

beforeAll(async () => {
  const folder = dataFolder();
  removeData = folder.remove;
  browser = await startChromium();
  served = await serve({ data: folder.data });
  device = await connectAsync(`mqtt://${LOOPBACK}:${served.mqttPort}`, { reconnectPeriod: 0 });
  api = new Api(served.httpPort);
  await publish('reading/shed/r1/liquid-temperature', '54.2');
  await publish('presence/shed/r1-probe', 'gone');
});
afterAll(async () => {
  await browser?.close();
  await device?.endAsync(true);
  served?.kill('SIGKILL');
  await served?.ended;
  removeData?.();
});

const site = async () => (await api.get<{ sites: SiteAnswer[] }>('/api/v1/sites')).sites[0]!;

test('places, vessels and devices are set up and seen', { timeout: 60_000 }, async () => {
  const { page, errors, hosts, width } = await openPage(browser, served.httpPort, '#/set-up');
  await page.getByText(SET_UP.places.assumed).waitFor();
  await page.getByRole('button', { name: `${SET_UP.places.set}: shed` }).click();
  await page.getByLabel(SET_UP.height.unit).selectOption('ft');
  await page.getByLabel(SET_UP.height.field, { exact: true }).fill('1000');
  await page.getByRole('button', { name: SET_UP.places.save, exact: true }).first().click();
  await page.getByText(SET_UP.places.assumed).waitFor({ state: 'detached' });
  expect(await site()).toMatchObject({ altitudeM: 304.8, barometer: null });

  await page.getByRole('button', { name: `${SET_UP.places.change}: shed` }).click();
  await page.getByLabel(SET_UP.places.ways.pressure).check();
  await page.getByLabel(SET_UP.places.pressure).fill('965.5');
  await page.getByRole('button', { name: SET_UP.places.save, exact: true }).first().click();
  await eventually(site, ({ pressureHPa }) => pressureHPa === 965.5);

  await page.getByLabel(SET_UP.vessels.role('r1')).selectOption('wash');
  await page.getByRole('button', { name: SET_UP.places.save, exact: true }).last().click();
  await page.getByText(SET_UP.vessels.saved('r1', 'wash tank')).waitFor();
  expect((await api.vessel('shed:r1')).role).toBe('wash');

  const gone = page.getByRole('row', { name: /r1-probe/ });
  await gone.getByText(SET_UP.devices.gone).waitFor();
  await gone.getByText('54.2 °C').waitFor();
  await publish('presence/shed/r1-probe', 'here');
  await gone.getByText(SET_UP.devices.here).waitFor();

  expect(await width()).toBeLessThanOrEqual(NARROW.width);
  expect(errors).toEqual([]);
  expect([...hosts]).toEqual([`${LOOPBACK}:${served.httpPort}`]);
});

test('what was refused comes with how to mend it, here and on its own page', {
  timeout: 60_000,
}, async () => {
  await publish('reading/shed/r1/liquid-temperature', 'nan');
  const { page, errors, width } = await openPage(browser, served.httpPort, '#/set-up');
  const [refused] = await api.refused();
  await page.getByText(SET_UP.refused.open).click();
  await page.getByText(MENDS[refused!.code as keyof typeof MENDS]).waitFor();
  await page.goto(`http://${LOOPBACK}:${served.httpPort}/#/refused`);
  await page.getByText(MENDS[refused!.code as keyof typeof MENDS]).waitFor();
  expect(await width()).toBeLessThanOrEqual(NARROW.width);
  expect(errors).toEqual([]);
});

test('the link is tested both ways, and the daemon says how it is', { timeout: 60_000 }, async () => {
  const { page, errors } = await openPage(browser, served.httpPort, '#/set-up');
  await page.getByRole('button', { name: SET_UP.link.test }).click();
  await page.getByText(/Five questions answered: in [\d.]+ ms/).waitFor();
  await page.getByRole('button', { name: SET_UP.link.warn('shed') }).click();
  await page.getByText(/came back to this page after [\d.]+ ms/).waitFor();
  // Every page says of it that nothing is wrong, until it is closed.
  await page.getByText(SHELL_TEXTS.testWarning.title).waitFor();
  await page.getByRole('button', { name: SHELL_TEXTS.testWarning.close }).click();
  await page.getByText(SHELL_TEXTS.testWarning.title).waitFor({ state: 'detached' });

  const { version, broker } = await api.get<{
    version: string;
    broker: { listens: { port: number } };
  }>('/api/v1/health');
  await page.locator('.health').getByText(version, { exact: true }).waitFor();
  await page.locator('.health').getByText(`:${broker.listens.port}`).waitFor();
  await page.locator('.health').getByText(SET_UP.link.ready, { exact: true }).waitFor();
  expect(errors).toEqual([]);
});

test('of two pages that send a test warning at once each sees its own', { timeout: 60_000 }, async () => {
  const { page: one } = await openPage(browser, served.httpPort, '#/set-up');
  let release: (() => Promise<void>) | undefined;
  const { page: other } = await openPage(browser, served.httpPort, '#/set-up', (page) =>
    page.route('**/test-warning', (route) => {
      release = () => route.continue();
    }),
  );
  const arrived = /came back to this page/;
  await other.getByRole('button', { name: SET_UP.link.warn('shed') }).click();
  await other.getByText(SET_UP.link.waiting).waitFor();
  await one.getByRole('button', { name: SET_UP.link.warn('shed') }).click();
  await one.getByText(arrived).waitFor();
  await other.getByText(SHELL_TEXTS.testWarning.title).waitFor();
  expect(await other.getByText(arrived).count()).toBe(0);
  await release!();
  await other.getByText(arrived).waitFor();
});

test('what a reader chooses here is kept and shown at once', { timeout: 60_000 }, async () => {
  const { page, errors } = await openPage(browser, served.httpPort, '#/set-up');
  const newest = (reading: string) =>
    page.getByRole('row', { name: /^liquid-temperature/ }).getByText(reading, { exact: true });
  await newest('54.2 °C').waitFor();
  await page.getByLabel('°F').check();
  await newest('129.6 °F').waitFor();
  await page.reload();
  await newest('129.6 °F').waitFor();
  expect(errors).toEqual([]);
});

test('a barometer that sends a pressure reduced to sea level does not count, and is told to be one', async () => {
  await publish('reading/denver/r1/ambient-pressure', '1013.25');
  await api.call('PUT', '/api/v1/sites/denver', { altitudeM: 1609 });
  const { page, errors } = await openPage(browser, served.httpPort, '#/set-up');
  await page.getByText(SET_UP.places.countsNot).waitFor();
  const { sites } = await api.get<{ sites: SiteAnswer[] }>('/api/v1/sites');
  expect(sites.find((one) => one.site === 'denver')).toMatchObject({ barometer: { counts: false } });
  expect(errors).toEqual([]);
});
