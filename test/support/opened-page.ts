import type { Browser, Page } from 'playwright-core';
import { onTestFinished } from 'vitest';
import { LOOPBACK } from './serving.ts';

/** The narrowest phone. */
export const NARROW = { width: 320, height: 640 };
/** A page may show things late on a loaded machine, ms. */
const PATIENCE_MS = 20_000;

export interface OpenedPage {
  page: Page;
  /** What the browser's console calls an error, and what the page threw. */
  errors: string[];
  /** Hosts asked for anything. */
  hosts: Set<string>;
  /** How wide its content is, px. */
  width(): Promise<number>;
}

/** The page of a daemon on loopback, in a browser profile of its own that ends with the test. */
export async function openPage(
  browser: Browser,
  httpPort: number,
  hash: string,
  prepare: (page: Page) => Promise<unknown> = async () => {},
): Promise<OpenedPage> {
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
  // What the policy of the page forbids and the page goes on without is in no console.
  await page.addInitScript({
    content: `addEventListener('securitypolicyviolation', ({ violatedDirective, blockedURI }) =>
      console.error('against the policy:', violatedDirective, blockedURI));`,
  });
  await prepare(page);
  await page.goto(`http://${LOOPBACK}:${httpPort}/${hash}`);
  const width = () => page.evaluate(() => document.documentElement.scrollWidth);
  return { page, errors, hosts, width };
}

/** To another page of the same daemon in the same tab, as by a link; resolves when that page has drawn something. */
export async function goOnTo(page: Page, address: string): Promise<void> {
  await page.evaluate(() => {
    for (const shown of document.querySelectorAll('main > *')) Reflect.set(shown, 'isOfThePageBefore', true);
  });
  await page.goto(address);
  await page.waitForFunction(() => {
    const shown = [...document.querySelectorAll('main > *')];
    return shown.length > 0 && shown.every((each) => !Reflect.has(each, 'isOfThePageBefore'));
  });
}
