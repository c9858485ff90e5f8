import { connectAsync, type MqttClient } from 'mqtt';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, onTestFinished, test } from 'vitest';
import { LOST_AFTER_MS } from '../../dashboard/link.ts';
import { STAGE_NAMES, TEXTS, toSee } from '../../dashboard/texts/live.ts';
import type { Batch } from '../../shared/wire/batch.ts';
import { Api, eventually } from '../support/api.ts';
import { startChromium } from '../support/chromium.ts';
import { freePort } from '../support/mosquitto.ts';
import { dataFolder, LOOPBACK, type Served, serve } from '../support/serving.ts';

const TOPIC = 'esterwatch/v1/reading/shed/r1/liquid-temperature';
/** The narrowest phone. */
const NARROW = { width: 320, height: 640 };
/** A page may show things late on a loaded machine, ms. */
const PATIENCE_MS = 20_000;
/** What the promised 5 s may become on a loaded machine, ms. */
const SAID_WITHIN_MS = LOST_AFTER_MS + 4_000;

let browser: Browser;
let data: string;
let removeData: () => void;
let ports: { httpPort: number; mqttPort: number };
let served: Served;
let device: MqttClient;
let api: Api;

async function start(): Promise<void> {
  served = await serve({ data, ...ports });
  device = await connectAsync(`mqtt://${LOOPBACK}:${served.mqttPort}`, { reconnectPeriod: 0 });
  api = new Api(served.httpPort);
}
const measure = (value: number) => device.publishAsync(TOPIC, String(value), { qos: 1 });

beforeAll(async () => {
  ({ data, remove: removeData } = dataFolder());
  ports = { httpPort: await freePort(), mqttPort: await freePort() };
  browser = await startChromium();
  await start();
  await measure(60.5);
  await api.stateSite('shed', { altitudeM: 0 });
  await api.enter(await api.openBatch('shed:r1'), 'react');
});
afterAll(async () => {
  await browser?.close();
  await device?.endAsync(true);
  served?.kill('SIGKILL');
  await served?.ended;
  removeData?.();
});

interface Opened {
  page: Page;
  /** What the browser's console calls an error, and what the page threw. */
  errors: string[];
  /** Hosts asked for anything. */
  hosts: Set<string>;
}

async function open(hash = ''): Promise<Opened> {
  const context = await browser.newContext({ viewport: NARROW, locale: 'en-GB' });
  onTestFinished(() => context.close());
  const page = await context.newPage();
  page.setDefaultTimeout(PATIENCE_MS);
  const errors: string[] = [];
  const hosts = new Set<string>();
  page.on('console', (message) => {
    if (message.type() === 'error') errors.push(message.text());
  });
  page.on('pageerror', (error) => errors.push(String(error)));
  page.on('request', (request) => hosts.add(new URL(request.url()).host));
  page.on('websocket', (socket) => hosts.add(new URL(socket.url()).host));
  await page.goto(`http://${LOOPBACK}:${served.httpPort}/${hash}`);
  return { page, errors, hosts };
}

const widthOf = (page: Page) => page.evaluate(() => document.documentElement.scrollWidth);
const notLive = (page: Page) => page.locator('.not-live');

test('a warning appears, and can be acknowledged', { timeout: 60_000 }, async () => {
  const { page, errors, hosts } = await open();
  const vessel = page.locator('article.vessel');
  await vessel.getByText('r1', { exact: true }).waitFor();
  expect(await page.locator('.alarm .because').count()).toBe(0);

  await measure(62.5);
  const [near] = await eventually(
    () => api.alarms('?standing=true'),
    ({ length }) => length === 1,
  );
  expect(near!.alarm).toBe('boiling-near');
  const shown = page.locator('li.alarm', { hasText: near!.because });
  await shown.waitFor();
  await shown.getByText(near!.todo).waitFor();

  await shown.getByRole('button', { name: TEXTS.alarms.acknowledge }).click();
  await shown.getByLabel(TEXTS.alarms.yourName).fill('Ada Brook');
  await shown.getByLabel(TEXTS.alarms.reason).fill('heat is off');
  await shown.getByRole('button', { name: TEXTS.alarms.send }).click();
  await shown.getByText('heat is off').waitFor();
  const [seen] = await api.alarms('?standing=true');
  expect(seen).toMatchObject({ id: near!.id, acknowledged: { by: 'Ada Brook', reason: 'heat is off' } });

  for (const value of [60.5, 58.5]) await measure(value);
  await shown.waitFor({ state: 'detached' });
  expect(errors).toEqual([]);
  expect([...hosts]).toEqual([`${LOOPBACK}:${served.httpPort}`]);
});

