import { connectAsync, type IClientOptions } from 'mqtt';
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, expect, onTestFinished, test } from 'vitest';
import { boilsThere } from '../../../dashboard/pages/set-up/place.ts';
import { MENDS } from '../../../dashboard/texts/mends.ts';
import { SENT_DOUBT } from '../../../dashboard/texts/sent-doubt.ts';
import { FIRST_START, SET_UP } from '../../../dashboard/texts/set-up.ts';
import { TYPED } from '../../../dashboard/texts/typed.ts';
import { formatTemperature } from '../../../shared/units/temperature.ts';
import { REFUSALS } from '../../../shared/wire/refusals.ts';
import type { SiteAnswer } from '../../../shared/wire/set-up.ts';
import { Api } from '../../support/api.ts';
import { startChromium } from '../../support/chromium.ts';
import { NARROW, openPage } from '../../support/opened-page.ts';
import { dataFolder, LOOPBACK, type Served, serve } from '../../support/serving.ts';

let browser: Browser;
beforeAll(async () => {
  browser = await startChromium();
});
afterAll(async () => {
  await browser?.close();
});

/** A daemon that has heard nothing yet. */
async function newDaemon(): Promise<{ served: Served; api: Api }> {
  const { data, remove } = dataFolder();
  const served = await serve({ data });
  onTestFinished(async () => {
    served.kill('SIGKILL');
    await served.ended;
    remove();
  });
  return { served, api: new Api(served.httpPort) };
}

test('where nothing was heard yet it leads to a place, a vessel, a reading and a warning, and goes away', {
  timeout: 60_000,
}, async () => {
  const { served, api } = await newDaemon();
  const { page, errors, hosts, width } = await openPage(browser, served.httpPort, '');
  await page.getByRole('heading', { level: 1, name: FIRST_START.title }).waitFor();

  // Where methanol boils shows before anything is saved.
  await page.getByLabel(SET_UP.places.name).fill('Larch Barn');
  await page.getByText(SET_UP.name.becomes('larch-barn')).waitFor();
  await page.getByLabel(SET_UP.height.field, { exact: true }).fill('1600');
  const { boilingC, pressureHPa } = boilsThere(1600);
  const boils = SET_UP.height.boils(formatTemperature(boilingC, 'C'), pressureHPa.toFixed(0));
  await page.getByText(boils).waitFor();
  expect(await api.get<{ sites: SiteAnswer[] }>('/api/v1/sites')).toEqual({ sites: [] });
  expect(await width()).toBeLessThanOrEqual(NARROW.width);
  await page.getByRole('button', { name: FIRST_START.place.save }).click();

  await page.getByLabel(SET_UP.vessels.name).fill('r1');
  await page.getByLabel(SET_UP.vessels.roleLabel).selectOption('settling');
  await page.getByRole('button', { name: FIRST_START.vessel.save }).click();

  // The line that is shown to be copied, word for word, as a shell takes it apart.
  const line = (await page.locator('pre code').textContent())!.split(' ');
  const option = (name: string) => line[line.indexOf(name) + 1]!;
  expect([option('-h'), option('-p')]).toEqual([LOOPBACK, String(served.mqttPort)]);
  expect(await width()).toBeLessThanOrEqual(NARROW.width);
  // A reload in the middle goes on where it was.
  await page.reload();
  await page.getByText(FIRST_START.reading.waiting).waitFor();
  const device = await connectAsync(`mqtt://${option('-h')}:${option('-p')}`, { reconnectPeriod: 0 });
  onTestFinished(() => device.endAsync(true));
  await device.publishAsync(option('-t'), option('-m'), { qos: 1 });

  await page.getByRole('button', { name: FIRST_START.warning.send }).click();
  await page.getByRole('button', { name: FIRST_START.warning.seen }).click();
  await page.getByRole('heading', { name: FIRST_START.title }).waitFor({ state: 'detached' });
  await page.locator('article.vessel').waitFor();
  await page.reload();
  await page.locator('article.vessel').waitFor();
  expect(await page.getByRole('heading', { name: FIRST_START.title }).count()).toBe(0);

  const { sites } = await api.get<{ sites: SiteAnswer[] }>('/api/v1/sites');
  expect(sites).toMatchObject([{ site: 'larch-barn', altitudeM: 1600, pressureAssumed: false, boilingC }]);
  expect(sites[0]!.warningTested).not.toBeNull();
  const vessel = await api.vessel('larch-barn:r1');
  expect(vessel).toMatchObject({ role: 'settling', boilingAssumed: false });
  expect(vessel.readings['liquid-temperature']).toMatchObject({ value: 21.5, typed: false });
  expect(await api.alarms()).toEqual([]);
  expect(errors).toEqual([]);
  expect([...hosts]).toEqual([`${LOOPBACK}:${served.httpPort}`]);
});

