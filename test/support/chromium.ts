import { type Browser, chromium } from 'playwright-core';

/** Debian's Chromium without a window; nothing of it looks elsewhere by itself. */
export const startChromium = (): Promise<Browser> =>
  chromium.launch({
    executablePath: '/usr/bin/chromium',
    args: [
      '--no-sandbox',
      '--disable-gpu',
      '--disable-quic',
      '--no-first-run',
      '--disable-background-networking',
      '--disable-component-update',
      '--disable-sync',
    ],
  });
