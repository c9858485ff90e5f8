import { connectAsync, type MqttClient } from 'mqtt';
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { TEXTS } from '../../../dashboard/texts/live.ts';
import { POWER_CUT } from '../../../dashboard/texts/power-cut.ts';
import { SHELL_TEXTS } from '../../../dashboard/texts/shell.ts';
import { REST_MS } from '../../../shared/rules/restart-hot.ts';
import { Api, eventually } from '../../support/api.ts';
import { startChromium } from '../../support/chromium.ts';
import { NARROW, openPage } from '../../support/opened-page.ts';
import { dataFolder, LOOPBACK, type Served, serve } from '../../support/serving.ts';

let browser: Browser;
let data: string;
let removeData: () => void;
let served: Served;
let device: MqttClient;
let api: Api;

async function start(): Promise<void> {
  served = await serve({ data });
  device = await connectAsync(`mqtt://${LOOPBACK}:${served.mqttPort}`, { reconnectPeriod: 0 });
  api = new Api(served.httpPort);
}
const send = (channel: string, value: number, at?: number) =>
  device.publishAsync(
    `esterwatch/v1/reading/shed/r1/${channel}`,
    at === undefined ? String(value) : JSON.stringify({ value, at }),
    { qos: 1 },
  );

beforeAll(async () => {
  ({ data, remove: removeData } = dataFolder());
  browser = await startChromium();
  await start();
  await send('liquid-temperature', 54.5);
  await api.stateSite('shed', { altitudeM: 0 });
  const batch = await api.openBatch('shed:r1');
  // Under way for five minutes, and at rest since: as a stirrer stands when a power cut begins.
  const began = Date.now() - 5 * 60_000;
  await api.call('POST', `/api/v1/batches/${batch}/stage`, {
    stage: 'react',
    at: began,
    anyway: { reason: 'a test run' },
  });
  await send('stirrer-speed', 0, began + 1000);
  await send('liquid-temperature', 55.5, Date.now());
  await device.endAsync(true);
  served.kill('SIGKILL');
  await served.ended;
  await start();
});
afterAll(async () => {
  await browser?.close();
  await device?.endAsync(true);
  served?.kill('SIGKILL');
  await served?.ended;
  removeData?.();
});

test('after the daemon was away a page says how long, how hot, whether to stir, what counts, and what to do', {
  timeout: 60_000,
}, async () => {
  const [blind] = await eventually(
    async () => (await api.alarms('?standing=true')).filter(({ alarm }) => alarm === 'not-watching'),
    ({ length }) => length === 1,
  );
  expect(blind!.facts).toMatchObject({ beforeC: 55.5, times: 1, stage: 'react' });
  const { page, errors, hosts, width } = await openPage(browser, served.httpPort, '');
  await page.getByRole('link', { name: SHELL_TEXTS.powerCut.link }).click();
  await page.getByRole('heading', { level: 1, name: POWER_CUT.title }).waitFor();
  const may = (verdict: string) => page.locator(`[data-may="${verdict}"]`);

  // Nothing has been read since.
  await page.getByText(POWER_CUT.heat.nowUnknown).waitFor();
  await page.getByText('55.5 °C').first().waitFor();
  await may('measure-first').waitFor();
  expect(await width()).toBeLessThanOrEqual(NARROW.width);

  // Hot, and at rest for over two minutes.
  const { boilingC } = await api.vessel('shed:r1');
  expect(Date.now() - Number(blind!.facts.stillSinceMs)).toBeGreaterThan(REST_MS);
  await send('liquid-temperature', 55);
  await may('not-yet').waitFor();
  await page
    .getByText(`${(boilingC - 12).toFixed(1)} °C`)
    .first()
    .waitFor();

  // Cool enough.
  for (const cool of [53, 51]) await send('liquid-temperature', cool);
  await may('in-bursts').waitFor();

  // Stirred again.
  await send('stirrer-speed', 300);
  await may('moving').waitFor();

  await page.getByRole('button', { name: TEXTS.alarms.acknowledge }).click();
  await page.getByLabel(TEXTS.alarms.yourName).fill('Ada Brook');
  await page.getByRole('button', { name: TEXTS.alarms.send }).click();
  await eventually(
    async () => (await api.alarms('?standing=true')).filter(({ alarm }) => alarm === 'not-watching'),
    ({ length }) => length === 0,
  );
  // It is said at once, and not to be said again.
  await page.getByText(/Seen by Ada Brook/).waitFor();
  expect(await page.getByRole('button', { name: TEXTS.alarms.acknowledge }).count()).toBe(0);
  // What is known stays to be read; the overview says no more of it.
  await page.reload();
  await page.getByText(/Seen by Ada Brook/).waitFor();
  await page.getByRole('link', { name: POWER_CUT.back }).click();
  await page.locator('article.vessel').waitFor();
  expect(await page.getByRole('link', { name: SHELL_TEXTS.powerCut.link }).count()).toBe(0);
  expect(errors).toEqual([]);
  expect([...hosts]).toEqual([`${LOOPBACK}:${served.httpPort}`]);
});
