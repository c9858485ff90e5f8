/**
 * The page in a real Chromium: the first vessel on a slow processor, how long clicks and keys wait for what they
 * change, a day of live messages at speed, a year of readings from click to pixels, and charts that are zoomed and
 * dragged. `npm run bench:page -- [DAYS] [PART …]` (365, all parts), after `npm run build`. On the disk that the project
 * lies on.
 */
import { readFileSync } from 'node:fs';
import { setTimeout as wait } from 'node:timers/promises';
import { connectAsync } from 'mqtt';
import type { Browser, CDPSession, Page } from 'playwright-core';
import { hrefOf, idHref, vesselHref } from '../../dashboard/route.ts';
import { readingTopic } from '../../shared/wire/topics.ts';
import { Api, eventually } from '../support/api.ts';
import { startChromium } from '../support/chromium.ts';
import { dataFolderOnDisk, LOOPBACK, serve } from '../support/serving.ts';
import { startFakeLive } from './page/fake-live.ts';
import { type Interaction, interactions } from './page/interactions.ts';
import { fillStore, LONG, SITE, WIDE, wideReadings } from './page/store.ts';

const days = Number(process.argv[2] ?? 365);
const wanted = process.argv.slice(3);
const DESK = { width: 1440, height: 900 };
const SLOWED = 4;
const FIRST_RUNS = 9;
const YEAR_RUNS = 9;
const HANDS_RUNS = 3;
const HOURS = 24;
const DAY_S = 24 * 3600;
const FRAME_MS = 1000 / 60;
/** Frames are counted by the screen's beat, whose times are told to a tenth of a millisecond. */
const ON_TIME_MS = FRAME_MS + 0.5;

const ms = (value: number): string => `${value.toFixed(value < 10 ? 1 : 0)} ms`;
const percent = (share: number): string => `${(100 * share).toFixed(1)} %`;
const share = (values: readonly number[], of: number): number => {
  const sorted = values.toSorted((a, b) => a - b);
  return sorted[Math.ceil(of * (sorted.length - 1))]!;
};
const median = (values: readonly number[]): number => share(values, 0.5);
const raw = (values: readonly number[], digits = 0): string =>
  values.map((value) => value.toFixed(digits)).join(', ');
const row = (...cells: [what: string, figure: string, aim: string, rawValues: string]): void => {
  process.stdout.write(`| ${cells.join(' | ')} |\n`);
};

const { data, remove } = dataFolderOnDisk();
const filledFrom = performance.now();
const { count } = await fillStore(data, days);
const filledS = (performance.now() - filledFrom) / 1000;
const daemon = await serve({ data });
const device = await connectAsync(`mqtt://${LOOPBACK}:${daemon.mqttPort}`);
const api = new Api(daemon.httpPort);
let browser: Browser | undefined;
let isOver = false;

const publish = (vessel: string, readings: readonly (readonly [string, number])[]) =>
  Promise.all(
    readings.map(([channel, value]) =>
      device.publishAsync(readingTopic(SITE, vessel, channel), String(value), { qos: 1 }),
    ),
  );

/** Both vessels once a second, as in life. */
async function goOnReading(): Promise<void> {
  while (!isOver) {
    const readings = wideReadings(Date.now());
    await publish(WIDE, readings);
    await publish(LONG, readings.slice(0, 1));
    await wait(1000);
  }
}

interface Opened {
  page: Page;
  session: CDPSession;
  close: () => Promise<void>;
}

async function open(hash: string, { port = daemon.httpPort, slowed = 1 } = {}): Promise<Opened> {
  const context = await browser!.newContext({ viewport: DESK, locale: 'en-GB' });
  // What runs this file gives functions their names by it.
  await context.addInitScript({ content: 'globalThis.__name = (named) => named;' });
  const page = await context.newPage();
  await page.addInitScript(watchInPage);
  const session = await context.newCDPSession(page);
  if (slowed !== 1) await session.send('Emulation.setCPUThrottlingRate', { rate: slowed });
  await page.goto(hash === 'about:blank' ? hash : `http://${LOOPBACK}:${port}/${hash}`);
  return { page, session, close: () => context.close() };
}

