/** Draws the icons that a browser wants as pixels, from the project's own mark. */
import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { chromium } from 'playwright-core';

const folder = fileURLToPath(new URL('../dashboard/public/', import.meta.url));
const mark = readFileSync(`${folder}mark.svg`, 'utf8');

const browser = await chromium.launch({
  executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium',
  args: ['--no-sandbox', '--disable-gpu', '--disable-background-networking'],
});
try {
  for (const size of [192, 512]) {
    const page = await browser.newPage({ viewport: { width: size, height: size } });
    // The mark within the middle four fifths, which no platform cuts off.
    await page.setContent(
      `<style>body{margin:0;background:#17201d}svg{display:block;width:80vw;margin:10vw}</style>${mark}`,
    );
    await page.screenshot({ path: `${folder}icon-${size}.png` });
  }
} finally {
  await browser.close();
}
