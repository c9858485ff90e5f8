import { execFileSync } from 'node:child_process';
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { startChromium } from '../../support/chromium.ts';
import { ManualClock } from '../../support/manual-clock.ts';
import { type RunningDaemon, runDaemon } from '../running-daemon.ts';
import { temporaryDir } from '../store/fixture.ts';
import { expectProblem } from './problem.ts';

const START_MS = Date.UTC(2026, 2, 2, 10);
const DAY_MS = 24 * 3_600_000;

let daemon: RunningDaemon;
let clock: ManualClock;
let browser: Browser;
const cleanUps: (() => Promise<void>)[] = [];
beforeAll(async () => {
  clock = new ManualClock(START_MS);
  daemon = await runDaemon({ clock }, (cleanUp) => cleanUps.push(cleanUp));
  await daemon.read('barn/r1/liquid-temperature', 20);
  for (const vessel of ['m1', 't1', 't2', 't3']) await daemon.read(`barn/${vessel}/liquid-temperature`, 20);
  await daemon.send('PUT', '/api/v1/sites/barn', { altitudeM: 340 });
  browser = await startChromium();
});
afterAll(async () => {
  await browser.close();
  for (const cleanUp of cleanUps) await cleanUp();
});

async function opened(body: object = {}): Promise<string> {
  const { status, json } = await daemon.send('POST', '/api/v1/batches', { vessel: 'barn:r1', ...body });
  expect(status).toBe(201);
  return json.id;
}
const enter = (id: string, stage: string, anyway?: object) =>
  daemon.send('POST', `/api/v1/batches/${id}/stage`, { stage, by: 'Ida', ...anyway });
const note = async (id: string, what: object, more: object = {}) =>
  (await daemon.send('POST', `/api/v1/batches/${id}/entries`, { what, ...more })).json;
const labels = (id: string, what: string, more = '') =>
  daemon.get(`/api/v1/batches/${id}/labels?what=${what}${more}`);

/** The text of the first label. */
async function labelOf(id: string, what: string): Promise<string> {
  const { status, text } = await labels(id, what);
  expect(status).toBe(200);
  const [first, ...others] = [...text.matchAll(/<section>(.*?)<\/section>/gs)].map(([, inner]) => inner!);
  for (const other of others) expect(other).toBe(first);
  return first!.replaceAll(/<[^>]+>/g, ' ').replaceAll(/\s+/g, ' ');
}

describe('the label of a can of glycerol', () => {
  test('says whether methanol was recovered, and when it was drained', async () => {
    const id = await opened({ name: 'Tank <7> & "co"' });
    expect(await labelOf(id, 'glycerol')).toMatch(/Contains methanol .*no methanol was recovered/);
    expect((await labels(id, 'glycerol')).text).toContain('<dt>Drained</dt><dd></dd>');
    await enter(id, 'drain');
    expect(await labelOf(id, 'glycerol')).toContain('Drained 2026-03-02 ');
    const first = await note(id, { kind: 'drained', what: 'glycerol', litres: 99 });
    const corrects = { entry: first.id, reason: 'misread' };
    await note(id, { kind: 'drained', what: 'glycerol', litres: 9.5 }, { corrects, at: START_MS - DAY_MS });
    await note(id, { kind: 'drained', what: 'glycerol', litres: 3 });
    await note(id, { kind: 'drained', what: 'water', litres: 50 });
    const drained = await labelOf(id, 'glycerol');
    expect(drained).toContain('Drained 2026-03-01, 2026-03-02; 12.5 L in all');
    expect(drained).toContain(`Tank &lt;7&gt; &amp; &quot;co&quot; Id ${id} Site barn`);
    const reason = { anyway: { reason: 'a trial' } };
    expect((await enter(id, 'recover', reason)).status).toBe(200);
    expect(await labelOf(id, 'glycerol')).toMatch(/Contains methanol .*is being recovered/);
    await enter(id, 'wash', reason);
    expect(await labelOf(id, 'glycerol')).toMatch(
      /May still contain methanol .*was recovered 2026-03-02, what is left was not measured/,
    );
    await enter(id, 'void');
  });

  test('has temperatures as the reader wants them', async () => {
    const id = await opened();
    const inC = (await labels(id, 'glycerol')).text;
    expect(inC).toContain('9\u00a0°C to 12\u00a0°C');
    expect(inC).toContain('60\u00a0°C');
    expect(inC).not.toContain('°F');
    const inF = (await labels(id, 'glycerol', '&temperature=f')).text;
    expect(inF).toContain('48\u00a0°F to 54\u00a0°F');
    expect(inF).toContain('140\u00a0°F');
    expect(inF).not.toContain('°C');
    await enter(id, 'void');
  });
});