/** What the page is asked for later, kept from its start on. */
interface Kept {
  firstVesselMs?: number;
  heard: number;
  slow: { name: string; ms: number }[];
}
declare global {
  var kept: Kept;
}

/** Runs in the page, before anything of it. */
function watchInPage(): void {
  if (location.protocol === 'about:') return;
  localStorage.setItem('esterwatch.name', 'Ada Brook');
  const kept: Kept = { heard: 0, slow: [] };
  globalThis.kept = kept;
  const afterPaint = (then: () => void): void => {
    requestAnimationFrame(() => {
      const channel = new MessageChannel();
      channel.port1.onmessage = then;
      channel.port2.postMessage(null);
    });
  };
  const seen = new MutationObserver(() => {
    if (document.querySelector('article.vessel .said') === null) return;
    seen.disconnect();
    afterPaint(() => {
      kept.firstVesselMs = performance.now();
    });
  });
  seen.observe(document, { childList: true, subtree: true });
  new PerformanceObserver((list) => {
    for (const entry of list.getEntries() as (PerformanceEntry & { interactionId?: number })[])
      if (entry.interactionId) kept.slow.push({ name: entry.name, ms: entry.duration });
  }).observe({ type: 'event', durationThreshold: 16, buffered: true } as PerformanceObserverInit);
  const Plain = globalThis.WebSocket;
  globalThis.WebSocket = class extends Plain {
    constructor(address: string | URL) {
      super(address);
      this.addEventListener('message', () => {
        kept.heard += 1;
      });
    }
  };
}

/**
 * From now on the time that pages' own threads have computed, ms: what others do on the machine is not in it. Linux
 * only.
 */
async function ownTime(): Promise<() => Promise<number>> {
  const session = await browser!.newBrowserCDPSession();
  const now = async (): Promise<Map<number, number>> => {
    const { processInfo } = await session.send('SystemInfo.getProcessInfo');
    const pages = processInfo.filter(({ type }) => type === 'renderer').map(({ id }) => id);
    // Of a process this is its first thread alone, on which pages run.
    return new Map(
      pages.map((id) => [id, Number(readFileSync(`/proc/${id}/schedstat`, 'utf8').split(' ')[0]) / 1e6]),
    );
  };
  const from = await now();
  return async () => {
    let sum = 0;
    for (const [id, spentMs] of await now()) sum += spentMs - (from.get(id) ?? 0);
    await session.detach();
    return sum;
  };
}

// ---- how fast this machine is ----

async function yardstick(): Promise<void> {
  const opened = await open(hrefOf('refused'));
  const { page, close } = opened;
  const times: number[] = [];
  for (let i = 0; i < 7; i++)
    times.push(
      await page.evaluate(() => {
        const from = performance.now();
        let x = 1;
        for (let j = 0; j < 50_000_000; j++) x = (Math.imul(x, 1_664_525) + 1_013_904_223) | 0;
        return performance.now() - from + (x === 0.5 ? 1 : 0);
      }),
    );
  row(
    'yardstick: a plain loop of 50 million multiplications in the page, median',
    ms(median(times)),
    '',
    raw(times),
  );
  const idle = await frames(opened, () => wait(3000));
  row(
    'yardstick: frames on time while nothing moves',
    `${percent(idle.onTime)}, longest ${ms(idle.longest)}`,
    '',
    `${idle.count} frames`,
  );
  await close();
}

// ---- the first vessel ----

async function firstVessel(): Promise<void> {
  const [first, again]: [number[], number[]] = [[], []];
  const drawnMs = async (page: Page): Promise<number> => {
    const found = await page.waitForFunction(() => kept.firstVesselMs, undefined, { polling: 200 });
    return (await found.jsonValue())!;
  };
  for (let i = 0; i < FIRST_RUNS; i++) {
    const { page, close } = await open(hrefOf('overview'), { slowed: SLOWED });
    first.push(await drawnMs(page));
    await page.waitForTimeout(1500);
    await page.reload();
    again.push(await drawnMs(page));
    await close();
  }
  const own: number[] = [];
  for (let i = 0; i < FIRST_RUNS; i++) {
    const { page, close } = await open('about:blank');
    const computed = await ownTime();
    await page.goto(`http://${LOOPBACK}:${daemon.httpPort}/${hrefOf('overview')}`);
    await drawnMs(page);
    own.push(await computed());
    await close();
  }
  const what = `first vessel drawn, processor slowed ${SLOWED} ×`;
  row(`${what}, nothing kept, median`, ms(median(first)), 'under 1 s', raw(first));
  row(`${what}, opened again, median`, ms(median(again)), '', raw(again));
  row(
    'first vessel drawn: time that the page itself computed for it, not slowed, median',
    ms(median(own)),
    '',
    raw(own),
  );
}

