import { execFileSync } from 'node:child_process';
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { STAGES } from '../../../shared/wire/names.ts';
import { STAGE_NAMES } from '../../../shared/words/stages.ts';
import { startChromium } from '../../support/chromium.ts';
import { ManualClock } from '../../support/manual-clock.ts';
import { type RunningDaemon, runDaemon } from '../running-daemon.ts';
import { temporaryDir } from '../store/fixture.ts';

const START_MS = Date.UTC(2026, 2, 2, 10);
const ANYWAY = { anyway: { reason: 'nobody wanted to wait for the second thermometer any longer' } };

let daemon: RunningDaemon;
let id: string;
const cleanUps: (() => Promise<void>)[] = [];
afterAll(async () => {
  for (const cleanUp of cleanUps) await cleanUp();
});

/** A batch in two passes, released with much against it. */
beforeAll(async () => {
  const clock = new ManualClock(START_MS);
  daemon = await runDaemon({ clock }, (cleanUp) => cleanUps.push(cleanUp));
  for (const vessel of ['r1', 'methoxide-1', 'can-of-glycerol'])
    await daemon.read(`barn/${vessel}/liquid-temperature`, 20);
  await daemon.send('PUT', '/api/v1/sites/barn', { altitudeM: 340 });
  const plan = {
    oil: { volumeL: 80, kind: 'rapeseed', titration: { mL: [1.1, 1.2], titrant: 'KOH' } },
    catalyst: { kind: 'KOH', purityPercent: 87 },
    passes: [{ sharePercent: 75 }, { sharePercent: 25 }],
  };
  const opened = await daemon.send('POST', '/api/v1/batches', { vessel: 'barn:r1', name: 'Tank 7', plan });
  expect(opened.status, opened.text).toBe(201);
  id = opened.json.id;
  const enter = (stage: string, more: object = {}) =>
    daemon.send('POST', `/api/v1/batches/${id}/stage`, { stage, by: 'Ida Brook', ...ANYWAY, ...more });
  const note = async (what: object) => {
    const noted = await daemon.send('POST', `/api/v1/batches/${id}/entries`, { by: 'Ida Brook', what });
    expect(noted.status, noted.text).toBe(201);
  };
  await enter('methoxide', { vessel: 'barn:methoxide-1' });
  for (const stage of ['dose', 'react', 'settle']) await enter(stage);
  const body = { from: 'r1', to: 'can-of-glycerol', litres: 9, what: 'glycerol' };
  await daemon.send('POST', `/api/v1/batches/${id}/move`, body);
  await note({ kind: 'note', text: 'x ≤ 5, y ≥ 6, −7 → 8 ‑ 9 of Łódź' });
  await note({ kind: 'note', text: `a hash ${'0123456789abcdef'.repeat(4)} and an electrotechnically` });
  await note({ kind: 'wash', method: 'mist', waterL: 20, emulsion: true, remedy: 'salt, and waited' });
  await note({ kind: 'test', test: 'shake', partsClean: true });
  await note({ kind: 'test', test: '3/27', dropoutMl: 0.5 });
  await note({ kind: 'test', test: 'freezer', clearAtC: -8 });
  await note({ kind: 'test', test: 'soap', acidMl: 1, sampleG: 10, base: 'KOH' });
  await note({ kind: 'test', test: 'laboratory', property: 'flashPoint', value: 60 });
  await note({ kind: 'test', test: 'laboratory', property: 'acidValue', value: 0.4 });
  clock.advance(60_000);
  await enter('finished');
});

const recordOf = (format: string) => daemon.get(`/api/v1/batches/${id}/record?format=${format}`);

test('what tests have against the fuel stands under the title', async () => {
  const { text } = await recordOf('html');
  const under = /<h1>Tank 7<\/h1>\s*<p>([^<]*)<\/p>/.exec(text)![1]!;
  expect(under).toMatch(/^Released with 3\/27 not passed; soap not passed, OUTSIDE EN 14214:2012\+A1:2014/);
  expect(under).toContain('Flash point OUTSIDE EN 14214:2012+A1:2014 and ASTM D6751-09');
  expect(under).not.toMatch(/shake|freezer|Acid value/i);
});

