import type { Browser, BrowserContextOptions, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, onTestFinished, test } from 'vitest';
import { titrationFields } from '../../../dashboard/pages/batch/entry-forms.ts';
import { BATCH, BATCHES, BESIDE, DRAINING, ENTRIES, SCALES } from '../../../dashboard/texts/batch.ts';
import { STAGE_NAMES, TEXTS } from '../../../dashboard/texts/live.ts';
import { STOCK } from '../../../dashboard/texts/stock.ts';
import { drainingOf } from '../../../shared/batch/draining.ts';
import { toWeigh } from '../../../shared/batch/scales.ts';
import type { Batch } from '../../../shared/wire/batch.ts';
import type { Lot } from '../../../shared/wire/lots.ts';
import type { Stage } from '../../../shared/wire/names.ts';
import { Api, eventually } from '../../support/api.ts';
import { startChromium } from '../../support/chromium.ts';
import { jpegOf } from '../../support/pictures.ts';
import { dataFolder, LOOPBACK, type Served, serve } from '../../support/serving.ts';

/** The narrowest phone. */
const NARROW = { width: 320, height: 640 };
/** A page may show things late on a loaded machine, ms. */
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
  await api.ready();
  await api.stateSite('barn', { altitudeM: 0 });
  for (const vessel of ['r1', 'r2', 'r3', 'r4', 't1'])
    await api.call('PUT', `/api/v1/vessels/barn:${vessel}`, { role: 'reactor' });
});
afterAll(async () => {
  await browser?.close();
  served?.kill('SIGKILL');
  await served?.ended;
  removeData?.();
});

interface Opened {
  page: Page;
  /** What the browser's console calls an error, and what the page threw. */
  errors: string[];
  /** Hosts asked for anything. */
  hosts: Set<string>;
}

async function open(hash: string, options: BrowserContextOptions = {}): Promise<Opened> {
  const context = await browser.newContext({ viewport: NARROW, locale: 'en-GB', ...options });
  onTestFinished(() => context.close());
  await context.addInitScript(() => localStorage.setItem('esterwatch.name', 'Ada Brook'));
  const page = await context.newPage();
  page.setDefaultTimeout(PATIENCE_MS);
  const errors: string[] = [];
  const hosts = new Set<string>();
  page.on('console', (message) => {
    // A refusal is no success, and the browser says so; what the page does then is looked at.
    if (message.type() === 'error' && !message.text().includes('409')) errors.push(message.text());
  });
  page.on('pageerror', (error) => errors.push(String(error)));
  page.on('request', (request) => hosts.add(new URL(request.url()).host));
  await page.goto(`http://${LOOPBACK}:${served.httpPort}/${hash}`);
  return { page, errors, hosts };
}

const widthOf = (page: Page) => page.evaluate(() => document.documentElement.scrollWidth);
const batchOf = (id: string): Promise<Batch> => api.get(`/api/v1/batches/${id}`);
const section = (page: Page, name: string) => page.getByRole('region', { name, exact: true });

/** On to a stage by the page's own dialog; early, with a reason. */
async function goOn(page: Page, stage: Stage): Promise<void> {
  const usual = page.getByRole('button', { name: TEXTS.stage.next(STAGE_NAMES[stage]), exact: true });
  if ((await usual.count()) > 0) await usual.click();
  else {
    await page.locator('.go-on summary', { hasText: TEXTS.stage.other }).click();
    await page.locator('.choices').getByRole('button', { name: STAGE_NAMES[stage], exact: true }).click();
  }
  const dialog = page.getByRole('dialog');
  const ends = stage === 'finished';
  if (ends) await dialog.getByLabel(TEXTS.stage.endCheck).check();
  const begin = ends ? TEXTS.stage.confirmEnd : TEXTS.stage.confirm;
  await dialog.getByRole('button', { name: begin(STAGE_NAMES[stage]), exact: true }).click();
  const reason = dialog.getByLabel(TEXTS.stage.reason);
  const isShort = await eventually(
    async () => ((await dialog.count()) === 0 ? false : (await reason.count()) > 0 ? true : undefined),
    (short) => short !== undefined,
  );
  if (!isShort) return;
  await reason.fill('shown to a class');
  await dialog.getByRole('button', { name: TEXTS.stage.anyway }).click();
  await dialog.waitFor({ state: 'detached' });
}