test('the label of a sample says what it is, and leaves room for who and until when', async () => {
  const id = await opened({ name: 'A', plan: { oil: { kind: 'rapeseed' } } });
  expect(await labelOf(id, 'sample')).toContain('Fuel from plant oil: rapeseed (canola) Batch A ');
  expect(await labelOf(id, 'sample')).toContain(
    'Opened 2026-03-02 State not finished; now: nothing has begun',
  );
  await enter(id, 'finished', { anyway: { reason: 'a trial' } });
  expect(await labelOf(id, 'sample')).toContain('State finished 2026-03-02 ');
  const { text } = await labels(id, 'sample');
  for (const name of ['Taken on', 'By', 'Keep until']) expect(text).toContain(`<dt>${name}</dt><dd></dd>`);
});

test('the label of a can of fuel says the newest of each test, and when it is rejected', async () => {
  const id = await opened({ plan: { oil: { kind: 'tallow' } } });
  expect(await labelOf(id, 'fuel')).toMatch(
    /Fuel from animal fat: tallow, not certified by field tests .*Tests passed none noted/,
  );
  const at = START_MS - DAY_MS;
  await note(id, { kind: 'test', test: '3/27', dropoutMl: 0.5 }, { at });
  await note(id, { kind: 'test', test: 'shake', partsClean: true }, { at });
  await note(id, { kind: 'test', test: 'soap', acidMl: 1, sampleG: 10, base: 'KOH' });
  await note(id, { kind: 'test', test: '3/27', dropoutMl: 0 });
  const wrong = await note(id, { kind: 'test', test: 'water', ppm: 100 });
  const corrects = { entry: wrong.id, reason: 'misread' };
  await note(id, { kind: 'test', test: 'water', ppm: 1000 }, { corrects });
  expect(await labelOf(id, 'fuel')).toContain(
    'Tests passed 3/27 (2026-03-02), shake (2026-03-01) Not passed soap (2026-03-02), water (2026-03-02)',
  );
  await enter(id, 'rejected');
  expect(await labelOf(id, 'fuel')).toMatch(/^ ?REJECTED/);
});

describe('the first line of a can of fuel', () => {
  const anyway = { anyway: { reason: 'a trial' } };
  const firstOf = async (id: string) => /^ ?(.*?) Fuel from/.exec(await labelOf(id, 'fuel'))![1];

  test('is that it is none yet until what reacted last settles', async () => {
    const id = await opened();
    const said = [await firstOf(id)];
    for (const stage of ['esterify', 'settle', 'dose', 'react', 'settle', 'dose', 'react', 'settle']) {
      await enter(id, stage, anyway);
      said.push(await firstOf(id));
    }
    const [not, may] = ['NOT FUEL YET', 'May hold methanol: flashes cold'];
    expect(said).toEqual([not, not, not, not, not, may, not, not, may]);
    await enter(id, 'void');
  });

  test.for<[string, (id: string) => Promise<unknown>, string]>([
    ['nothing', async () => {}, 'May hold methanol: flashes cold'],
    ['a wash', (id) => enter(id, 'wash', anyway), 'Fuel'],
    ['a wash that was noted', (id) => note(id, { kind: 'wash', method: 'mist', waterL: 20 }), 'Fuel'],
    [
      'a dry bed',
      async (id) => {
        await enter(id, 'wash', anyway);
        await note(id, { kind: 'wash', method: 'dry-bed' });
      },
      'May hold methanol: flashes cold',
    ],
    ['recovery', (id) => enter(id, 'recover', anyway), 'Fuel'],
    [
      'recovery from the glycerol only',
      async (id) => {
        await move(id, 'r1', 't1', 12);
        await enter(id, 'recover', { ...anyway, vessel: 'barn:t1' });
      },
      'May hold methanol: flashes cold',
    ],
    [
      'a wash before the last reaction',
      async (id) => {
        for (const stage of ['wash', 'dose', 'settle']) {
          await enter(id, stage, anyway);
          clock.advance(1000);
        }
      },
      'May hold methanol: flashes cold',
    ],
  ])('tells of methanol after %s', async ([, what, wanted]) => {
    const id = await opened();
    for (const stage of ['dose', 'settle']) {
      await enter(id, stage, anyway);
      clock.advance(1000);
    }
    await what(id);
    expect(await firstOf(id)).toBe(wanted);
    await enter(id, 'finished', anyway);
    expect(await firstOf(id)).toBe(wanted);
  });
});

