import { once } from 'node:events';
import { existsSync, readFileSync } from 'node:fs';
import { createServer } from 'node:http';
import type { AddressInfo } from 'node:net';
import { extname } from 'node:path';
import { connectAsync, type MqttClient } from 'mqtt';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, onTestFinished, test } from 'vitest';
import { AGAIN_MS, TUNES } from '../../../dashboard/sound/tunes.ts';
import { PRIORITY_WORDS, TEXTS } from '../../../dashboard/texts/live.ts';
import { SET_UP } from '../../../dashboard/texts/set-up.ts';
import { SHELL_TEXTS } from '../../../dashboard/texts/shell.ts';
import { Api, eventually } from '../../support/api.ts';
import { startChromium } from '../../support/chromium.ts';
import { freePort } from '../../support/mosquitto.ts';
import { openPage } from '../../support/opened-page.ts';
import { dataFolder, LOOPBACK, type Served, serve } from '../../support/serving.ts';
import { isThorough } from '../../support/thorough.ts';

const BUILT = new URL('../../../dist/dashboard/', import.meta.url);
const TYPES: Record<string, string> = {
  '.js': 'text/javascript',
  '.css': 'text/css',
  '.svg': 'image/svg+xml',
  '.png': 'image/png',
  '.webmanifest': 'application/manifest+json',
};

let browser: Browser;
let data: string;
let removeData: () => void;
let ports: { httpPort: number; mqttPort: number };
let served: Served;
let device: MqttClient;
let api: Api;

const measure = (value: number) =>
  device.publishAsync('esterwatch/v1/reading/shed/r1/liquid-temperature', String(value), { qos: 1 });

beforeAll(async () => {
  ({ data, remove: removeData } = dataFolder());
  ports = { httpPort: await freePort(), mqttPort: await freePort() };
  browser = await startChromium();
  served = await serve({ data, ...ports });
  device = await connectAsync(`mqtt://${LOOPBACK}:${served.mqttPort}`, { reconnectPeriod: 0 });
  api = new Api(served.httpPort);
  await measure(60.5);
  await api.stateSite('shed', { altitudeM: 0 });
  await api.enter(await api.openBatch('shed:r1'), 'react');
});
afterAll(async () => {
  await browser?.close();
  await device?.endAsync(true);
  served?.kill('SIGKILL');
  await served?.ended;
  removeData?.();
});

/** Notes every tone that the page starts, by its pitch. */
const noteTones = (page: Page) =>
  page.addInitScript(() => {
    const tones: number[] = [];
    Object.assign(globalThis, { tones });
    const start = OscillatorNode.prototype.start;
    OscillatorNode.prototype.start = function (this: OscillatorNode, when?: number) {
      tones.push(this.frequency.value);
      start.call(this, when);
    };
  });
const tonesOf = (page: Page) =>
  page.evaluate(() => (globalThis as unknown as { tones: number[] }).tones.map(Math.round));
const pitches = (tune: keyof typeof TUNES) => TUNES[tune].map(({ hz }) => hz);
const iconOf = (page: Page) => page.locator('link[rel="icon"]').getAttribute('href');
const standing = async () => (await api.alarms('?standing=true')).filter((alarm) => alarm.standing);

