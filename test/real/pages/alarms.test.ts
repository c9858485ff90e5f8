import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { connectAsync } from 'mqtt';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, onTestFinished, test } from 'vitest';
import { ALARM_TITLES } from '../../../dashboard/texts/alarm-titles.ts';
import { ALARM_TEXTS } from '../../../dashboard/texts/alarms.ts';
import { TEXTS } from '../../../dashboard/texts/live.ts';
import { LIMITS_IN_WORDS } from '../../../shared/rules/words.ts';
import type { Alarm } from '../../../shared/wire/api.ts';
import { readingTopic } from '../../../shared/wire/topics.ts';
import { Api, eventually } from '../../support/api.ts';
import { startChromium } from '../../support/chromium.ts';
import { dataFolder, LOOPBACK, type Served, serve } from '../../support/serving.ts';

const MAIN = fileURLToPath(new URL('../../../dist/daemon/main.js', import.meta.url));
const NARROW = { width: 320, height: 640 };
const PATIENCE_MS = 20_000;
const SECONDS = 1800;

let browser: Browser;
let data: string;
let removeData: () => void;
let served: Served;
let api: Api;
let batch: string;

/** Half an hour in which the liquid comes near boiling (64.5 °C) twice, and once stays short of it. */
const liquidC = (second: number): number =>
  55 + 7.2 * Math.exp(-(((second - 500) / 120) ** 2)) + 7.8 * Math.exp(-(((second - 1200) / 120) ** 2));

beforeAll(async () => {
  ({ data, remove: removeData } = dataFolder());
  browser = await startChromium();
  served = await serve({ data });
  api = new Api(served.httpPort);
  const device = await connectAsync(`mqtt://${LOOPBACK}:${served.mqttPort}`);
  const beganMs = Date.now() - SECONDS * 1000;
  const send = (channel: string, value: (second: number) => number, from: number, to: number) => {
    const readings = Array.from({ length: to - from }, (_, i) => ({
      value: value(from + i),
      at: beganMs + 1000 * (from + i),
    }));
    return device.publishAsync(readingTopic('shed', 'r1', channel), JSON.stringify(readings), { qos: 1 });
  };
  await send('liquid-temperature', liquidC, 0, 1);
  await api.stateSite('shed', { altitudeM: 0 });
  batch = await api.openBatch('shed:r1');
  const at = new Date(beganMs + 2000).toISOString();
  await api.call('POST', `/api/v1/batches/${batch}/stage`, {
    stage: 'react',
    at,
    anyway: { reason: 'a test' },
  });
  await Promise.all([
    send('liquid-temperature', liquidC, 3, SECONDS),
    send('stirrer-speed', () => 300, 3, SECONDS),
  ]);
  await device.endAsync(true);
});
afterAll(async () => {
  await browser?.close();
  served?.kill('SIGKILL');
  await served?.ended;
  removeData?.();
});

async function open(hash: string): Promise<{ page: Page; errors: string[]; hosts: Set<string> }> {
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
  await page.goto(`http://${LOOPBACK}:${served.httpPort}/${hash}`);
  return { page, errors, hosts };
}

const nearOnes = () =>
  eventually(
    () => api.alarms('?alarm=boiling-near'),
    (alarms) => alarms.length === 2,
  );

/** When `replay --limits` says that the alarm came. */
async function replayed(limits: object): Promise<number[]> {
  const file = join(data, 'tried.json');
  writeFileSync(file, JSON.stringify(limits));
  const child = spawn(
    process.execPath,
    [MAIN, 'replay', '--data', data, '--batch', batch, '--limits', file],
    {
      stdio: ['ignore', 'pipe', 'ignore'],
    },
  );
  let text = '';
  child.stdout.setEncoding('utf8').on('data', (part: string) => {
    text += part;
  });
  await once(child, 'close');
  return text
    .trimEnd()
    .split('\n')
    .map((line) => JSON.parse(line) as { type: string; alarm: string; event: string; at: string })
    .filter(({ alarm, event }) => alarm === 'boiling-near' && event === 'raised')
    .map(({ at }) => Date.parse(at));
}

const clockOf = (page: Page, ms: number): Promise<string> =>
  page.evaluate(
    (time) =>
      new Intl.DateTimeFormat('en-GB', {
        hour: '2-digit',
        minute: '2-digit',
        second: '2-digit',
        hourCycle: 'h23',
      }).format(time),
    ms,
  );

async function moveTo(page: Page, limit: 'nearMarginC', value: number): Promise<void> {
  await page.getByLabel(LIMITS_IN_WORDS[limit].says).fill(String(value));
}