const move = async (id: string, from: string, to: string, litres: number, more: object = {}) => {
  const body = { from, to, litres, what: 'glycerol', ...more };
  const moved = await daemon.send('POST', `/api/v1/batches/${id}/move`, body);
  expect(moved.status, moved.text).toBe(200);
};

test('glycerol that was moved is freed of methanol where it is, and its litres are those that were moved', async () => {
  const anyway = { anyway: { reason: 'a trial' } };
  const id = await opened();
  for (const stage of ['dose', 'settle']) await enter(id, stage, anyway);
  await move(id, 'r1', 't1', 8, { at: START_MS - DAY_MS });
  await note(id, { kind: 'drained', what: 'glycerol', litres: 8.1 });
  expect(await labelOf(id, 'glycerol')).toContain('Drained 2026-03-01; 8 L in all');
  // From the fuel: nothing of that comes off the glycerol.
  expect((await enter(id, 'recover', anyway)).status).toBe(200);
  expect(await labelOf(id, 'glycerol')).toMatch(/Contains methanol .*no methanol was recovered/);
  const ofGlycerol = { ...anyway, vessel: 'barn:t1' };
  expect((await enter(id, 'recover', ofGlycerol)).status).toBe(200);
  expect(await labelOf(id, 'glycerol')).toMatch(/Contains methanol .*is being recovered/);
  expect((await enter(id, 'drain', ofGlycerol)).status).toBe(200);
  expect(await labelOf(id, 'glycerol')).toMatch(/May still contain methanol .*was recovered/);
  // More of it, that nobody boiled anything off.
  clock.advance(1000);
  await move(id, 'r1', 't2', 4);
  expect(await labelOf(id, 'glycerol')).toMatch(/Contains methanol .*was recovered 2026-03-02 in t1 only/);
  await move(id, 't2', 't3', 4);
  expect(await labelOf(id, 'glycerol')).toContain('Drained 2026-03-01, 2026-03-02; 12 L in all');
  await enter(id, 'void');
});

test('of the tests a can of fuel has those of the fuel, and what no standard takes', async () => {
  const id = await opened();
  await note(id, { kind: 'test', test: 'titration', mL: 1, titrant: 'KOH' });
  await note(id, { kind: 'test', test: 'water', ppm: 100 });
  for (const [property, value] of [
    ['flashPoint', 60],
    ['acidValue', 0.4],
    ['methanol', 1],
  ] as const)
    await note(id, { kind: 'test', test: 'laboratory', property, value });
  const label = await labelOf(id, 'fuel');
  expect(label).not.toContain('titration');
  expect(label).toContain('Tests passed water (2026-03-02) ');
  expect(label).toContain('OUTSIDE Flash point, Methanol (EN 14214, ASTM D6751) ');
  expect(label).not.toContain('Acid value');
  await enter(id, 'void');
});

