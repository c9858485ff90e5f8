import { connectAsync, type MqttClient } from 'mqtt';
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { THERMOMETERS } from '../../../dashboard/texts/thermometers.ts';
import { dayMonthAndYear } from '../../../dashboard/units.ts';
import type { Thermometer } from '../../../shared/wire/thermometers.ts';
import { Api, eventually } from '../../support/api.ts';
import { startChromium } from '../../support/chromium.ts';
import { handsOf } from '../../support/hands.ts';
import { NARROW, openPage } from '../../support/opened-page.ts';
import { dataFolder, LOOPBACK, type Served, serve } from '../../support/serving.ts';

let browser: Browser;
let served: Served;
let device: MqttClient;
let api: Api;
let removeData: () => void;

const DAY_MS = 24 * 3_600_000;
const daysFromNow = (days: number): string =>
  new Date(Date.now() + days * DAY_MS).toISOString().slice(0, 'YYYY-MM-DD'.length);
const publish = (value: number) =>
  device.publishAsync('esterwatch/v1/reading/shed/r1/liquid-temperature', String(value), { qos: 1 });
const thermometer = async () =>
  (await api.get<{ thermometers: Thermometer[] }>('/api/v1/thermometers')).thermometers[0]!;

beforeAll(async () => {
  const folder = dataFolder();
  removeData = folder.remove;
  browser = await startChromium();
  served = await serve({ data: folder.data });
  device = await connectAsync(`mqtt://${LOOPBACK}:${served.mqttPort}`, { reconnectPeriod: 0 });
  api = new Api(served.httpPort);
  await publish(20);
});
afterAll(async () => {
  await browser?.close();
  await device?.endAsync(true);
  served?.kill('SIGKILL');
  await served?.ended;
  removeData?.();
});

test('a thermometer is checked by keys alone, and what comes of it is seen before it is kept', {
  timeout: 90_000,
}, async () => {
  const { page, errors, width } = await openPage(browser, served.httpPort, '#/set-up');
  const texts = THERMOMETERS;
  const hands = handsOf.keys(page);
  const open = page.getByRole('button', { name: texts.openOf('r1, liquid temperature') });
  await page.getByText(texts.notChecked).waitFor();
  await hands.press(open);
  // Nobody has said how high the place lies.
  await page.getByText(texts.boilsUnknown).waitFor();
  expect(await page.getByLabel(texts.fields.boiling).count()).toBe(0);
  await hands.press(page.getByRole('button', { name: texts.cancel }));

  await api.stateSite('shed', { altitudeM: 1609 });
  await page.reload();
  hands.anew();
  await hands.press(open);
  await page.getByText(/^Water boils at 94\.\d °C here now, at 8\d\d hPa/).waitFor();
  await hands.write(page.getByLabel(texts.fields.ice), '32');
  await page.getByText(texts.tooLarge('10.0 °C')).waitFor();
  await hands.write(page.getByLabel(texts.fields.ice), '0,5');
  await page.getByText(texts.high(texts.baths.ice, '0.5 °C')).waitFor();
  await page.getByText(texts.becomes('60.0 °C', '59.5 °C')).waitFor();
  await hands.write(page.getByRole('region', { name: texts.title }).getByLabel(texts.name), 'Ida');
  expect((await thermometer()).check).toBeNull();
  await hands.press(page.getByRole('button', { name: texts.keep }));
  await page.getByText(texts.kept).waitFor();
  expect((await thermometer()).check).toMatchObject({ by: 'Ida', ice: { sentC: 0.5 }, boiling: null });
  expect(await width()).toBeLessThanOrEqual(NARROW.width);

  await publish(21);
  await eventually(
    () => api.vessel('shed:r1'),
    ({ readings }) => readings['liquid-temperature']?.value === 20.5,
  );
  expect(errors).toEqual([]);
});

test('at the vessel one far off is kept with a reason, is overdue, and is corrected no more', {
  timeout: 90_000,
}, async () => {
  await api.stateSite('shed', { altitudeM: 1609 });
  await api.call('POST', '/api/v1/vessels/shed:r1/thermometers/liquid-temperature/checks', {
    by: 'Ida',
    ice: { readC: 0 },
    at: Date.now() - 400 * DAY_MS,
    due: daysFromNow(-300),
  });
  const { page, errors, width } = await openPage(browser, served.httpPort, '#/vessel/shed/r1');
  const texts = THERMOMETERS;
  await page.getByText(texts.overdue(dayMonthAndYear(Date.parse(daysFromNow(-300))))).waitFor();
  await page.getByRole('button', { name: texts.openOf('liquid temperature') }).click();
  const before = await thermometer();
  const due = daysFromNow(700);
  await page.getByLabel(texts.fields.boiling).fill((before.water!.boilingC + 3).toFixed(4));
  await page.getByText(texts.large('2.0 °C')).waitFor();
  await page.getByLabel(texts.fields.anyway).fill('twice, in fresh water');
  await page.getByLabel(texts.fields.due).fill(due);
  await page.locator('form.stack').getByLabel(texts.name).fill('Ida');
  await page.getByRole('button', { name: texts.keep }).click();
  await page.getByText(texts.kept).waitFor();
  await page.getByText(texts.due(dayMonthAndYear(Date.parse(due)))).waitFor();
  expect((await thermometer()).check).toMatchObject({
    due,
    ice: null,
    deviation: { reason: 'twice, in fresh water' },
  });

  await page.getByRole('button', { name: texts.withdrawOf('liquid temperature') }).click();
  await page.getByLabel(texts.reason).fill('another probe');
  await page.getByRole('button', { name: texts.withdraw, exact: true }).click();
  await page.getByText(texts.withdrawn).waitFor();
  expect((await thermometer()).check).toBeNull();
  expect(await width()).toBeLessThanOrEqual(NARROW.width);
  expect(errors).toEqual([]);
});