// ---- clicks and keys ----

/** Below this the browser tells no duration, ms. */
const LEAST_TOLD_MS = 16;
const SETTLE_MS = 250;

async function tillPaint(slowed: number, hashes: Parameters<typeof interactions>[0]): Promise<void> {
  const { page, session, close } = await open(hrefOf('overview'));
  await page.locator('.page.live').waitFor();
  await session.send('Emulation.setCPUThrottlingRate', { rate: slowed });
  const found: { what: string; ms: number }[] = [];
  const act = async (what: string, run: Interaction): Promise<void> => {
    await page.evaluate(() => {
      kept.slow = [];
    });
    await run(page);
    await wait(slowed === 1 ? SETTLE_MS : 2 * SETTLE_MS);
    const slow = await page.evaluate(() => kept.slow);
    found.push({ what, ms: Math.max(LEAST_TOLD_MS, ...slow.map((each) => each.ms)) });
  };
  await interactions(hashes, page, act);
  const times = found.map((each) => each.ms);
  const slowest = found
    .toSorted((a, b) => b.ms - a.ms)
    .slice(0, 5)
    .map((each) => `${each.what} ${each.ms}`);
  row(
    `interaction to next paint, ${times.length} clicks and keys on 9 pages${slowed === 1 ? '' : `, processor slowed ${slowed} ×`}: 98th of a hundred, median`,
    `${ms(share(times, 0.98))}, ${ms(median(times))}`,
    slowed === 1 ? 'under 100 ms' : '',
    `slowest: ${slowest.join('; ')} (told in steps of 8, from ${LEAST_TOLD_MS})`,
  );
  await close();
}

// ---- a day of messages ----

async function day(hash: string, name: string, startMs: number): Promise<void> {
  const vessel = await api.vessel(`${SITE}:${WIDE}`);
  const [alarm] = await api.alarms();
  let heard = 0;
  let page: Page;
  const live = await startFakeLive({
    httpPort: daemon.httpPort,
    vessel,
    alarm: alarm!,
    say: wideReadings,
    startMs,
    settled: async (more) => {
      heard += more;
      await page.waitForFunction((wanted) => kept.heard >= wanted, heard, { timeout: 0, polling: 200 });
      await page.waitForTimeout(500);
    },
  });
  const opened = await open(hash, { port: live.port });
  page = opened.page;
  await page.locator('.page.live').waitFor();
  const used: number[] = [];
  let sent = 0;
  const from = performance.now();
  for (let hour = 1; hour <= HOURS; hour++) {
    sent += await live.hour();
    await opened.session.send('HeapProfiler.collectGarbage');
    await opened.session.send('HeapProfiler.collectGarbage');
    const { usedSize } = (await opened.session.send('Runtime.getHeapUsage')) as { usedSize: number };
    used.push(usedSize / 1e6);
    process.stderr.write(`${name}: ${hour} h, ${used.at(-1)!.toFixed(1)} MB\n`);
  }
  const lastedS = (performance.now() - from) / 1000;
  row(
    `heap after ${HOURS} h of messages, beside that after 1 h: ${name}`,
    `${used.at(-1)!.toFixed(1)} MB, ${used[0]!.toFixed(1)} MB: ${((used.at(-1)! / used[0]! - 1) * 100).toFixed(1)} %`,
    'within 20 %',
    `${[1, 2, 6, 12, 18, 24].map((hour) => `${hour} h ${used[hour - 1]!.toFixed(1)}`).join(', ')} MB; ${sent} messages in ${lastedS.toFixed(0)} s`,
  );
  await opened.close();
  await live.close();
}