test('labels fit on a sheet of either paper, nothing cut off, and load nothing', {
  timeout: 60_000,
}, async () => {
  const name = 'Wöchentliche Mischung aus Frittieröl und Sonnenblumenöl '.repeat(3).slice(0, 120).trim();
  const id = await opened({ name, plan: { oil: { kind: 'sunflower' } } });
  const wide = await opened({ vessel: 'barn:m1', name: 'W'.repeat(120) });
  await enter(id, 'recover', { anyway: { reason: 'a trial' } });
  for (let day = 0; day < 3; day++)
    await note(id, { kind: 'drained', what: 'glycerol', litres: 12.25 }, { at: START_MS - day * DAY_MS });
  await note(id, { kind: 'test', test: '3/27', dropoutMl: 0 });
  await note(id, { kind: 'test', test: 'shake', partsClean: true });
  await note(id, { kind: 'test', test: 'water', ppm: 1000 });
  await note(id, { kind: 'test', test: 'soap', acidMl: 9, sampleG: 10, base: 'KOH' });
  for (const property of [
    'polyunsaturatedEster',
    'linolenicEster',
    'oxidationStability',
    'carbonResidue',
    'sulfur',
  ])
    await note(id, {
      kind: 'test',
      test: 'laboratory',
      property,
      value: property === 'oxidationStability' ? 1 : 90,
    });
  await daemon.send('POST', `/api/v1/batches/${id}/stage`, {
    stage: 'finished',
    by: 'Ida',
    anyway: { reason: 'x' },
  });
  const page = await browser.newPage();
  const asked: string[] = [];
  page.on('request', (request) => asked.push(request.url()));
  const count = 6;
  const all = ['glycerol', 'sample', 'fuel'].flatMap((what) => [[id, what] as const, [wide, what] as const]);
  for (const [batch, what] of all) {
    const path = `http://127.0.0.1:${daemon.httpPort}/api/v1/batches/${batch}/labels?what=${what}`;
    const answer = await page.goto(path);
    expect(answer!.headers()['content-security-policy']).toBe(
      "default-src 'none'; style-src 'unsafe-inline'; img-src data:",
    );
    await page.emulateMedia({ media: 'print' });
    const sizes = await page
      .locator('section')
      .evaluateAll((all) =>
        all.map((one) => [
          one.scrollHeight - one.clientHeight,
          one.scrollWidth - one.clientWidth,
          one.clientHeight,
        ]),
      );
    expect(sizes).toHaveLength(count);
    for (const [tooHigh, tooWide, height] of sizes) {
      expect([tooHigh, tooWide], what).toEqual([0, 0]);
      expect(height, what).toBeGreaterThan(150);
    }
    for (const format of ['A4', 'Letter']) {
      const file = join(temporaryDir(), 'labels.pdf');
      writeFileSync(
        file,
        await page.pdf({ format, margin: { top: '10mm', bottom: '10mm', left: '10mm', right: '10mm' } }),
      );
      const run = (command: string, args: string[]) => execFileSync(command, args, { encoding: 'utf8' });
      expect(run('pdfinfo', [file]), `${what} ${format}`).toMatch(/Pages: +2\n/);
      const sheet = run('pdftotext', ['-l', '1', file, '-']);
      expect(sheet.match(/^Site$/gm), `${what} ${format}`).toHaveLength(count);
      expect(run('pdftotext', ['-f', '2', file, '-'])).toContain(
        'Local codes and licensed practice come first',
      );
    }
    expect(asked).toEqual([path]);
    asked.length = 0;
    expect((await labels(batch, what)).text).not.toMatch(/<script|(src|href)=|url\(|@import/);
  }
});

test('of no batch, or of what is not labelled, is refused', async () => {
  const id = await opened();
  expectProblem(await labels('none', 'fuel'), 404, 'batch-unknown');
  for (const more of ['', '?what=oil', '?what=fuel&temperature=k', '?what=fuel&size=a4'])
    expectProblem(await daemon.get(`/api/v1/batches/${id}/labels${more}`), 400, 'body-invalid');
  await enter(id, 'void');
  expect(daemon.errors).toEqual([]);
});
