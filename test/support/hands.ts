import type { Locator, Page } from 'playwright-core';
import { expect } from 'vitest';
import { eventually } from './api.ts';

/** What works a page: a mouse, fingers, or keys alone. */
export interface Hands {
  /** Buttons, links, boxes, what unfolds. */
  press(target: Locator): Promise<void>;
  write(field: Locator, text: string): Promise<void>;
  /** Of a list, by its value. */
  choose(list: Locator, value: string): Promise<void>;
  /** One of a few that exclude each other. */
  pick(radio: Locator): Promise<void>;
  /** The page was opened anew: the focus is at its beginning. */
  anew(): void;
}

/** So many steps from one control to another are no longer found by anybody. */
const MOST_STEPS = 250;

export const handsOf: Readonly<Record<'mouse' | 'touch' | 'keys', (page: Page) => Hands>> = {
  mouse: (page) => pointing(page, (target) => target.click()),
  touch: (page) => pointing(page, (target) => target.tap()),
  keys: (page) => new Keys(page),
};

function pointing(page: Page, point: (target: Locator) => Promise<void>): Hands {
  return {
    press: point,
    pick: point,
    write: async (field, text) => {
      await point(field);
      await field.selectText();
      await page.keyboard.insertText(text);
    },
    // The list that unfolds is the browser's own, and no part of the page.
    choose: async (list, value) => {
      await point(list);
      await page.keyboard.press('Escape');
      await list.selectOption(value);
    },
    anew: () => {},
  };
}

/**
 * What is wrong with where the focus is, in words; empty where nothing is. Right after it was moved it is to be on the
 * screen, too; later, what comes in above may push it off.
 */
const focusFault = (wasMoved: boolean): string => {
  const at = document.activeElement;
  if (at === null || at === document.body) return 'the focus is nowhere';
  if (at.matches('main, dialog')) return '';
  const name = `${at.tagName.toLowerCase()} ‘${(at.getAttribute('aria-label') ?? at.textContent ?? '').trim().slice(0, 40)}’ ${at.id}`;
  const isOutlined = (each: Element): boolean => {
    const { outlineStyle, outlineWidth } = getComputedStyle(each);
    return outlineStyle !== 'none' && Number.parseFloat(outlineWidth) > 0;
  };
  // Of what the browser puts into a field, such as the button of its calendar, it shows the focus itself.
  const isBrowsersOwn = at.matches(':focus-within:not(:focus)');
  if (!isBrowsersOwn && !(at.matches(':focus-visible') && isOutlined(at)))
    return `${name} does not show its focus`;
  if (!wasMoved) return '';
  // Of a line that wraps, and of what is higher than the screen, the first part that is on it.
  const boxes = [...at.getClientRects()].filter(
    ({ top, bottom, width }) => width > 0 && bottom > 0 && top < innerHeight,
  );
  if (boxes.length === 0) return `${name} has the focus outside of what is shown`;
  const isOpen = boxes.some(({ left, right, top, bottom }) =>
    [0.1, 0.5, 0.9].some((share) => {
      const y = Math.max(0, top) + (Math.min(innerHeight, bottom) - Math.max(0, top)) * share;
      const found = document.elementFromPoint((left + right) / 2, y);
      return found !== null && (at.contains(found) || found.contains(at));
    }),
  );
  return isOpen ? '' : `${name} has the focus under something else`;
};

/** Where a control lies from the focus: here, before it, or after it. */
const directionOf = (target: Element): 'here' | 'back' | 'on' => {
  const at = document.activeElement ?? document.body;
  if (at === target) return 'here';
  return at.compareDocumentPosition(target) & Node.DOCUMENT_POSITION_PRECEDING ? 'back' : 'on';
};

/** The keyboard alone, as somebody who sees the page: the focus has to be seen at every step. */
class Keys implements Hands {
  readonly #page: Page;
  #isAnew = true;

