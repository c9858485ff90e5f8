import { readFileSync } from 'node:fs';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, onTestFinished, test } from 'vitest';
import { channelTitle, HISTORY } from '../../../dashboard/texts/history.ts';
import { STAGE_NAMES } from '../../../dashboard/texts/live.ts';
import { Api } from '../../support/api.ts';
import { startChromium } from '../../support/chromium.ts';
import { dataFolder, LOOPBACK, type Served, serve } from '../../support/serving.ts';

const PATIENCE_MS = 20_000;
const NARROW = { width: 320, height: 640 };
const WIDE = { width: 1280, height: 900 };
const MINUTE_MS = 60_000;
const KEY = 'barn:r1';

let browser: Browser;
let served: Served;
let api: Api;
let removeData: () => void;
let startMs: number;

const type = (channel: string, value: number, at: number) =>
  api.call('POST', `/api/v1/vessels/${KEY}/readings`, { channel, value, at });

beforeAll(async () => {
  const folder = dataFolder();
  removeData = folder.remove;
  browser = await startChromium();
  served = await serve({ data: folder.data });
  api = new Api(served.httpPort);
  await api.call('PUT', `/api/v1/vessels/${KEY}`, { role: 'reactor' });
  await api.stateSite('barn', { pressureHPa: 1013.25 });
  startMs = Date.now() - 50 * MINUTE_MS;
  for (let minute = 0; minute < 50; minute++) {
    // A gap, and one short peak.
    if (minute >= 20 && minute < 30) continue;
    const at = startMs + minute * MINUTE_MS;
    await type('liquid-temperature', minute === 15 ? 61.7 : 50 + minute / 10, at);
    await type('heater', minute < 10 ? 1 : 0, at);
  }
  const batch = await api.openBatch(KEY);
  await api.enter(batch, 'react');
  await type('liquid-temperature', 62.5, Date.now());
});
afterAll(async () => {
  await browser?.close();
  served?.kill('SIGKILL');
  await served?.ended;
  removeData?.();
});

async function open(
  hash: string,
  viewport = WIDE,
): Promise<{ page: Page; errors: string[]; hosts: Set<string> }> {
  const context = await browser.newContext({ viewport, locale: 'en-GB', acceptDownloads: true });
  onTestFinished(() => context.close());
  const page = await context.newPage();
  page.setDefaultTimeout(PATIENCE_MS);
  const errors: string[] = [];
  const hosts = new Set<string>();
  page.on('console', (message) => {
    if (message.type() === 'error') errors.push(message.text());
  });
  page.on('pageerror', (error) => errors.push(String(error)));
  page.on('request', (request) => {
    if (request.url().startsWith('http')) hosts.add(new URL(request.url()).host);
  });
  await page.goto(`http://${LOOPBACK}:${served.httpPort}/${hash}`);
  return { page, errors, hosts };
}

const liquid = (page: Page) =>
  page.locator('figure.plot', { hasText: channelTitle('liquid-temperature') }).locator('figcaption');
/** Pixels of a canvas that are not empty. */
const inkOf = (page: Page) =>
  page
    .locator('figure.plot canvas')
    .first()
    .evaluate((canvas: HTMLCanvasElement) => {
      const { data } = canvas.getContext('2d')!.getImageData(0, 0, canvas.width, canvas.height);
      let ink = 0;
      for (let i = 3; i < data.length; i += 4) if (data[i]! > 0) ink++;
      return ink;
    });
const addressOf = (page: Page) => page.evaluate(() => location.hash);

test('the range of an address is shown: its extremes, its alarm to be followed, what was done', {
  timeout: 60_000,
}, async () => {
  const { page, errors, hosts } = await open(
    `#/history/barn/r1?from=${startMs}&to=${startMs + 19 * MINUTE_MS}`,
  );
  await liquid(page).getByText('61.7').waitFor();
  expect(await liquid(page).textContent()).toContain('50.0');
  await expect.poll(() => inkOf(page)).toBeGreaterThan(2000);
  await page.getByRole('button', { name: HISTORY.now }).click();
  await page.getByRole('button', { name: HISTORY.spans[3600000]! }).click();
  const [alarm] = await api.alarms('?standing=true');
  const link = page.getByRole('row', { name: alarm!.because }).getByRole('link', { name: HISTORY.openAlarm });
  expect(await link.getAttribute('href')).toBe(`#/alarm/${encodeURIComponent(alarm!.id)}`);
  await page.getByRole('row', { name: STAGE_NAMES.react }).first().waitFor();
  expect(errors).toEqual([]);
  expect([...hosts]).toEqual([`${LOOPBACK}:${served.httpPort}`]);
});

