import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, onTestFinished, test } from 'vitest';
import { OIL_TEXTS, VERDICT_WORDS } from '../../../dashboard/texts/oil.ts';
import { CAUTION_NAMES, LABELS, RECIPE_TEXTS as TEXTS } from '../../../dashboard/texts/recipe.ts';
import { computePlan } from '../../../shared/plan/compute.ts';
import type { Vessel } from '../../../shared/wire/api.ts';
import type { Batch } from '../../../shared/wire/batch.ts';
import type { Template } from '../../../shared/wire/templates.ts';
import { Api } from '../../support/api.ts';
import { startChromium } from '../../support/chromium.ts';
import { dataFolder, LOOPBACK, type Served, serve } from '../../support/serving.ts';

/** The narrowest phone. */
const NARROW = { width: 320, height: 640 };
const PATIENCE_MS = 20_000;

let browser: Browser;
let removeData: () => void;
let served: Served;
let api: Api;

beforeAll(async () => {
  const folder = dataFolder();
  removeData = folder.remove;
  [browser, served] = await Promise.all([startChromium(), serve({ data: folder.data })]);
  api = new Api(served.httpPort);
  await api.call('PUT', '/api/v1/vessels/shed:r1', { role: 'reactor' });
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

const entry = (page: Page, name: string) => page.locator(`#entry-${name.replaceAll('.', '-')}`);
const fits = async (page: Page) =>
  expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBeLessThanOrEqual(NARROW.width);

test('an oil that was titrated becomes a recipe, is kept, and becomes a batch once the altitude is said', {
  timeout: 90_000,
}, async () => {
  const { page, errors, hosts } = await open('#/oil');
  await page.getByLabel('KOH', { exact: true }).check();
  await entry(page, 'run1').fill('2.1');
  await entry(page, 'run2').fill('2.3');
  await page.getByText(VERDICT_WORDS['more-soap'].say).waitFor();
  await fits(page);
  await page.getByRole('link', { name: OIL_TEXTS.recipe }).click();

  await page.getByRole('status').getByText(TEXTS.linked).waitFor();
  expect(await entry(page, 'run1').inputValue()).toBe('2.1');
  await entry(page, 'have').fill('6x');
  await page.getByText(TEXTS.fieldsWrong(1)).waitFor();
  await entry(page, 'have').fill('60');
  const plan = computePlan({
    oil: { volumeL: 60, kind: 'used', titration: { mL: [2.1, 2.3], titrant: 'KOH', purityPercent: 90 } },
  });
  const lye = page.locator('.weigh .opened', { hasText: TEXTS.answer.lye('KOH') });
  await lye.getByText(`${plan.catalystG.toFixed(0)} g`, { exact: true }).waitFor();
  await lye.locator('summary').click();
  await lye.getByText(plan.workings.find(({ fields }) => fields.includes('catalystG'))!.formula).waitFor();
  await fits(page);

  await page.getByLabel(TEXTS.keep.by).first().fill('Ada Brook');
  await page.getByLabel(TEXTS.keep.name, { exact: true }).fill('Chip shop');
  await page.getByRole('button', { name: TEXTS.keep.save }).click();
  await page.getByText(TEXTS.keep.saved('Chip shop')).waitFor();
  const { templates } = await api.get<{ templates: Template[] }>('/api/v1/templates');
  expect(templates).toMatchObject([{ name: 'Chip shop', by: 'Ada Brook', plan: { oil: { volumeL: 60 } } }]);

  const start = page.getByRole('button', { name: TEXTS.begin.submit });
  await start.click();
  await page.getByText(TEXTS.begin.altitudeMissing('shed')).waitFor();
  await page.getByLabel(`${TEXTS.begin.altitude}, m`).fill('820');
  await start.click();
  await page.getByRole('link', { name: TEXTS.begin.open }).waitFor();
  const { batch } = await api.get<Vessel>('/api/v1/vessels/shed:r1');
  const { request, computed } = await api.get<Batch>(`/api/v1/batches/${batch}`);
  expect(request).toMatchObject({ oil: { volumeL: 60, kind: 'used' }, site: { altitudeM: 820 } });
  expect(computed?.catalystG).toBeCloseTo(plan.catalystG, 6);

  // The refusal is no success, and the browser says so in its console.
  expect(errors.filter((error) => !error.includes('409'))).toEqual([]);
  expect([...hosts]).toEqual([`${LOOPBACK}:${served.httpPort}`]);

  await page.goto(`http://${LOOPBACK}:${served.httpPort}/#/recipe?template=${templates[0]!.id}`);
  await page.getByText(TEXTS.keep.loaded('Chip shop')).waitFor();
  expect(await entry(page, 'have').inputValue()).toBe('60');
});

test('it goes on being worked out without the daemon, and moved sliders say what changes', {
  timeout: 60_000,
}, async () => {
  const { page } = await open('#/recipe');
  // It is of the only place that is known, until somebody says otherwise.
  await page.waitForFunction(
    () => document.querySelector<HTMLSelectElement>('#entry-place')?.value === 'shed',
  );
  await entry(page, 'place').selectOption('');
  await entry(page, 'site.altitudeM').fill('0');
  await page.context().setOffline(true);
  await entry(page, 'reaction.temperatureC').fill('57');
  const below = page.locator('.elsewhere tr', { hasText: TEXTS.elsewhere.below });
  const at = (altitudeM: number) => computePlan({ site: { altitudeM } }).methanolBoilingC - 57;
  await below
    .getByText(`${at(0).toFixed(1)} °C`)
    .first()
    .waitFor();
  await page.getByRole('slider', { name: TEXTS.elsewhere.altitude }).fill('2000');
  await below.getByText(`${at(2000).toFixed(1)} °C`).waitFor();
  const comes = (['reaction-near-boiling', 'dosing-too-hot'] as const).map((code) =>
    CAUTION_NAMES[code].toLowerCase(),
  );
  await page.getByText(TEXTS.elsewhere.come(comes.join(', '))).waitFor();
  await page.getByRole('button', { name: TEXTS.elsewhere.take }).click();
  expect(await entry(page, 'site.altitudeM').inputValue()).toBe('2000');
  // What was folded away stays open for who has just mended what was wrong in it.
  await page.getByText(TEXTS.rarer.place).click();
  await entry(page, 'vessel.liquidHeightM').fill('x');
  await page.getByText(TEXTS.fieldsWrong(1)).waitFor();
  await entry(page, 'vessel.liquidHeightM').fill('0.8');
  await page.getByText(TEXTS.fieldsWrong(1)).waitFor({ state: 'detached' });
  expect(await entry(page, 'vessel.liquidHeightM').isVisible()).toBe(true);
  // A caution leads to where it comes from.
  await page
    .getByRole('button', { name: TEXTS.answer.toField(LABELS['reaction.temperatureC']!) })
    .first()
    .click();
  expect(
    await entry(page, 'reaction.temperatureC').evaluate((input) => input === document.activeElement),
  ).toBe(true);
});