  constructor(page: Page) {
    this.#page = page;
  }

  anew(): void {
    this.#isAnew = true;
  }

  async press(target: Locator): Promise<void> {
    await this.#goTo(target);
    const isBox = await target.evaluate((at) => at.matches('input[type=checkbox]'));
    await this.#page.keyboard.press(isBox ? 'Space' : 'Enter');
  }

  async write(field: Locator, text: string): Promise<void> {
    await this.#goTo(field);
    await this.#page.keyboard.press('ControlOrMeta+a');
    await this.#page.keyboard.type(text);
  }

  async choose(list: Locator, value: string): Promise<void> {
    await this.#goTo(list);
    const count = await list.locator('option').count();
    await this.#page.keyboard.press('Home');
    for (let i = 0; i < count && (await list.inputValue()) !== value; i++)
      await this.#page.keyboard.press('ArrowDown');
    expect(await list.inputValue()).toBe(value);
  }

  /** Of those that exclude each other one is reached by Tab, the others by arrows. */
  async pick(radio: Locator): Promise<void> {
    const group = this.#page.locator(`input[type=radio][name="${await radio.getAttribute('name')}"]`);
    const checked = group.and(this.#page.locator(':checked'));
    await this.#goTo((await checked.count()) > 0 ? checked : group.first());
    for (let i = await group.count(); i > 0 && !(await radio.isChecked()); i--)
      await this.#page.keyboard.press((await checked.count()) > 0 ? 'ArrowDown' : 'Space');
    expect(await radio.isChecked()).toBe(true);
  }

  async #goTo(target: Locator): Promise<void> {
    await target.waitFor();
    // What was pressed before may still be under way, and lets go of the focus so long.
    if (!this.#isAnew)
      await eventually(
        () => this.#page.evaluate(focusFault, false),
        (fault) => fault === '',
      );
    this.#isAnew = false;
    let direction = await target.evaluate(directionOf);
    for (let steps = 0; steps < MOST_STEPS; steps++) {
      if (direction === 'here') return;
      await this.#page.keyboard.press(direction === 'on' ? 'Tab' : 'Shift+Tab');
      const [fault, next] = await Promise.all([
        this.#page.evaluate(focusFault, true),
        target.evaluate(directionOf),
      ]);
      expect(fault).toBe('');
      direction = next;
    }
    throw new Error(`not reached by the keyboard: ${target}`);
  }
}

const CONTROLS = 'a[href], button, input, select, textarea, summary, [tabindex="0"]';

/**
 * Goes through a page that was opened anew by Tab alone, from its beginning to its end, the focus seen at every step:
 * what can be pressed or filled in and was not come by.
 */
export async function notReachedByTab(page: Page): Promise<string[]> {
  await page.evaluate(() => {
    const reached = new Set<Element>();
    Object.assign(globalThis, { reached });
    document.addEventListener('focusin', ({ target }) => reached.add(target as Element));
  });
  for (let steps = 0; ; steps++) {
    if (steps > MOST_STEPS) throw new Error('the keyboard does not come out of the page');
    await page.keyboard.press('Tab');
    if (await page.evaluate(() => document.activeElement === document.body)) break;
    expect(await page.evaluate(focusFault, true)).toBe('');
  }
  return page.evaluate((controls) => {
    const reached = Reflect.get(globalThis, 'reached') as Set<Element>;
    const radios = new Set(
      [...reached].map((each) =>
        each instanceof HTMLInputElement && each.type === 'radio' ? each.name : '',
      ),
    );
    return [...document.querySelectorAll<HTMLElement>(controls)]
      .filter((each) => !reached.has(each) && each.tabIndex >= 0 && each.checkVisibility())
      .filter((each) => !each.matches(':disabled'))
      .filter((each) => !(each instanceof HTMLInputElement && each.type === 'radio' && radios.has(each.name)))
      .map((each) => each.outerHTML.slice(0, 120));
  }, CONTROLS);
}