test('by the keyboard alone it is moved, zoomed and read, and the address says what is shown', {
  timeout: 60_000,
}, async () => {
  const { page, errors } = await open('#/history/barn/r1?last=3600');
  await liquid(page).getByText('62.5').first().waitFor();
  const board = page.getByRole('group', { name: HISTORY.group });
  await board.focus();
  await page.keyboard.press('Shift+ArrowLeft');
  await expect.poll(() => page.locator('section.charts [role=status]').textContent()).toContain('°C');
  for (const key of ['-', '+', '+']) await page.keyboard.press(key);
  await expect.poll(() => addressOf(page)).toContain('last=1800');
  await page.keyboard.press('Home');
  await expect.poll(() => addressOf(page)).toContain('from=');
  const from = Date.parse(new URLSearchParams((await addressOf(page)).split('?')[1]).get('from')!);
  expect(Math.abs(from - startMs)).toBeLessThan(5000);
  await page.keyboard.press('End');
  await expect.poll(() => addressOf(page)).toContain('last=1800');
  expect(errors).toEqual([]);
});

test('a drag moves it and the wheel with Ctrl zooms at the pointer', { timeout: 60_000 }, async () => {
  const { page } = await open('#/history/barn/r1?last=3600');
  await liquid(page).getByText('62.5').first().waitFor();
  const box = (await page.locator('figure.plot .canvas').first().boundingBox())!;
  const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
  await page.mouse.move(x, y);
  await page.locator('.moment', { hasText: HISTORY.belowBoiling('').trim() }).waitFor();
  await page.mouse.down();
  await page.mouse.move(x + 200, y, { steps: 5 });
  await page.mouse.up();
  await expect.poll(() => addressOf(page)).toContain('from=');
  const spanOf = async () => {
    const query = new URLSearchParams((await addressOf(page)).split('?')[1]);
    return Date.parse(query.get('to')!) - Date.parse(query.get('from')!);
  };
  expect(await spanOf()).toBe(3_600_000);
  await page.keyboard.down('Control');
  await page.mouse.wheel(0, -300);
  await page.keyboard.up('Control');
  await expect.poll(spanOf).toBeLessThan(3_000_000);
});

test('a typed range, channels left out, and both files', { timeout: 60_000 }, async () => {
  const { page, errors } = await open('#/history/barn/r1?last=3600');
  await page.getByLabel(HISTORY.to).fill('2020-01-01T00:00:00');
  await page.getByRole('button', { name: HISTORY.show }).click();
  await page.getByText(HISTORY.wrongRange).waitFor();
  await page.getByLabel(HISTORY.from).fill('2019-01-01T00:00:00');
  await page.getByRole('button', { name: HISTORY.show }).click();
  await liquid(page).getByText(HISTORY.none).waitFor();

  await page.getByRole('button', { name: HISTORY.now }).click();
  await page.getByRole('button', { name: HISTORY.spans[3600000]! }).click();
  await page.locator('summary', { hasText: HISTORY.channels }).click();
  await page.getByRole('checkbox', { name: channelTitle('heater') }).uncheck();
  await expect.poll(() => addressOf(page)).toContain('channels=liquid-temperature');
  expect(await page.locator('figure.plot').count()).toBe(1);

  const csv = page.getByRole('link', { name: HISTORY.csv(channelTitle('liquid-temperature')) });
  const answer = await page.request.get(new URL((await csv.getAttribute('href'))!, page.url()).href);
  const rows = (await answer.text()).trim().split('\n');
  expect(rows).toHaveLength(1 + 40 + 1);
  expect(rows.some((row) => row.includes(',liquid-temperature,61.7,typed'))).toBe(true);

  const downloading = page.waitForEvent('download');
  await page.getByRole('button', { name: HISTORY.png }).click();
  const file = await downloading;
  expect(file.suggestedFilename()).toMatch(/^barn-r1-.*\.png$/);
  const png = readFileSync(await file.path());
  expect(png.subarray(1, 4).toString()).toBe('PNG');
  expect(png.readUInt32BE(16)).toBeGreaterThan(1000);
  expect(errors).toEqual([]);
});

test('on a vessel’s own page a live reading is added to the same canvas', { timeout: 60_000 }, async () => {
  const { page, errors } = await open('#/vessel/barn/r1');
  await liquid(page).getByText('62.5').first().waitFor();
  await page.locator('.page.live').waitFor();
  await page
    .locator('figure.plot canvas')
    .first()
    .evaluate((canvas) => canvas.setAttribute('data-first', ''));
  await type('liquid-temperature', 58.25, Date.now());
  await liquid(page).getByText(HISTORY.last('58.3')).waitFor();
  expect(await page.locator('figure.plot canvas').first().getAttribute('data-first')).toBe('');
  expect(errors).toEqual([]);
});

test('it fits the narrowest phone', { timeout: 60_000 }, async () => {
  const { page, errors } = await open('#/history/barn/r1?last=3600', NARROW);
  await liquid(page).getByText('62.5').first().waitFor();
  await page.locator('main canvas').first().waitFor();
  expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBeLessThanOrEqual(NARROW.width);
  expect(errors).toEqual([]);
});