test('without a sensor a reading is typed in, and it can be gone through again from the set-up', {
  timeout: 60_000,
}, async () => {
  const { served, api } = await newDaemon();
  await api.call('PUT', '/api/v1/sites/attic', { altitudeM: 0 });
  await api.call('PUT', '/api/v1/vessels/attic:jar', { role: 'reactor' });
  const { page, errors } = await openPage(browser, served.httpPort, '#/set-up');
  await page.getByRole('link', { name: SET_UP.firstStart }).click();
  await page.getByRole('heading', { level: 1, name: FIRST_START.title }).waitFor();
  // The vessels stay in sight below it.
  await page.locator('article.vessel').first().waitFor();
  await page.getByText(FIRST_START.reading.byHand).click();
  await page.getByRole('textbox', { name: /Liquid temperature/ }).fill('21.5');
  await page.getByRole('button', { name: TYPED.save }).click();
  await page.getByRole('button', { name: FIRST_START.warning.send }).waitFor();
  expect((await api.vessel('attic:jar')).readings['liquid-temperature']).toMatchObject({
    value: 21.5,
    typed: true,
  });
  await page.getByRole('button', { name: FIRST_START.later }).click();
  await page.getByRole('heading', { name: FIRST_START.title }).waitFor({ state: 'detached' });
  expect(errors).toEqual([]);
});

test('a temperature in °F is asked about in a vessel without a batch, where it stands and under set-up', {
  timeout: 60_000,
}, async () => {
  const { served, api } = await newDaemon();
  await api.call('PUT', '/api/v1/sites/attic', { altitudeM: 0 });
  const device = await connectAsync(`mqtt://${LOOPBACK}:${served.mqttPort}`, { reconnectPeriod: 0 });
  onTestFinished(() => device.endAsync(true));
  const send = (value: string) =>
    device.publishAsync('esterwatch/v1/reading/attic/jar/liquid-temperature', value, { qos: 1 });
  await send('68');
  const { page, errors, width } = await openPage(browser, served.httpPort, '');
  const asked = page.getByText(SENT_DOUBT.help('68.0 °C', '68', '20.0 °C'));
  await page.locator('article.vessel').getByText(SENT_DOUBT.title).waitFor();
  await asked.waitFor();
  expect(await width()).toBeLessThanOrEqual(NARROW.width);
  // Its link leads to a section that is there.
  const href = await page.getByRole('link', { name: SENT_DOUBT.more }).getAttribute('href');
  const help = await (await fetch(new URL(href!, `http://${LOOPBACK}:${served.httpPort}/`))).text();
  expect(help).toContain(`id="${new URL(href!, 'http://any/').hash.slice(1)}"`);
  await page.evaluate(() => {
    location.hash = '#/set-up';
  });
  await page
    .getByRole('table', { name: SET_UP.channels.caption('jar', 'attic') })
    .getByText(SENT_DOUBT.title)
    .waitFor();
  await send('{"value":68,"unit":"degF","at":"'.concat(new Date().toISOString(), '"}'));
  await page.getByText(SENT_DOUBT.title).waitFor({ state: 'detached' });
  expect(errors).toEqual([]);
});