test('a batch from oil to record, with the mouse', { timeout: 120_000 }, async () => {
  const { page, errors, hosts } = await open('#/stock');
  await page.getByLabel(STOCK.name).fill('Autumn drum');
  await page.getByLabel(STOCK.fields.litres).fill('150');
  const [mL, titrant] = titrationFields();
  await page.getByLabel(mL!.label).fill('2.4 2.5');
  await page.getByLabel(titrant!.label, { exact: true }).selectOption('KOH');
  await page.getByRole('button', { name: STOCK.save }).click();
  await page.getByText(STOCK.saved('Autumn drum')).waitFor();

  await page.goto(`http://${LOOPBACK}:${served.httpPort}/#/vessel/barn/r1`);
  await page.getByRole('button', { name: TEXTS.batch.start }).click();
  const start = page.getByRole('dialog');
  await start.getByLabel(TEXTS.batch.name).fill('First of autumn');
  await start.getByRole('button', { name: TEXTS.batch.submit }).click();
  await start.waitFor({ state: 'detached' });
  await page.locator('.batch').getByRole('link', { name: 'First of autumn' }).click();
  await page.getByRole('heading', { level: 1, name: 'First of autumn' }).waitFor();
  const id = page.url().split('/').at(-1)!;

  const draws = section(page, BATCH.draws.title);
  await draws.getByLabel(BATCH.draws.from).selectOption({ label: BATCH.draws.left('Autumn drum', '150 L') });
  await draws.getByLabel(BATCH.draws.litres('L')).fill('160');
  await draws.getByRole('button', { name: BATCH.draws.save }).click();
  await draws.getByText(BATCH.draws.short.stock('150 L', '160 L')).waitFor();
  await draws.getByLabel(BATCH.draws.litres('L')).fill('100');
  await draws.getByLabel(BATCH.draws.anyway).fill('measured again');
  await draws.getByRole('button', { name: BATCH.draws.drawAnyway }).click();
  await draws.getByText(BATCH.story.drew('100 L', 'Autumn drum')).waitFor();

  for (const stage of ['warm', 'dose', 'react'] as const) await goOn(page, stage);
  await page.getByText('0 of 60 min').first().waitFor();

  const note = section(page, BATCH.note.title);
  await note.getByLabel(BATCH.note.kind).selectOption(ENTRIES.kinds['3/27']);
  await note.getByLabel(ENTRIES.fields.dropoutMl).fill('0,3');
  await note.getByRole('button', { name: BATCH.note.save }).click();
  await note.getByText(/10 %: not passed/).waitFor();
  const story = section(page, BATCH.story.title);
  await story.getByRole('button', { name: /3\/27/ }).click();
  const correct = page.getByRole('dialog');
  await correct.getByLabel(ENTRIES.fields.dropoutMl).fill('0');
  await correct.getByLabel(BATCH.note.reason).fill('read the wrong line');
  await correct.getByRole('button', { name: BATCH.note.save }).click();
  await story.getByText(BATCH.story.corrects('read the wrong line')).waitFor();

  const pictures = section(page, BATCH.picture.title);
  await pictures.getByLabel(BATCH.picture.file).setInputFiles({
    name: 'line.jpg',
    mimeType: 'image/jpeg',
    buffer: jpegOf({ width: 64, height: 32 }),
  });
  await pictures.getByLabel(BATCH.picture.text).fill('the line');
  await pictures.getByRole('button', { name: BATCH.picture.send }).click();
  const shown = story.getByAltText('the line');
  await shown.waitFor();
  await eventually(
    () => shown.evaluate((image: HTMLImageElement) => image.naturalWidth),
    (width) => width === 64,
  );

  for (const stage of ['settle', 'drain'] as const) await goOn(page, stage);
  const move = section(page, BATCH.move.title);
  await move.getByLabel(BATCH.move.to).selectOption('t1');
  await move.getByLabel(BATCH.move.litres('L')).fill('95');
  await move.getByRole('button', { name: BATCH.move.save }).click();
  await story.getByText(BATCH.story.moved(BATCH.story.movedWhat.ester, '95.0 L', 'r1', 't1')).waitFor();
  await goOn(page, 'finished');
  await page.getByText(BATCH.ended(STAGE_NAMES.finished)).waitFor();

  const batch = await batchOf(id);
  expect(batch).toMatchObject({ name: 'First of autumn', stage: 'finished', open: false, vessel: 't1' });
  expect(batch.stages.map(({ stage }) => stage)).toEqual([
    'warm',
    'dose',
    'react',
    'settle',
    'drain',
    'finished',
  ]);
  expect(batch.entries.map(({ what, by }) => [what.kind, by])).toEqual([
    ['test', 'Ada Brook'],
    ['test', 'Ada Brook'],
    ['photograph', 'Ada Brook'],
  ]);
  expect(batch.entries[0]!.correctedBy).toBe(batch.entries[1]!.id);
  expect(batch.draws).toMatchObject([{ litres: 100, undone: null }]);

  const record = section(page, BATCH.papers.title).getByRole('link', { name: BATCH.papers.formats.json });
  const answer = await page.request.get(new URL((await record.getAttribute('href'))!, page.url()).href);
  expect((await answer.json()).batch.id).toBe(id);

  // From the other end: what the lot went into.
  await draws.getByRole('link', { name: BATCH.story.drew('100 L', 'Autumn drum') }).click();
  await section(page, STOCK.wentInto).getByRole('link', { name: 'First of autumn' }).waitFor();
  const { lots } = await api.get<{ lots: Lot[] }>('/api/v1/lots');
  expect(lots[0]).toMatchObject({ litresLeft: 50, what: { titration: { mL: [2.4, 2.5], titrant: 'KOH' } } });

  await page.goto(`http://${LOOPBACK}:${served.httpPort}/#/batches`);
  await page.getByRole('link', { name: 'First of autumn' }).waitFor();
  await page.getByText(BATCHES.filter.label).click();
  await page.getByLabel(BATCHES.filter.text).fill('spring');
  await page.getByText(BATCHES.noneSuch).waitFor();
  expect(errors).toEqual([]);
  expect([...hosts]).toEqual([`${LOOPBACK}:${served.httpPort}`]);
});

