/**
 * `npm run pictures`, after `npm run build` (`npm run pictures -- alarm set-up` of these pages only): takes the pictures of the README and of docs/dashboard.md, every page as
 * a real Chromium shows it to the invented shed of `shed.ts`.
 */
import { mkdirSync, writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import type { Page } from 'playwright-core';
import type { Route } from '../../dashboard/route.ts';
import { startChromium } from '../support/chromium.ts';
import { LOOPBACK } from '../support/serving.ts';
import { openShed } from './shed.ts';
import { smallPng } from './small-png.ts';

const FOLDER = fileURLToPath(new URL('../../docs/pictures/', import.meta.url));
const DESK = { width: 1280, height: 860 };
const PHONE = { width: 390, height: 844 };
/** Where the first screen of a desk would not show what a page is for. */
const TALLER: { readonly [P in Route['page']]?: number } = { vessel: 1400, batch: 1200, alarm: 1040 };
/** What comes before would not be the same after them. */
const LAST: readonly Route['page'][] = ['power-cut', 'people'];
const ON_PHONES: readonly Route['page'][] = ['vessel', 'oil', 'batch', 'power-cut'];

/** Three runs of a used oil. */
async function titrate(tab: Page): Promise<void> {
  await tab.getByLabel('KOH').check();
  for (const [run, mL] of ['2.4', '2.5', '2.4'].entries()) await tab.getByLabel(`Run ${run + 1}`).fill(mL);
}

mkdirSync(FOLDER, { recursive: true });
const shed = await openShed();
const browser = await startChromium();
try {
  const reader = await browser.newPage();
  /** Of whoever is signed in, once somebody has to be. */
  let cookie: { name: string; value: string } | undefined;
  const take = async (
    page: Route['page'],
    size: typeof DESK,
    where: 'desk' | 'phone',
    name: string = page,
  ) => {
    const context = await browser.newContext({
      viewport: size,
      colorScheme: 'light',
      reducedMotion: 'reduce',
      locale: 'en-GB',
      timezoneId: 'UTC',
    });
    if (cookie !== undefined)
      await context.addCookies([{ ...cookie, url: `http://${LOOPBACK}:${shed.httpPort}` }]);
    const tab = await context.newPage();
    // It alone says what the browser's own clock is; the others go by the daemon's.
    if (page === 'set-up') await tab.clock.install({ time: shed.nowMs() });
    await tab.goto(`http://${LOOPBACK}:${shed.httpPort}/${shed.hashes[page]}`);
    await tab.locator(name === 'sign-in' ? 'main form' : '.page.live').waitFor();
    await tab.locator('main :is(h1, h2)').first().waitFor({ state: 'attached' });
    await tab.waitForLoadState('networkidle');
    if (page === 'beside') await tab.locator('main h2').first().waitFor({ timeout: 120_000 });
    if (page === 'oil') await titrate(tab);
    await tab.waitForTimeout(1500);
    const png = await smallPng(reader, await tab.screenshot());
    writeFileSync(`${FOLDER}${name}-${where}.png`, png);
    process.stdout.write(`${name}-${where}.png: ${Math.round(png.length / 1000)} kB\n`);
    await context.close();
  };
  const takeAll = async (pages: readonly Route['page'][]) => {
    for (const page of pages) {
      await take(page, { ...DESK, height: TALLER[page] ?? DESK.height }, 'desk');
      if (ON_PHONES.includes(page)) await take(page, PHONE, 'phone');
    }
  };
  const wanted = process.argv.slice(2);
  const pages = (Object.keys(shed.hashes) as Route['page'][]).filter(
    (page) => wanted.length === 0 || wanted.includes(page),
  );
  let stop = shed.goOn();
  await takeAll(pages.filter((page) => !LAST.includes(page)));
  await stop();
  await shed.cutPower(25);
  stop = shed.goOn();
  await takeAll(pages.filter((page) => page === 'power-cut'));
  if (pages.includes('people')) {
    const signedIn = await shed.letIn();
    await take('overview', DESK, 'desk', 'sign-in');
    cookie = signedIn;
    await takeAll(['people']);
  }
  await stop();
} finally {
  await browser.close();
  await shed.end();
}