test('alarms are heard where the reader wants it, a danger again and again until it is seen; the tab shows the gravest', {
  timeout: 90_000,
}, async () => {
  const { page, errors } = await openPage(browser, served.httpPort, '', noteTones);
  await page.locator('.page.live').waitFor();
  await page.getByText(SHELL_TEXTS.sound.offNotice).waitFor();
  expect(await iconOf(page)).toBe('./mark.svg');
  await page.getByRole('button', { name: SHELL_TEXTS.sound.turnOn }).click();
  await page.getByText(SHELL_TEXTS.sound.offNotice).waitFor({ state: 'detached' });
  expect(await tonesOf(page)).toEqual([]);

  await measure(62.5);
  await eventually(standing, (alarms) => alarms.some(({ priority }) => priority === 'high'));
  await eventually(
    () => tonesOf(page),
    (tones) => tones.length >= TUNES.high.length,
  );
  expect(await tonesOf(page)).toEqual(pitches('high'));
  await eventually(
    () => iconOf(page),
    (icon) => icon === './icon-high.svg',
  );
  expect(await page.title()).toContain(PRIORITY_WORDS.high);

  for (const value of [64.4, 64.45]) await measure(value);
  const [danger] = await eventually(standing, ([gravest]) => gravest?.priority === 'critical');
  await eventually(
    () => iconOf(page),
    (icon) => icon === './icon-critical.svg',
  );
  expect(await page.title()).toContain(PRIORITY_WORDS.critical);
  const twice = pitches('high').length + 2 * pitches('critical').length;
  const heard = await eventually(
    () => tonesOf(page),
    (tones) => tones.length >= twice,
  );
  expect(heard.slice(pitches('high').length, twice)).toEqual([
    ...pitches('critical'),
    ...pitches('critical'),
  ]);

  await api.call('POST', `/api/v1/alarms/${danger!.id}/acknowledge`, { by: 'Ada Brook' });
  await page.locator('li.alarm', { hasText: 'Ada Brook' }).waitFor();
  const seen = (await tonesOf(page)).length;
  await page.waitForTimeout(AGAIN_MS + 500);
  expect((await tonesOf(page)).length).toBe(seen);
  for (const value of [62, 60.5, 58.5]) await measure(value);
  await eventually(standing, ({ length }) => length === 0);

  // The choice is kept.
  await page.reload();
  await page.locator('.page.live').waitFor();
  expect(await page.getByText(SHELL_TEXTS.sound.offNotice).count()).toBe(0);
  expect(errors).toEqual([]);
});

/** The driver's own questions to a page count as a touch for the browser, sooner or later: here only a real one does. */
function untilTouched(): void {
  let isTouched = false;
  const note = () => {
    isTouched = true;
  };
  addEventListener('pointerdown', note, { capture: true });
  globalThis.AudioContext = class extends AudioContext {
    override get state() {
      return isTouched ? super.state : 'suspended';
    }
    override resume() {
      return isTouched ? super.resume() : new Promise<void>(() => {});
    }
  };
}

// When a browser lets a page sound is its own affair, and not the same at every run.
test.runIf(isThorough)(
  'a browser that wants a touch before it makes a sound is told of, and touched it sounds what stands',
  {
    timeout: 60_000,
  },
  async () => {
    for (const value of [60.5, 62.5]) await measure(value);
    await eventually(standing, (alarms) => alarms.some(({ priority }) => priority === 'high'));
    const { page, errors } = await openPage(browser, served.httpPort, '', async (fresh) => {
      await noteTones(fresh);
      await fresh.addInitScript(() => localStorage.setItem('esterwatch.sound', 'on'));
      await fresh.addInitScript(untilTouched);
    });
    await page.locator('.page.live').waitFor();
    await page.getByText(SHELL_TEXTS.sound.blocked).waitFor();
    expect(await tonesOf(page)).toEqual([]);
    await page.locator('.product').click();
    await page.getByText(SHELL_TEXTS.sound.blocked).waitFor({ state: 'detached' });
    const heard = await eventually(
      () => tonesOf(page),
      (tones) => tones.length >= TUNES.high.length,
    );
    expect(heard.slice(0, TUNES.high.length)).toEqual(pitches('high'));
    expect(errors).toEqual([]);
  },
);

test('each tone can be tried out', { timeout: 60_000 }, async () => {
  const { page, errors } = await openPage(browser, served.httpPort, '#/set-up', noteTones);
  await page.getByText(SET_UP.own.soundOff).waitFor();
  await page
    .getByRole('group', { name: SHELL_TEXTS.sound.legend })
    .getByLabel(SHELL_TEXTS.sound.choices.on, { exact: true })
    .check();
  await page.getByRole('button', { name: PRIORITY_WORDS.low, exact: true }).click();
  // An alarm of the vessel may come between.
  await eventually(
    () => tonesOf(page),
    (tones) => tones.includes(pitches('low')[0]!),
  );
  expect(errors).toEqual([]);
});

test('the frame is kept and no value: with the daemon stopped a reload says not live, and shows no vessel', {
  timeout: 90_000,
}, async () => {
  const { page, errors } = await openPage(browser, served.httpPort, '#/set-up');
  await page.getByText(SET_UP.install.kept).waitFor();
  await page.evaluate(async () => {
    await navigator.serviceWorker.ready;
  });
  // Everything that was kept is a file of the build.
  const kept = () =>
    page.evaluate(async () => {
      const names = await caches.keys();
      const files = await Promise.all(names.map(async (name) => (await caches.open(name)).keys()));
      return { names, paths: files.flat().map(({ url }) => new URL(url).pathname) };
    });
  await page.goto(`http://${LOOPBACK}:${served.httpPort}/`);
  await page.locator('article.vessel').waitFor();
  const { names, paths } = await kept();
  expect(names).toHaveLength(1);
  expect(paths).toContain('/index.html');
  for (const path of paths) expect(path).toMatch(/^\/(assets\/)?[\w-]+\.(html|js|css|svg|png|webmanifest)$/);
  expect(errors).toEqual([]);

  await device.endAsync(true);
  served.kill('SIGKILL');
  await served.ended;
  onTestFinished(async () => {
    served = await serve({ data, ...ports });
  });
  await page.reload();
  await page.getByText(TEXTS.link.neverLive).waitFor();
  expect(await page.locator('article.vessel').count()).toBe(0);
  expect(await page.locator('main').textContent()).not.toMatch(/\d/);
});