test('the scales with the keyboard alone: right, short and made up, STOP and taken out', {
  timeout: 60_000,
}, async () => {
  const id = await api.openBatch('barn:r2', { catalyst: { kind: 'KOH' } });
  const { page, errors } = await open(`#/batch/${id}`);
  await page.getByRole('link', { name: SCALES.title }).waitFor();
  const focused = () => page.evaluate(() => document.activeElement?.textContent ?? '');
  for (let i = 0; i < 40 && (await focused()) !== SCALES.title; i++) await page.keyboard.press('Tab');
  await page.keyboard.press('Enter');
  const [oil, methanol, lye] = toWeigh(await batchOf(id));
  const verdict = page.locator('.verdict');
  const weigh = async (kg: number, unit: 'g' | 'kg') => {
    await page.getByRole('textbox', { name: SCALES.shown(unit) }).waitFor();
    await page.keyboard.type(unit === 'g' ? (kg * 1000).toFixed(0) : kg.toFixed(2));
    await page.keyboard.press('Enter');
  };
  const says = (text: string) => verdict.getByText(text).first().waitFor();
  /** Whether the field has the keys in the same moment in which it is drawn: one that comes right then is not lost. */
  const hasKeysWhenDrawn = page.evaluate(
    () =>
      new Promise<boolean>((resolve) => {
        let wasThere = document.querySelector('#shown') !== null;
        new MutationObserver(() => {
          const field = document.querySelector('#shown');
          if (field !== null && !wasThere) resolve(document.activeElement === field);
          wasThere = field !== null;
        }).observe(document, { childList: true, subtree: true });
      }),
  );

  await weigh(oil!.plannedKg, 'kg');
  await says(SCALES.right);
  await page.keyboard.press('Enter');
  expect(await hasKeysWhenDrawn).toBe(true);
  await weigh(methanol!.plannedKg - 2, 'kg');
  // What is short is less than 10 kg: in g from here on.
  await says(SCALES.short('').trim());
  await weigh(2, 'g');
  await says(SCALES.right);
  await page.keyboard.press('Enter');
  await weigh(lye!.plannedKg + 0.1, 'g');
  await says(SCALES.stop);
  expect(await widthOf(page)).toBeLessThanOrEqual(NARROW.width);
  await eventually(focused, (text) => text === SCALES.tookOut);
  await page.keyboard.press('Enter');
  await weigh(lye!.plannedKg, 'g');
  await says(SCALES.right);
  await eventually(focused, (text) => text === SCALES.done);
  await page.keyboard.press('Enter');
  await page.getByRole('dialog').waitFor({ state: 'detached' });

  const batch = await batchOf(id);
  expect(toWeigh(batch).map(({ state }) => state)).toEqual(['right', 'right', 'right']);
  expect(
    batch.entries.map(({ what, result }) => [what.kind === 'weighing' && what.what, result?.passed]),
  ).toEqual([
    ['oil', true],
    ['methanol', false],
    ['methanol', true],
    ['catalyst', false],
    ['catalyst', true],
  ]);
  expect(batch.entries.at(-1)!.corrects).toEqual({
    entry: batch.entries.at(-2)!.id,
    reason: SCALES.tookOutReason,
  });
  expect(errors).toEqual([]);
});

