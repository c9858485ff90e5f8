import { connectAsync, type MqttClient } from 'mqtt';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, onTestFinished, test } from 'vitest';
import { formatWeight, unitFor } from '../../../dashboard/pages/batch/weight.ts';
import { hrefOf, vesselHref } from '../../../dashboard/route.ts';
import { BATCH, DRAINING, ENTRIES, SCALES } from '../../../dashboard/texts/batch.ts';
import { STAGE_NAMES, TEXTS } from '../../../dashboard/texts/live.ts';
import { LABELS, RECIPE_TEXTS } from '../../../dashboard/texts/recipe.ts';
import { toWeigh } from '../../../shared/batch/scales.ts';
import type { Batch } from '../../../shared/wire/batch.ts';
import type { Stage } from '../../../shared/wire/names.ts';
import { Api, eventually } from '../../support/api.ts';
import { startChromium } from '../../support/chromium.ts';
import { type Hands, handsOf } from '../../support/hands.ts';
import { freePort, type Relay, startRelay } from '../../support/mosquitto.ts';
import { dataFolder, LOOPBACK, type Served, serve } from '../../support/serving.ts';
import { isThorough } from '../../support/thorough.ts';

/**
 * A batch from its recipe to its record by one kind of hands, on the narrowest phone, with a reload, a lost link and a
 * killed daemon in its middle: afterwards the page catches up by itself, and the batch goes on. An ordinary run does it
 * with keys and a killed daemon alone, and leaves out scales and draining, which have tests of their own.
 */
const WAYS = isThorough ? (['keys', 'touch', 'mouse'] as const) : (['keys'] as const);
const NARROW = { width: 320, height: 640 };
/** A page may show things late on a loaded machine, ms. */
const PATIENCE_MS = 20_000;
const NAME = 'Autumn oil';
const BY = 'Ada Brook';
const OTHER = 'Uwe Lind';

let browser: Browser;
beforeAll(async () => {
  browser = await startChromium();
});
afterAll(() => browser?.close());

/** A daemon that can be killed and started again on the same data, and the way to it that can be lost. */
class Shed {
  readonly #data: string;
  readonly #ports: { httpPort: number; mqttPort: number };
  #served: Served | undefined;
  #device: MqttClient | undefined;
  readonly api: Api;
  readonly relay: Relay;

  private constructor(data: string, ports: { httpPort: number; mqttPort: number }, relay: Relay) {
    this.#data = data;
    this.#ports = ports;
    this.api = new Api(ports.httpPort);
    this.relay = relay;
  }

  static async open(): Promise<Shed> {
    const { data, remove } = dataFolder();
    const ports = { httpPort: await freePort(), mqttPort: await freePort() };
    const shed = new Shed(data, ports, await startRelay(ports.httpPort));
    onTestFinished(async () => {
      await shed.kill();
      await shed.relay.stop();
      remove();
    });
    await shed.start();
    return shed;
  }

  async start(): Promise<void> {
    this.#served = await serve({ data: this.#data, ...this.#ports });
    this.#device = await connectAsync(`mqtt://${LOOPBACK}:${this.#ports.mqttPort}`, { reconnectPeriod: 0 });
    await this.api.ready();
  }

  async kill(): Promise<void> {
    this.#served?.kill('SIGKILL');
    await this.#served?.ended;
    await this.#device?.endAsync(true);
  }

  async warm(celsius: number): Promise<void> {
    await this.#device!.publishAsync('esterwatch/v1/reading/shed/r1/liquid-temperature', String(celsius), {
      qos: 1,
    });
  }

  /** What somebody else notes, elsewhere. */
  note(batch: string, text: string): Promise<Response> {
    return this.api.call('POST', `/api/v1/batches/${batch}/entries`, {
      what: { kind: 'note', text },
      by: OTHER,
    });
  }
}

const part = (page: Page, name: string) => page.getByRole('region', { name, exact: true });