test('a new build replaces the old one: its page is shown at once, and of the old nothing is kept', {
  timeout: 60_000,
}, async () => {
  // The built files alone, as one build and then as the next.
  let build = 'first';
  const text = (file: string) => readFileSync(new URL(file, BUILT), 'utf8');
  const name = /"([0-9a-f]{16})"/.exec(text('service-worker.js'))![1]!;
  const made: Record<string, () => string> = {
    '/': () => text('index.html').replace('<body>', `<body data-build="${build}">`),
    '/service-worker.js': () => text('service-worker.js').replace(name, `${build}-${name}`),
  };
  made['/index.html'] = made['/']!;
  const server = createServer(({ url = '/' }, answer) => {
    const path = url.split('?')[0]!;
    const own = made[path]?.();
    const file = new URL(`.${path}`, BUILT);
    if (own === undefined && !existsSync(file)) return answer.writeHead(404).end();
    answer.setHeader('content-type', TYPES[extname(path)] ?? 'text/html');
    answer.end(own ?? readFileSync(file));
  });
  server.listen(0, LOOPBACK);
  await once(server, 'listening');
  onTestFinished(() => {
    server.closeAllConnections();
    server.close();
  });
  const { port } = server.address() as AddressInfo;
  const { page } = await openPage(browser, port, '');
  const kept = () => page.evaluate(() => caches.keys());
  const shown = () => page.locator('body').getAttribute('data-build');
  await eventually(kept, (names) => names.length === 1 && names[0]!.includes('first'));
  expect(await shown()).toBe('first');

  build = 'second';
  await page.reload();
  expect(await shown()).toBe('second');
  await eventually(kept, (names) => names.length === 1 && names[0]!.includes('second'));
});

test('the manifest names icons that are there', async () => {
  const answer = await api.call('GET', '/esterwatch.webmanifest');
  expect(answer.headers.get('content-type')).toMatch(/^application\/manifest\+json/);
  const { icons, start_url: start } = (await answer.json()) as {
    icons: { src: string; type: string }[];
    start_url: string;
  };
  expect(start).toBe('./');
  expect(icons.length).toBeGreaterThanOrEqual(3);
  for (const { src, type } of icons) {
    const icon = await api.call('GET', `/${src.slice(2)}`);
    expect(icon.headers.get('content-type')).toBe(type);
  }
});

test('what is said of the sound fits a small phone: no link in two pieces, no sentence in a narrow column', async () => {
  const { page, errors, width } = await openPage(browser, served.httpPort, '', (fresh) =>
    // A browser that holds sound back until it is touched, whatever this one does by itself.
    fresh.addInitScript({
      content: `AudioContext = class extends EventTarget {
        state = 'suspended';
        resume() { return new Promise(() => {}); }
        close() { return Promise.resolve(); }
      };`,
    }),
  );
  await page.setViewportSize({ width: 360, height: 740 });
  /** How many lines a part of the head is broken into. */
  const lines = (selector: string) =>
    page.locator(selector).evaluate((part) => {
      const range = document.createRange();
      range.selectNodeContents(part);
      return new Set([...range.getClientRects()].map(({ top }) => Math.round(top))).size;
    });
  await page.locator('.page.live').waitFor();
  const off = page.getByRole('button', { name: SHELL_TEXTS.sound.turnOn });
  await off.waitFor();
  expect(await lines('.sound-notice u')).toBe(1);
  await off.evaluate((button) => (button as HTMLButtonElement).click());
  await page.getByText(SHELL_TEXTS.sound.blocked).waitFor();
  expect(await lines('.sound-notice')).toBeLessThanOrEqual(2);
  expect(await width()).toBeLessThanOrEqual(360);
  expect(errors).toEqual([]);
});