// ---- a year ----

/** Right of the plot there is so much room, px. */
const PLOT_ENDS_PX = 26;

async function year(): Promise<void> {
  const [times, answers]: [number[], number[]] = [[], []];
  for (let i = 0; i < YEAR_RUNS; i++) {
    const { page, close } = await open(
      vesselHref({ site: SITE, vessel: LONG }, 'history', { last: String(DAY_S) }),
    );
    await page.locator('figure canvas').first().waitFor();
    await page.waitForLoadState('networkidle');
    await wait(500);
    const button = page.locator('.spans button').last();
    // In the first half of what there is, which is all of the year or the end of it.
    const width = (await page.locator('figure canvas').first().boundingBox())!.width;
    const column = (width - PLOT_ENDS_PX) * (1 - (0.6 * days) / 365);
    await button.evaluate((pressed, at) => {
      pressed.addEventListener('click', ({ timeStamp }) => {
        const canvas = document.querySelector<HTMLCanvasElement>('figure canvas')!;
        const ctx = canvas.getContext('2d')!;
        /** How much of the height is drawn on, where least: a band of least and most is wide, lines are not. */
        const drawn = (): number => {
          const x = Math.round(at * devicePixelRatio);
          const shares = [0, 5, 11].map((aside) => {
            const { data } = ctx.getImageData(x + aside, 0, 1, canvas.height);
            let inked = 0;
            for (let i = 3; i < data.length; i += 4) if (data[i]! > 0) inked += 1;
            return inked / canvas.height;
          });
          return Math.min(...shares);
        };
        const isBand = (): boolean => drawn() > 0.24;
        if (isBand()) throw new Error('there is a band already');
        const look = (): void => {
          if (!isBand()) {
            requestAnimationFrame(look);
            return;
          }
          // Painted at the latest when the next frame begins.
          requestAnimationFrame((frame) => {
            Object.assign(globalThis, { yearMs: frame - timeStamp });
          });
        };
        requestAnimationFrame(look);
      });
    }, column);
    const answered = page.waitForResponse((response) => response.url().includes('/readings?'));
    await button.click();
    const response = await answered;
    const { yearMs } = (await (
      await page.waitForFunction(
        () => 'yearMs' in globalThis && { yearMs: Reflect.get(globalThis, 'yearMs') },
      )
    ).jsonValue()) as { yearMs: number };
    times.push(yearMs);
    await response.finished();
    answers.push(response.request().timing().responseEnd);
    await close();
  }
  row(
    `${days} days of 1 Hz, from click to pixels, median`,
    ms(median(times)),
    'a year under 150 ms',
    `${raw(times)}; of it the daemon's answer ${raw(answers)}`,
  );
}

// ---- zoom and drag ----

interface Frames {
  onTime: number;
  longest: number;
  count: number;
  /** What the page itself computed a frame, ms. */
  own: number;
}

async function frames({ page }: Opened, run: () => Promise<unknown>): Promise<Frames> {
  const computed = await ownTime();
  await page.evaluate(() => {
    const times: number[] = [];
    const beat = (at: number): void => {
      times.push(at);
      if (!('framesOver' in globalThis)) requestAnimationFrame(beat);
    };
    Object.assign(globalThis, { frameTimes: times });
    requestAnimationFrame(beat);
  });
  await run();
  const times = await page.evaluate(() => {
    Object.assign(globalThis, { framesOver: true });
    return (globalThis as unknown as { frameTimes: number[] }).frameTimes;
  });
  const ownMs = await computed();
  await page.waitForTimeout(100);
  await page.evaluate(() => {
    Reflect.deleteProperty(globalThis, 'framesOver');
  });
  const apart = times.slice(1).map((at, i) => at - times[i]!);
  return {
    onTime: apart.filter((each) => each <= ON_TIME_MS).length / apart.length,
    longest: Math.max(...apart),
    count: apart.length,
    own: ownMs / apart.length,
  };
}

/** Once a frame, as hands do at most. */
async function eachFrame(count: number, move: (step: number) => Promise<unknown>): Promise<void> {
  const from = performance.now();
  for (let step = 0; step < count; step++) {
    await move(step);
    await wait(Math.max(0, from + (step + 1) * FRAME_MS - performance.now()));
  }
}

