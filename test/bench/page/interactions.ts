import type { Page } from 'playwright-core';
import { hrefOf, vesselHref } from '../../../dashboard/route.ts';
import { BATCH } from '../../../dashboard/texts/batch.ts';
import { HISTORY } from '../../../dashboard/texts/history.ts';
import { STAGE_NAMES, TEXTS } from '../../../dashboard/texts/live.ts';
import { LABELS, RECIPE_TEXTS } from '../../../dashboard/texts/recipe.ts';

/** One click, or one key. */
export type Interaction = (page: Page) => Promise<unknown>;

export interface Places {
  vessel: { site: string; vessel: string };
  /** Of the batch in it, which reacts. */
  batch: string;
}

/** What people click and type on the pages, one after the other. */
export async function interactions(
  { vessel, batch }: Places,
  page: Page,
  act: (what: string, run: Interaction) => Promise<void>,
): Promise<void> {
  const press = (what: string, target: ReturnType<Page['locator']>) => act(what, () => target.click());
  const key = (where: string, name: string) => act(`${name} in ${where}`, () => page.keyboard.press(name));
  const type = async (where: string, target: ReturnType<Page['locator']>, text: string) => {
    await press(`into ${where}`, target);
    await page.keyboard.press('ControlOrMeta+a');
    for (const one of text) await key(where, one);
  };
  const go = async (hash: string) => {
    await page.evaluate((to) => {
      location.hash = to;
    }, hash);
    await page.waitForLoadState('networkidle');
    await page.locator('main h1').waitFor();
  };
  const named = (name: string) => page.getByRole('button', { name, exact: true });

  // All vessels, and how they are shown.
  await press('units', page.locator('footer summary'));
  for (const to of ['°F', '°C']) await press(to, page.locator('footer').getByText(to, { exact: true }));
  await press('start a batch', named(TEXTS.batch.start).first());
  for (const name of ['Tab', 'Escape']) await key('start a batch', name);
  const pages = page.getByRole('navigation', { name: TEXTS.nav.label });
  for (const name of ['stock', 'alarms', 'set-up', 'batches', 'oil', 'recipe', 'overview'] as const) {
    await press(`link ${name}`, pages.getByRole('link', { name: TEXTS.nav[name], exact: true }));
    await page.waitForLoadState('networkidle');
  }

  await go(hrefOf('recipe'));
  await type('recipe: oil', page.locator('#entry-have'), '125');
  await press(
    'recipe: titrant',
    page.getByRole('group', { name: LABELS['oil.titration.titrant']! }).getByText('KOH'),
  );
  await type('recipe: run 1', page.locator('#entry-run1'), '2.4');
  await press('recipe: a number opened', page.locator('.weigh .opened summary').first());
  const slider = page.getByRole('slider', { name: RECIPE_TEXTS.elsewhere.altitude });
  await press('recipe: altitude slider', slider);
  for (const name of ['ArrowRight', 'ArrowRight', 'PageUp']) await key('recipe: altitude slider', name);
  await press('recipe: take it', named(RECIPE_TEXTS.elsewhere.take));

  await go(hrefOf('oil'));
  await press('oil: titrant', page.getByText('KOH', { exact: true }).first());
  await type('oil: run 1', page.locator('#entry-run1'), '2.4');

  await go(vesselHref(vessel));
  await page.locator('figure canvas').first().waitFor();
  for (const span of await page.locator('.spans button').all()) await press('vessel: another span', span);
  await press('vessel: earlier', page.getByRole('button', { name: HISTORY.earlier }));
  await press('vessel: now', named(HISTORY.now));
  await press('vessel: next stage', named(TEXTS.stage.next(STAGE_NAMES.settle)));
  await key('vessel: next stage', 'Escape');

  await go(vesselHref(vessel, 'history', { last: '86400' }));
  await page.locator('figure canvas').first().waitFor();
  await page.locator('.board').focus();
  for (const name of ['+', '+', 'ArrowLeft', 'ArrowRight', '-', 'Shift+ArrowLeft', 'End'])
    await key('history: charts', name);
  for (const span of await page.locator('.spans button').all()) await press('history: another span', span);
  await press('history: channels', page.locator('.channels summary'));
  await press('history: a channel less', page.locator('.channels input').first());

  await go(batch);
  const note = page.getByRole('region', { name: BATCH.note.title });
  await type('batch: note', note.locator('input').first(), 'warm');
  await press('batch: at the scales', page.locator('.batch-page header .actions a').first());
  await key('batch: scales', 'Escape');
  await press('batch: another stage', page.locator('.go-on summary'));

  await go(hrefOf('alarms'));
  await press('alarms: set aside', named(TEXTS.alarms.shelve).first());
  for (const name of ['a', 'b']) await key('alarms: why', name);

  await go(hrefOf('stock'));
  await type('stock: name', page.locator('main input').first(), 'Drum');
  await go(hrefOf('set-up'));
  await press('set-up: first link', page.locator('main summary, main button').first());
}
