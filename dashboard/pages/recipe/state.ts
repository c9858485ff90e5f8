import { computed, effect, signal } from '@preact/signals';
import type { SiteAnswer } from '../../../shared/wire/set-up.ts';
import type { Template } from '../../../shared/wire/templates.ts';
import { heightUnit, unit, volumeUnit } from '../../settings.ts';
import { type Form, PLACE, readForm } from './form.ts';
import type { Units } from './quantities.ts';

/** What stands in the form, kept while this tab is open, and the recipe that it makes. */

const KEY = 'esterwatch.recipe';

function start(): Form {
  try {
    const found: unknown = JSON.parse(sessionStorage.getItem(KEY) ?? '{}');
    if (typeof found !== 'object' || found === null) return {};
    const entries = Object.entries(found).filter(
      ([, typed]) => typeof typed?.text === 'string' && typeof typed?.units === 'object',
    );
    return Object.fromEntries(entries) as Form;
  } catch {
    return {};
  }
}

const OF_A_PLACE = ['site.altitudeM', 'site.pressureHPa'];

export const form = signal<Form>(start());
effect(() => {
  try {
    sessionStorage.setItem(KEY, JSON.stringify(form.value));
  } catch {
    // Storage can be forbidden; the form then lasts as long as the page.
  }
});

/** Asked for when the page is opened; empty while the daemon does not answer. */
export const sites = signal<readonly SiteAnswer[]>([]);
export const templates = signal<readonly Template[] | undefined>(undefined);

export const units = computed<Units>(() => ({
  temperature: unit.value,
  volume: volumeUnit.value,
  height: heightUnit.value,
}));

export const recipe = computed(() => readForm(form.value, sites.value, unit.value));

export const type = (name: string, text: string): void => {
  form.value = { ...form.value, [name]: { text, units: units.peek() } };
};

/** Where one place alone is known, a recipe is of there until its maker says another: sea level would be a guess. */
export function goByOnlyPlace(found: readonly SiteAnswer[]): void {
  const [only] = found;
  const isOpen = [PLACE, ...OF_A_PLACE].every((name) => form.peek()[name] === undefined);
  if (found.length === 1 && only !== undefined && isOpen && !only.pressureAssumed) type(PLACE, only.site);
}