test('before heat there is a list to tick; what is left open is said, and what is ticked is kept', {
  timeout: 60_000,
}, async () => {
  await api.call('PUT', '/api/v1/vessels/shed:r2', { role: 'reactor' });
  const batch = await api.openBatch('shed:r2');
  const { page, errors } = await open('#/vessel/shed/r2');
  await page.getByRole('button', { name: TEXTS.stage.next(STAGE_NAMES.warm) }).click();
  const boxes = page.getByRole('dialog').getByRole('checkbox');
  await page.getByRole('checkbox', { name: toSee('drain-valve-shut') }).check();
  const count = await boxes.count();
  expect(count).toBeGreaterThan(5);
  await page.getByRole('dialog').getByLabel(TEXTS.stage.by).fill('Ada Brook');
  const begin = page.getByRole('button', { name: TEXTS.stage.confirm(STAGE_NAMES.warm) });
  await begin.click();
  await page.getByText(TEXTS.stage.missingSeen(toSee('vent-open'))).waitFor();
  expect(await page.getByRole('button', { name: TEXTS.stage.anyway }).isDisabled()).toBe(true);
  expect(await widthOf(page)).toBeLessThanOrEqual(NARROW.width);
  for (let i = 0; i < count; i++) await boxes.nth(i).check();
  await begin.click();
  await page.getByRole('dialog').waitFor({ state: 'detached' });
  const { stages } = await api.get<Batch>(`/api/v1/batches/${batch}`);
  expect(stages).toMatchObject([{ stage: 'warm', by: 'Ada Brook', unseen: [], deviation: null }]);
  expect(stages[0]!.seen).toHaveLength(count);
  const record = page.getByRole('link', { name: TEXTS.vessel.record });
  expect(
    (await page.request.get(new URL((await record.getAttribute('href'))!, page.url()).href)).status(),
  ).toBe(200);
  // The refusal is no success, and the browser says so in its console.
  expect(errors.filter((error) => !error.includes('409'))).toEqual([]);
});

// The others are in `every-page.test.ts`.
test('the page of a vessel fits the narrowest phone with its charts', { timeout: 60_000 }, async () => {
  const { page, errors, hosts } = await open('#/vessel/shed/r1');
  await page.locator('main article.vessel').first().waitFor();
  await page.locator('main canvas').first().waitFor();
  expect(await widthOf(page)).toBeLessThanOrEqual(NARROW.width);
  expect(errors).toEqual([]);
  expect([...hosts]).toEqual([`${LOOPBACK}:${served.httpPort}`]);
});

test('a daemon that hangs is said to be not live, and live again when it goes on', {
  timeout: 60_000,
}, async () => {
  const { page, errors } = await open();
  await page.locator('.page.live').waitFor();
  served.kill('SIGSTOP');
  onTestFinished(() => served.kill('SIGCONT'));
  await notLive(page).waitFor({ timeout: SAID_WITHIN_MS });
  served.kill('SIGCONT');
  await notLive(page).waitFor({ state: 'detached' });
  await page.locator('.page.live').waitFor();
  expect(errors).toEqual([]);
});

test('a daemon that is killed too, and what it reads after its start appears', {
  timeout: 60_000,
}, async () => {
  const { page } = await open();
  await page.locator('.page.live').waitFor();
  served.kill('SIGKILL');
  await served.ended;
  await notLive(page).waitFor({ timeout: SAID_WITHIN_MS });
  await device.endAsync(true);

  await start();
  await notLive(page).waitFor({ state: 'detached' });
  await page.locator('.page.live').waitFor();
  await measure(62.5);
  const [near] = await eventually(
    async () => (await api.alarms('?standing=true')).filter(({ alarm }) => alarm === 'boiling-near'),
    ({ length }) => length === 1,
  );
  await page.locator('li.alarm', { hasText: near!.because }).waitFor();
});