test('an alarm opened comes at its own time when its batch is played again, and by other limits when replay says', {
  timeout: 90_000,
}, async () => {
  const [second, first] = (await nearOnes()) as [Alarm, Alarm];
  const { page, errors, hosts } = await open(`#/alarm/${second.id}`);
  const texts = ALARM_TEXTS.one;
  await page.getByRole('heading', { level: 1, name: ALARM_TITLES['boiling-near'] }).waitFor();
  await page.getByText(second.because, { exact: true }).waitFor();
  await page.locator('.around canvas').first().waitFor();

  await page.getByRole('button', { name: texts.open }).click();
  const answer = page.locator('.answer');
  await answer.getByText(texts.asItWas(await clockOf(page, Date.parse(second.at)))).waitFor();

  // More careful: earlier, as replay has it. The run has both; this one is the second.
  const wide = await replayed({ nearMarginC: 5 });
  expect(wide).toHaveLength(2);
  expect(wide[1]).toBeLessThan(Date.parse(second.at) - 5000);
  await moveTo(page, 'nearMarginC', 5);
  await answer.getByText(await clockOf(page, wide[1]!)).waitFor();
  await answer.getByText(texts.inAll(2, 2)).waitFor();

  // Less careful: later.
  const narrow = await replayed({ nearMarginC: 2.4 });
  expect(narrow.at(-1)).toBeGreaterThan(Date.parse(second.at));
  await moveTo(page, 'nearMarginC', 2.4);
  await answer.getByText(await clockOf(page, narrow.at(-1)!)).waitFor();

  // By the keyboard: from 2.4 to 2.5, and what was tried before is not said of it.
  const slider = page.getByLabel(LIMITS_IN_WORDS.nearMarginC.says);
  await slider.press('ArrowRight');
  const stepped = await replayed({ nearMarginC: 2.5 });
  expect(stepped.at(-1)).not.toBe(narrow.at(-1));
  await answer.getByText(await clockOf(page, stepped.at(-1)!)).waitFor();

  expect(await replayed({ nearMarginC: 1 })).toEqual([]);
  await moveTo(page, 'nearMarginC', 1);
  await answer.getByText(texts.never).waitFor();
  await page.getByRole('button', { name: texts.reset }).click();
  await answer.getByText(texts.asItWas(await clockOf(page, Date.parse(second.at)))).waitFor();

  expect(first.at < second.at).toBe(true);
  expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBeLessThanOrEqual(NARROW.width);
  expect(errors).toEqual([]);
  expect([...hosts]).toEqual([`${LOOPBACK}:${served.httpPort}`]);
});

test('past alarms are narrowed down by name and time, the address keeps it, and each leads to why it came', {
  timeout: 90_000,
}, async () => {
  const [second, first] = (await nearOnes()) as [Alarm, Alarm];
  const { page, errors } = await open('#/alarms');
  const rows = page.locator('.past tbody tr');
  await page.getByLabel(ALARM_TEXTS.alarm, { exact: true }).selectOption('boiling-near');
  await eventually(
    () => rows.count(),
    (count) => count === 2,
  );
  const local = await page.evaluate((at) => {
    const time = new Date(at);
    time.setMinutes(time.getMinutes() - time.getTimezoneOffset());
    return time.toISOString().slice(0, 16);
  }, second.at);
  await page.getByLabel(ALARM_TEXTS.from, { exact: true }).fill(local);
  await page.getByLabel(ALARM_TEXTS.from, { exact: true }).blur();
  await eventually(
    () => rows.count(),
    (count) => count === 1,
  );
  await rows.getByText(second.because, { exact: false }).waitFor();
  await page.reload();
  await rows.getByText(second.because, { exact: false }).waitFor();
  expect(await rows.count()).toBe(1);

  await page.getByText(ALARM_TEXTS.measures.title).click();
  await page.locator('.measures table').waitFor();
  const { alarms: told } = await api.get<{ alarms: number }>('/api/v1/alarms/measures');
  await page.getByText(ALARM_TEXTS.measures.told(told)).waitFor();
  expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBeLessThanOrEqual(NARROW.width);

  await rows.getByRole('link', { name: TEXTS.alarms.why }).click();
  await page.waitForURL(`**/#/alarm/${second.id}`);
  await page.locator('.alarm-page h1').waitFor();
  expect(first.id).not.toBe(second.id);
  expect(errors).toEqual([]);
});

test('a standing alarm is listed with its vessel and seen from there; outside a batch there is nothing to play', {
  timeout: 90_000,
}, async () => {
  await api.call('PUT', '/api/v1/vessels/shed:spare', { role: 'reactor' });
  const typed = { channel: 'liquid-temperature', value: -127 };
  await api.call('POST', '/api/v1/vessels/shed:spare/readings', typed);
  const [alarm] = await eventually(
    () => api.alarms('?vessel=shed:spare&standing=true'),
    (alarms) => alarms.length === 1,
  );
  const { page, errors } = await open('#/alarms');
  const card = page.locator('.standing-alarms li.alarm', { hasText: alarm!.because });
  await card.getByRole('link', { name: 'spare' }).waitFor();
  await card.getByRole('button', { name: TEXTS.alarms.acknowledge }).click();
  await card.getByLabel(TEXTS.alarms.yourName).fill('Ada Brook');
  await card.getByRole('button', { name: TEXTS.alarms.send }).click();
  await card.getByText('Ada Brook').waitFor();
  const [seen] = await api.alarms('?vessel=shed:spare&standing=true');
  expect(seen).toMatchObject({ id: alarm!.id, acknowledged: { by: 'Ada Brook' } });

  await card.getByRole('link', { name: TEXTS.alarms.why }).click();
  await page.getByText(ALARM_TEXTS.one.nothingToRun).waitFor();
  expect(errors).toEqual([]);
});