test('what is refused is told where one waits for it, and the first reading with who sent it', {
  timeout: 90_000,
}, async () => {
  const { served, api } = await newDaemon();
  const { page, errors, width } = await openPage(browser, served.httpPort, '');
  await page.getByRole('heading', { level: 1, name: FIRST_START.title }).waitFor();
  const connect = (options: IClientOptions = {}) =>
    connectAsync(`mqtt://${LOOPBACK}:${served.mqttPort}`, { reconnectPeriod: 0, ...options });
  const device = await connect({ clientId: 'shed-1' });
  onTestFinished(() => device.endAsync(true));
  const send = (topic: string, payload: string) =>
    device.publishAsync(`esterwatch/v1/reading/${topic}`, payload, { qos: 1 });
  const told = (code: keyof typeof MENDS) =>
    page
      .locator('.not-taken li')
      .filter({ hasText: REFUSALS[code] })
      .filter({ hasText: MENDS[code] })
      .filter({ hasText: 'client id shed-1, 127.0.0.1' })
      .waitFor();
  await send('home/R1/liquid-temperature', '21.5');
  await told('topic-misnamed');
  await send('home/r1/liquid-temperature', '21,5');
  await told('value-not-number');
  // A device whose clock begins in 1970.
  await send('home/r1/liquid-temperature', '{"value":21.5,"at":"1970-01-01T00:00:07.000Z"}');
  await told('time-before-2000');
  expect(await width()).toBeLessThanOrEqual(NARROW.width);

  // The first that is taken in: the page stays, says that it works, what came and who sent it, and where to go on.
  await send('home/r1/liquid-temperature', '21.5');
  await page
    .getByText(
      /^It works\. r1: .*21\.5 °C, read at .*, sent by a device without a user name \(client id shed-1, 127\.0\.0\.1\)\.$/,
    )
    .waitFor();
  await page.getByText(FIRST_START.reading.right).waitFor();
  await page.reload();
  await page.getByRole('heading', { level: 1, name: FIRST_START.title }).waitFor();
  await page.getByRole('link', { name: FIRST_START.reading.onTo('r1') }).click();
  await page.getByRole('heading', { level: 1, name: /^r1/ }).waitFor();

  // A device that is not let in is told of with the name that it gave.
  await api.call('PUT', '/api/v1/publishers/kettle', { site: 'home' });
  await expect(connect({ username: 'kettle', password: 'wrong', clientId: 'shed-2' })).rejects.toMatchObject({
    code: 5,
  });
  await page.evaluate(() => {
    location.hash = '#/';
  });
  const signIn = page.locator('.not-taken li').filter({ hasText: 'sign-in of kettle' });
  await signIn.getByText('device kettle (client id shed-2, 127.0.0.1)').waitFor();
  await signIn.getByText(MENDS['device-not-let-in']).waitFor();
  expect(await page.locator('main').textContent()).not.toContain('wrong');
  expect(await width()).toBeLessThanOrEqual(NARROW.width);
  expect(errors).toEqual([]);
});

test('a barometer alone does not make the place: what it sends may be reduced to sea level', {
  timeout: 60_000,
}, async () => {
  const { served, api } = await newDaemon();
  const { page } = await openPage(browser, served.httpPort, '');
  await page.getByRole('heading', { level: 1, name: FIRST_START.title }).waitFor();
  const device = await connectAsync(`mqtt://${LOOPBACK}:${served.mqttPort}`);
  onTestFinished(() => device.endAsync());
  await device.publishAsync('esterwatch/v1/reading/home/r1/ambient-pressure', '1013', { qos: 1 });
  await page.getByText(FIRST_START.place.barometer('1013')).waitFor();
  await page.getByLabel(SET_UP.height.field, { exact: true }).fill('1600');
  await page.getByRole('button', { name: FIRST_START.place.save }).click();
  await page
    .getByText(FIRST_START.place.done('home', formatTemperature(boilsThere(1600).boilingC, 'C')))
    .waitFor();
  expect((await api.get<{ sites: SiteAnswer[] }>('/api/v1/sites')).sites).toMatchObject([
    { altitudeM: 1600 },
  ]);
});