/** From oil that was titrated to an open batch. */
async function begin(page: Page, hands: Hands): Promise<void> {
  const entry = (name: string) => page.locator(`#entry-${name}`);
  await hands.write(entry('have'), '100');
  const titrant = page.getByRole('group', { name: LABELS['oil.titration.titrant']! });
  await hands.pick(titrant.getByLabel('KOH', { exact: true }));
  await hands.write(entry('run1'), '2.1');
  await hands.write(entry('run2'), '2.3');
  const form = page.locator('section.begin');
  await hands.write(form.getByLabel(RECIPE_TEXTS.begin.name), NAME);
  await hands.write(form.getByLabel(RECIPE_TEXTS.keep.by), BY);
  const understood = form.getByLabel(RECIPE_TEXTS.begin.understood);
  if ((await understood.count()) > 0) await hands.press(understood);
  await hands.press(form.getByRole('button', { name: RECIPE_TEXTS.begin.submit }));
  await hands.press(form.getByRole('link', { name: RECIPE_TEXTS.begin.open }));
  await hands.press(page.locator('.batch').getByRole('link', { name: NAME }));
  await page.getByRole('heading', { level: 1, name: NAME }).waitFor();
}

/** On to a stage by the page's own dialog; what is missing gets a reason. */
async function goOn(page: Page, hands: Hands, stage: Stage): Promise<void> {
  const next = part(page, BATCH.next.title);
  const usual = next.getByRole('button', { name: TEXTS.stage.next(STAGE_NAMES[stage]), exact: true });
  if ((await usual.count()) > 0) await hands.press(usual);
  else {
    const others = next.locator('.choices');
    if (!(await others.isVisible())) await hands.press(next.getByText(TEXTS.stage.other));
    await hands.press(others.getByRole('button', { name: STAGE_NAMES[stage], exact: true }));
  }
  const dialog = page.getByRole('dialog');
  if (stage === 'warm') {
    const boxes = dialog.locator('.ticks').getByRole('checkbox');
    await boxes.first().waitFor();
    for (const box of await boxes.all()) await hands.press(box);
  }
  const ends = stage === 'finished';
  if (ends) await hands.press(dialog.getByLabel(TEXTS.stage.endCheck));
  const name = (ends ? TEXTS.stage.confirmEnd : TEXTS.stage.confirm)(STAGE_NAMES[stage]);
  await hands.press(dialog.getByRole('button', { name, exact: true }));
  const reason = dialog.getByLabel(TEXTS.stage.reason);
  const isShort = await eventually(
    async () => ((await dialog.count()) === 0 ? false : (await reason.count()) > 0 ? true : undefined),
    (short) => short !== undefined,
  );
  if (isShort) {
    await hands.write(reason, 'shown to a class');
    await hands.press(dialog.getByRole('button', { name: TEXTS.stage.anyway }));
    await dialog.waitFor({ state: 'detached' });
  }
  if (!ends) await page.getByText(BATCH.now(STAGE_NAMES[stage]), { exact: true }).waitFor();
}

async function weighAll(page: Page, hands: Hands, batch: Batch): Promise<void> {
  await hands.press(page.getByRole('link', { name: SCALES.title }));
  const dialog = page.getByRole('dialog');
  const things = toWeigh(batch);
  for (const [i, { plannedKg }] of things.entries()) {
    const unit = unitFor(plannedKg);
    await hands.write(
      dialog.getByRole('textbox', { name: SCALES.shown(unit) }),
      formatWeight(plannedKg, unit).replace(/[^\d.]/g, ''),
    );
    await hands.press(dialog.getByRole('button', { name: SCALES.enter }));
    await dialog.locator('.verdict').getByText(SCALES.right, { exact: true }).waitFor();
    const isLast = i === things.length - 1;
    await hands.press(dialog.getByRole('button', { name: isLast ? SCALES.done : /^Next: / }));
  }
  await dialog.waitFor({ state: 'detached' });
}

async function drain(page: Page, hands: Hands): Promise<void> {
  await hands.press(page.getByRole('link', { name: DRAINING.title }));
  const dialog = page.getByRole('dialog');
  const button = (name: string) => dialog.getByRole('button', { name, exact: true });
  for (const litres of [5, 1, 1]) await hands.press(button(DRAINING.add(`${litres} L`)));
  await hands.press(button(DRAINING.undo));
  await hands.press(button(DRAINING.note('6.00 L')));
  await dialog.getByText(DRAINING.noted).waitFor();
  await hands.press(button(BATCH.full.close));
  await dialog.waitFor({ state: 'detached' });
}