test('draining by touch: taps outlast a reload, and much less than expected is said', {
  timeout: 60_000,
}, async () => {
  const id = await api.openBatch('barn:r3');
  for (const stage of ['dose', 'react', 'settle', 'drain'] as const) await api.enter(id, stage);
  const { page, errors } = await open(`#/batch/${id}`, { hasTouch: true });
  await page.getByRole('link', { name: DRAINING.title }).tap();
  const expected = drainingOf(await batchOf(id))!;
  const tap = (litres: number) => page.getByRole('button', { name: DRAINING.add(`${litres} L`) }).tap();
  await tap(5);
  await tap(1);
  await tap(1);
  await page.getByRole('button', { name: DRAINING.undo }).tap();
  await page.getByText(DRAINING.soFar('6.00 L')).waitFor();
  await page.getByText(DRAINING.states.coming).waitFor();
  await page.reload();
  await page.getByText(DRAINING.soFar('6.00 L')).waitFor();
  expect(await widthOf(page)).toBeLessThanOrEqual(NARROW.width);
  await page.getByRole('button', { name: DRAINING.note('6.00 L') }).tap();
  await page.getByText(DRAINING.poor).waitFor();

  // With one's own jug up to where it goes slowly.
  const jug = Math.ceil(expected.slowFromL - 6) + 0.5;
  await page.getByLabel(DRAINING.jug('L')).fill(String(jug));
  await tap(jug);
  await page.getByText(DRAINING.states.slowly).waitFor();
  await page.getByRole('button', { name: DRAINING.note(`${jug.toFixed(jug < 10 ? 2 : 1)} L`) }).tap();
  const { entries } = await eventually(
    () => batchOf(id),
    (batch) => batch.entries.length === 2,
  );
  expect(entries.map(({ what }) => what)).toEqual([
    { kind: 'drained', what: 'glycerol', litres: 6 },
    { kind: 'drained', what: 'glycerol', litres: jug },
  ]);
  await page.getByText(entries[1]!.result!.says).first().waitFor();
  expect(errors).toEqual([]);
});

