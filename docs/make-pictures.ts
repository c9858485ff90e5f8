/** Takes the README's pictures: the demonstration, as a real Chromium shows it. */
import { spawn } from 'node:child_process';
import { mkdirSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { chromium } from 'playwright-core';

const root = fileURLToPath(new URL('..', import.meta.url));
const page = 'http://127.0.0.1:18181/';
const PICTURES = [
  { name: 'vessel-phone', width: 390, height: 1000, path: '#/vessel/larkfield/r1' },
  { name: 'overview-desk', width: 1280, height: 860, path: '' },
];
/** Until the reaction is well under way, real ms at the speed below. */
const WAIT_MS = 88_000;
const SPEED = '40';

const demo = spawn(
  process.execPath,
  ['dist/daemon/main.js', 'demo', '--speed', SPEED, '--http', '127.0.0.1:18181', '--mqtt', '127.0.0.1:18182'],
  { cwd: root, stdio: 'inherit' },
);
try {
  await new Promise((resolve) => setTimeout(resolve, WAIT_MS));
  const browser = await chromium.launch({
    executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium',
    args: ['--no-sandbox', '--disable-gpu', '--disable-background-networking'],
  });
  mkdirSync(`${root}docs/pictures`, { recursive: true });
  for (const { name, width, height, path } of PICTURES) {
    const tab = await browser.newPage({ viewport: { width, height } });
    await tab.goto(page + path);
    await tab.waitForTimeout(3000);
    await tab.screenshot({ path: `${root}docs/pictures/${name}.png` });
  }
  await browser.close();
} finally {
  demo.kill('SIGTERM');
}