async function zoomAndDrag(): Promise<void> {
  const opened = await open(vesselHref({ site: SITE, vessel: WIDE }, 'history', { last: String(DAY_S) }));
  const { page, close } = opened;
  await page.locator('figure canvas').nth(4).waitFor();
  await page.waitForLoadState('networkidle');
  const board = page.locator('.board');
  await board.focus();
  const box = (await board.boundingBox())!;
  const [x, y] = [box.x + box.width * 0.6, Math.min(box.y + 300, DESK.height - 50)];
  await page.mouse.move(x, y);
  const zooms: Frames[] = [];
  const drags: Frames[] = [];
  for (let i = 0; i < HANDS_RUNS; i++) {
    zooms.push(
      await frames(opened, () => eachFrame(240, (step) => page.mouse.wheel(0, step % 120 < 60 ? -60 : 60))),
    );
    await page.mouse.down();
    drags.push(
      await frames(opened, () =>
        eachFrame(240, (step) => page.mouse.move(x + 300 * Math.sin((step / 60) * Math.PI), y)),
      ),
    );
    await page.mouse.move(x, y);
    await page.mouse.up();
  }
  for (const [what, found] of [
    ['wheel', zooms],
    ['drag', drags],
  ] as const)
    row(
      `6 channels × 24 h at 1 Hz under the ${what}: frames under ${FRAME_MS.toFixed(1)} ms, and the longest; median of ${HANDS_RUNS}`,
      `${percent(median(found.map((each) => each.onTime)))}, ${ms(median(found.map((each) => each.longest)))}; the page itself computed ${ms(median(found.map((each) => each.own)))} a frame`,
      'smooth',
      found
        .map((each) => `${percent(each.onTime)} of ${each.count}, ${ms(each.longest)}, ${ms(each.own)}`)
        .join('; '),
    );
  await close();
}

try {
  await api.ready();
  await api.stateSite(SITE, { altitudeM: 340 });
  for (const vessel of ['t1', 'm1'])
    await api.call('PUT', `/api/v1/vessels/${SITE}:${vessel}`, { role: 'reactor' });
  const past = await api.openBatch(`${SITE}:t1`, { oil: { volumeL: 80 } });
  for (const stage of ['dose', 'react', 'finished'] as const) await api.enter(past, stage);
  const batch = await api.openBatch(`${SITE}:${WIDE}`, {
    oil: { volumeL: 100 },
    watch: { lowestStirrerSpeed: 200 },
  });
  for (const stage of ['dose', 'react'] as const) await api.enter(batch, stage);
  await publish(WIDE, [['liquid-temperature', 62.9]]);
  await eventually(
    () => api.alarms(),
    (alarms) => alarms.length > 0,
  );
  const reads = goOnReading();
  browser = await startChromium();
  process.stdout.write(
    `${count} readings, filled in ${filledS.toFixed(0)} s; Chromium ${browser.version()}, ${DESK.width} × ${DESK.height}, node ${process.version}\n`,
  );
  row('what', 'figure', 'aim', 'raw values, ms where no unit stands');
  row('---', '---', '---', '---');
  const hashes = { vessel: { site: SITE, vessel: WIDE }, batch: idHref('batch', batch) };
  const parts: Readonly<Record<string, () => Promise<void>>> = {
    yardstick,
    first: firstVessel,
    hands: () => tillPaint(1, hashes),
    'hands-slowed': () => tillPaint(SLOWED, hashes),
    year,
    frames: zoomAndDrag,
    'day-of-all': () => day(hrefOf('overview'), 'all vessels', Date.now()),
    'day-of-vessel': () => day(vesselHref({ site: SITE, vessel: WIDE }), 'a vessel with charts', Date.now()),
  };
  for (const [name, measure] of Object.entries(parts))
    if (wanted.length === 0 || wanted.includes(name)) await measure();
  isOver = true;
  await reads;
} finally {
  isOver = true;
  await browser?.close();
  await device.endAsync(true);
  daemon.kill('SIGKILL');
  await daemon.ended;
  remove();
}