test('a mistake is voided with a reason, and two batches are laid over each other', {
  timeout: 60_000,
}, async () => {
  const ids: string[] = [];
  const ago = (minutes: number) => Date.now() - minutes * 60_000;
  for (const [i, name] of ['Warm day', 'Cold day'].entries()) {
    const from = i === 0 ? 120 : 50;
    const note = (path: string, body: object, minutes: number) =>
      api.call('POST', `/api/v1/${path}`, { ...body, at: ago(minutes), anyway: { reason: 'a test run' } });
    const answer = await api.call('POST', '/api/v1/batches', {
      vessel: 'barn:r4',
      plan: {},
      name,
      at: ago(from),
    });
    const { id } = (await answer.json()) as Batch;
    ids.push(id);
    await note(`batches/${id}/stage`, { stage: 'dose' }, from - 1);
    await note(`batches/${id}/stage`, { stage: 'react' }, from - 5);
    for (let minute = 0; minute < 30; minute++)
      await api.call('POST', '/api/v1/vessels/barn:r4/readings', {
        channel: 'liquid-temperature',
        value: 50 + minute / 10 - 5 * i,
        at: ago(from - 5 - minute),
      });
    if (i === 0) {
      await note(`batches/${id}/stage`, { stage: 'settle' }, from - 40);
      await note(`batches/${id}/stage`, { stage: 'rejected' }, from - 50);
    }
  }
  const { page, errors } = await open(`#/batch/${ids[1]}`);
  await page.getByRole('button', { name: BATCH.end.open }).click();
  const dialog = page.getByRole('dialog');
  await dialog.getByLabel(BATCH.end.kinds.void).check();
  await dialog.getByLabel(BATCH.end.reason).fill('wrong vessel');
  await dialog.getByLabel(BATCH.end.sure).check();
  await dialog.getByRole('button', { name: BATCH.end.send }).click();
  await page.getByText(BATCH.ended(STAGE_NAMES.void)).waitFor();
  expect(await batchOf(ids[1]!)).toMatchObject({ stage: 'void', open: false });

  await page.getByRole('link', { name: BATCH.all }).click();
  for (const name of ['Warm day', 'Cold day']) await page.getByLabel(BATCHES.choose(name)).check();
  await page.getByRole('link', { name: BATCHES.beside('Warm day', 'Cold day') }).click();
  await page.getByRole('heading', { level: 1, name: BESIDE.title('Warm day', 'Cold day') }).waitFor();
  await page.getByText(BESIDE.alignedAt(STAGE_NAMES.react)).waitFor();
  // What the second lacks: it never settled.
  await page.getByText(BESIDE.lacks.stage(STAGE_NAMES.settle)).waitFor();
  await page.getByText(BESIDE.summary('Warm day', '50.0 °C', '52.9 °C')).waitFor();
  await page.getByLabel(BESIDE.align).selectOption(STAGE_NAMES.dose);
  await page.getByText(BESIDE.alignedAt(STAGE_NAMES.dose)).waitFor();
  await page.locator('main canvas').first().waitFor();
  // More than axes and a grid: lines from left to right, in the ink of the page.
  await eventually(
    () =>
      page
        .locator('main canvas')
        .first()
        .evaluate((canvas: HTMLCanvasElement) => {
          const { width, height } = canvas;
          const { data } = canvas.getContext('2d')!.getImageData(0, 0, width, height);
          const inked = new Set<number>();
          for (let i = 0; i < data.length; i += 4)
            if (data[i]! < 0x40 && data[i + 3]! > 200) inked.add((i / 4) % width);
          return inked.size;
        }),
    (columns) => columns > 50,
  );
  expect(await widthOf(page)).toBeLessThanOrEqual(NARROW.width);
  expect(errors).toEqual([]);

  // From one batch to another by the address alone.
  const { page: other } = await open(`#/batch/${ids[1]}`);
  for (const [i, name] of [
    [1, 'Cold day'],
    [0, 'Warm day'],
  ] as const) {
    await other.goto(`http://${LOOPBACK}:${served.httpPort}/#/batch/${ids[i]}`);
    await other.getByRole('heading', { level: 1, name, exact: true }).waitFor();
  }

  for (const hash of ['#/batches', `#/batch/${ids[0]}`, '#/stock']) {
    await page.goto(`http://${LOOPBACK}:${served.httpPort}/${hash}`);
    await page.locator('main h1').waitFor();
    await page.locator('main h2').last().waitFor();
    expect(await widthOf(page)).toBeLessThanOrEqual(NARROW.width);
  }
  expect(errors).toEqual([]);
});