test('printed, it speaks the words of the pages; as JSON those of the wire', async () => {
  const { text } = await recordOf('html');
  const cells = [...text.matchAll(/<(td|tspan|text)[^>]*>([^<]*)</g)].map(([, , cell]) => cell!);
  for (const name of ['mix methoxide', 'add methoxide', 'reaction', 'Liquid temperature, °C'])
    expect(cells).toContain(name);
  const ofTheWire = [
    ...STAGES.filter((stage) => STAGE_NAMES[stage] !== stage),
    'liquid-temperature',
    'medium',
  ];
  expect(cells.filter((cell) => ofTheWire.some((word) => cell === word))).toEqual([]);
  expect(text).not.toMatch(/liquid-temperature|oil-dewatered|methoxide-clear|settle-hours|catalyst/);
  const { json } = await recordOf('json');
  expect(json.batch.stages.map(({ stage }: { stage: string }) => stage)).toContain('dose');
  expect(json.channels[0].channel).toBe('liquid-temperature');
});

test('the plan stands there as it was asked for, and as it goes in', async () => {
  const { computed } = (await daemon.get(`/api/v1/batches/${id}`)).json;
  const { text } = await recordOf('html');
  const rows = Object.fromEntries(
    [...text.matchAll(/<tr><td>([^<]*)<\/td><td>([^<]*)<\/td><\/tr>/g)].map(([, what, how]) => [what, how]),
  );
  expect(rows).toMatchObject({
    Oil: `80 L, rapeseed (canola), at 20 °C, ${computed.oilKg.toFixed(2)} kg`,
    Titration: 'titrated, 1.1, 1.2 mL (blank 0) of 1 g/L KOH on 1 mL',
    Lye: `${computed.catalystG.toFixed(1)} g KOH of 87 % purity`,
    'Portions of it': expect.stringMatching(
      `^${computed.methoxidePortions} of at most ${computed.methoxidePortionG.toFixed(1)} g`,
    ),
    'Pass 1 of 2': `75 %: ${computed.passes[0].methanolL.toFixed(2)} L of methanol, ${computed.passes[0].catalystG.toFixed(1)} g KOH`,
    'Pass 2 of 2': expect.stringMatching(/^25 %: /),
  });
});

test('the PDF has our own signs, written with the letters that it has', async () => {
  const file = join(temporaryDir(), 'record.pdf');
  const answer = await fetch(`http://127.0.0.1:${daemon.httpPort}/api/v1/batches/${id}/record?format=pdf`);
  writeFileSync(file, Buffer.from(await answer.arrayBuffer()));
  const text = execFileSync('pdftotext', ['-layout', file, '-'], { encoding: 'utf8' });
  const inOne = text.replaceAll(/\s+/g, ' ');
  expect(inOne).toContain('x <= 5, y >= 6, -7 -> 8 - 9 of');
  expect(inOne).toMatch(/-8 °C/);
  // Of a letter that is none of its own.
  expect(inOne.replace('?ódz', '')).not.toContain('?');
});

test('no word of the page is broken at 900 px or on paper, and no table is wider than it', {
  timeout: 60_000,
}, async () => {
  const browser = await startChromium();
  try {
    const page = await browser.newPage();
    await page.goto(`http://127.0.0.1:${daemon.httpPort}/api/v1/batches/${id}/record?format=html`);
    // 190 mm: A4 with margins of 10 mm.
    for (const [media, width] of [
      ['screen', 900],
      ['print', 718],
    ] as const) {
      await page.setViewportSize({ width, height: 900 });
      await page.emulateMedia({ media });
      const found = await page.evaluate(() => {
        const broken: string[] = [];
        const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
        for (let node = texts.nextNode(); node !== null; node = texts.nextNode()) {
          if (node.parentElement!.closest('svg') !== null) continue;
          for (const { 0: word, index } of node.textContent!.matchAll(/[^\s/–-]+/g)) {
            const range = document.createRange();
            range.setStart(node, index);
            range.setEnd(node, index + word.length);
            const lines = new Set([...range.getClientRects()].map(({ top }) => Math.round(top)));
            if (lines.size > 1) broken.push(word);
          }
        }
        const wide = [...document.querySelectorAll('.wide')].filter(
          (one) => one.scrollWidth > one.clientWidth,
        );
        return { broken, wide: wide.map(({ textContent }) => textContent!.slice(0, 40)) };
      });
      expect(
        found.broken.filter((word) => word.length < 25),
        media,
      ).toEqual([]);
      expect(found.wide, media).toEqual([]);
    }
  } finally {
    await browser.close();
  }
});
