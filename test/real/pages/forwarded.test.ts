import { setTimeout as wait } from 'node:timers/promises';
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, expect, onTestFinished, test } from 'vitest';
import { Access } from '../../../daemon/access/access.ts';
import { TEXTS } from '../../../dashboard/texts/live.ts';
import { runDaemon } from '../../daemon/running-daemon.ts';
import { startChromium } from '../../support/chromium.ts';
import { ManualClock } from '../../support/manual-clock.ts';
import { NARROW, openPage } from '../../support/opened-page.ts';
import { patiently } from '../../support/patiently.ts';
import { dataFolder, startHere } from '../../support/serving.ts';

let browser: Browser;
beforeAll(async () => {
  browser = await startChromium();
});
afterAll(() => browser?.close());

test('a forwarded site says as of when it is shown, and that it is not live after a minute; nothing can be done to it', async () => {
  const clock = new ManualClock(Date.UTC(2026, 2, 2, 10));
  const { data, remove } = dataFolder();
  onTestFinished(remove);
  const centre = await startHere({ data, clock });
  onTestFinished(() => centre.close());
  const arrivals = { nowMs: () => clock.wallMs() };
  const token = new Access({ dataFolder: data, clock, arrivals }).setForwarder('farm', ['barn'], 'somebody');
  const to = new URL(`http://127.0.0.1:${centre.httpPort}`);
  // Its clock is a year ahead.
  const siteClock = new ManualClock(Date.UTC(2027, 2, 2, 10));
  const site = await runDaemon({ clock: siteClock, forward: { to, token, sites: null } });
  await site.read('barn/r1/liquid-temperature', 50);
  const opened = await openPage(browser, centre.httpPort, '');
  const { page, errors } = opened;
  const goOn = async (ms: number) => {
    clock.advance(ms);
    siteClock.advance(ms);
    await wait(20);
  };
  const said = () => page.locator('article.vessel .as-of').first().textContent();
  await patiently(async () => {
    await goOn(1000);
    expect(await page.locator('article.vessel').count()).toBe(1);
  });
  await patiently(async () => {
    await goOn(200);
    expect(await said()).toMatch(/^As of .*10:\d\d.* ago\.$/);
  });
  expect(await page.locator('.forwarded-sites li').textContent()).toContain('barn');
  const buttons = async () => (await page.locator('main button').allInnerTexts()).join(' ');
  expect(await buttons()).not.toContain(TEXTS.batch.start);
  await site.stop();
  for (let second = 0; second < 180; second += 2) {
    clock.advance(2000);
    await wait(5);
  }
  await patiently(async () => {
    clock.advance(100);
    await wait(20);
    expect(await said()).toMatch(/^Not live: As of .*3 min.* ago\.$/s);
  });
  expect(await page.locator('article.vessel .big.stale').count()).toBe(1);
  expect(await opened.width()).toBeLessThanOrEqual(NARROW.width);
  expect(errors).toEqual([]);
});