test.each(WAYS)(
  'from recipe to record by %s, through a reload, a lost link and a killed daemon',
  {
    timeout: 180_000,
  },
  async (way) => {
    const shed = await Shed.open();
    await shed.warm(24);
    await shed.api.stateSite('shed', { altitudeM: 340 });
    const context = await browser.newContext({
      viewport: NARROW,
      locale: 'en-GB',
      hasTouch: way === 'touch',
    });
    onTestFinished(() => context.close());
    const page = await context.newPage();
    page.setDefaultTimeout(PATIENCE_MS);
    const errors: string[] = [];
    page.on('pageerror', (error) => errors.push(String(error)));
    page.on('console', (message) => {
      // What is refused, and what does not arrive, is said by the browser too.
      const isTold = /net::|WebSocket|409/.test(message.text());
      if (message.type() === 'error' && !isTold) errors.push(message.text());
    });
    const hands = handsOf[way](page);
    const address = `http://${LOOPBACK}:${shed.relay.port}/`;
    const isLive = () => page.locator('.page.live').waitFor();
    const isLost = () => page.locator('.not-live').waitFor();
    const story = part(page, BATCH.story.title);
    const note = part(page, BATCH.note.title);

    await page.goto(`${address}${hrefOf('recipe')}`);
    await begin(page, hands);
    const id = page.url().split('/').at(-1)!;
    const batch = (): Promise<Batch> => shed.api.get(`/api/v1/batches/${id}`);
    await goOn(page, hands, 'warm');
    if (isThorough) {
      await weighAll(page, hands, await batch());
      await page.reload();
      hands.anew();
      await isLive();
    }
    await page.evaluate(() => {
      Object.assign(globalThis, { sinceReload: true });
    });
    await shed.warm(55);
    await goOn(page, hands, 'dose');

    if (isThorough) {
      // Nothing comes through: what is typed stays, and what others did meanwhile comes afterwards.
      shed.relay.unheard();
      await isLost();
      await hands.write(note.getByLabel(ENTRIES.fields.text), 'methoxide in by hand');
      await shed.note(id, 'the door is open');
      shed.relay.heard();
      await isLive();
      await story.getByText('the door is open').waitFor();
      await hands.press(note.getByRole('button', { name: BATCH.note.save }));
      await story.getByText('methoxide in by hand').waitFor();
    }
    await goOn(page, hands, 'react');

    await shed.kill();
    await isLost();
    await shed.start();
    await shed.note(id, 'the power was gone');
    await isLive();
    await story.getByText('the power was gone').waitFor();
    await shed.warm(56);
    await hands.choose(page.locator('#note-kind'), '3/27');
    await hands.write(note.getByLabel(ENTRIES.fields.dropoutMl), '0');
    await hands.press(note.getByRole('button', { name: BATCH.note.save }));
    await eventually(batch, ({ entries }) => entries.some(({ what }) => what.kind === 'test'));
    await goOn(page, hands, 'settle');
    if (isThorough) {
      await goOn(page, hands, 'drain');
      await drain(page, hands);
    }
    await goOn(page, hands, 'finished');
    await page.getByText(BATCH.ended(STAGE_NAMES.finished)).waitFor();

    const link = part(page, BATCH.papers.title).getByRole('link', { name: BATCH.papers.formats.html });
    const [paper] = await Promise.all([context.waitForEvent('page'), hands.press(link)]);
    for (const said of [NAME, 'the power was gone', 'shown to a class'])
      await paper.getByText(said).first().waitFor();

    const ended = await batch();
    expect(ended).toMatchObject({ name: NAME, stage: 'finished', open: false, vessel: 'r1' });
    expect(ended.stages.map(({ stage, by }) => [stage, by])).toEqual(
      ['warm', 'dose', 'react', 'settle', ...(isThorough ? ['drain'] : []), 'finished'].map((stage) => [
        stage,
        BY,
      ]),
    );
    expect(ended.stages[0]).toMatchObject({ unseen: [], deviation: null });
    const noted = ended.entries.map(({ what, by, result }) => [what.kind, by, result?.passed]);
    const always = [
      ['note', OTHER, undefined],
      ['test', BY, true],
    ];
    expect(noted).toEqual(
      isThorough
        ? [
            ...Array<unknown>(3).fill(['weighing', BY, true]),
            ['note', OTHER, undefined],
            ['note', BY, undefined],
            ...always,
            ['drained', BY, null],
          ]
        : always,
    );
    if (isThorough) expect(ended.entries.at(-1)!.what).toMatchObject({ litres: 6 });
    // It was never loaded anew by itself.
    expect(await page.evaluate(() => 'sinceReload' in globalThis)).toBe(true);
    expect(errors).toEqual([]);

    // The vessel is free again, and says so live.
    await page.goto(`${address}${vesselHref({ site: 'shed', vessel: 'r1' })}`);
    await page.getByRole('button', { name: TEXTS.batch.start }).waitFor();
  },
);
