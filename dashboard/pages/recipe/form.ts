import { OutOfRange } from '../../../shared/chemistry/formula.ts';
import type { PlanAnswer } from '../../../shared/plan/answer.ts';
import { computePlan } from '../../../shared/plan/compute.ts';
import { rangeAt, readPlanRequest } from '../../../shared/plan/read-request.ts';
import type { PlanRequest } from '../../../shared/plan/request.ts';
import { type ResolvedRequest, resolvePlanRequest } from '../../../shared/plan/resolve.ts';
import type { SiteAnswer } from '../../../shared/wire/set-up.ts';
import { parseNumber } from '../../units.ts';
import {
  FIRST_RUN,
  HAVE,
  HAVE_WAYS,
  type HaveWay,
  LEAST_RUNS,
  NUMBER_FIELDS,
  type NumberField,
  RUNS_PATH,
  runEntry,
  VOLUME_PATH,
} from './fields.ts';
import { asTyped, fromSI, type Quantity, SI, toSI, type Units } from './quantities.ts';

/** What was typed into a recipe, and what a plan makes of it. Pure. */

/** A text as typed, and the units that it was typed in. */
export interface Typed {
  readonly text: string;
  readonly units: Units;
}

/** By the entry's name: the path of its field, or one of the form's own (`have`, `run1`, `place`, …). */
export type Form = Readonly<Record<string, Typed>>;

/** What is wrong with an entry. */
export type Wrong =
  | { kind: 'not-a-number' }
  | { kind: 'range'; least: number; most: number; isOver: boolean; quantity: Quantity; unit: string }
  | { kind: 'titrant' }
  | { kind: 'passes' }
  /** Each for itself is possible, together they are not. */
  | { kind: 'together'; allowed: string };

export interface Recipe {
  /** What is computed: the entries that can be used. */
  readonly request: PlanRequest;
  readonly resolved: ResolvedRequest;
  readonly answer: PlanAnswer;
  readonly wrong: ReadonlyMap<string, Wrong>;
  /** The place chosen, where the altitude comes from; null where it is typed, or not known. */
  readonly place: SiteAnswer | null;
  /** The place chosen has said its altitude or pressure: none is asked for. */
  readonly placeTells: boolean;
}

type Json = {
  [key: string]: Json | number | string | boolean | null | number[] | { sharePercent: number }[];
};

/** What stands at a path of an object; undefined where there is nothing. */
export const at = (object: unknown, path: string): unknown =>
  path
    .split('.')
    .reduce<unknown>(
      (inside, key) =>
        typeof inside === 'object' && inside !== null ? (inside as Record<string, unknown>)[key] : undefined,
      object,
    );

function put(object: Json, path: string, value: Json[string]): void {
  const keys = path.split('.');
  const last = keys.pop()!;
  let inside = object;
  for (const key of keys) {
    inside[key] ??= {};
    inside = inside[key] as Json;
  }
  inside[last] = value;
}

function without(object: Json, path: string): boolean {
  const keys = path.split('.');
  const last = keys.pop()!;
  const inside = keys.length === 0 ? object : at(object, keys.join('.'));
  if (typeof inside !== 'object' || inside === null || !(last in inside)) return false;
  delete (inside as Json)[last];
  return true;
}

/** The number of an entry, as computed with; undefined where it is empty or wrong. */
function numberOf(
  form: Form,
  name: string,
  { path, quantity, unit = '' }: NumberField,
  wrong: Map<string, Wrong>,
): number | undefined {
  const typed = form[name];
  if (typed === undefined || typed.text.trim() === '') return undefined;
  const parsed = parseNumber(typed.text);
  if (parsed === undefined) {
    wrong.set(name, { kind: 'not-a-number' });
    return undefined;
  }
  const value = toSI(quantity, parsed, typed.units);
  const { least, most, isOver } = rangeAt(path);
  // A bound that was converted to another unit and back is still the bound.
  const slack = 1e-9 * Math.max(Math.abs(least), Math.abs(most));
  if (value < least - slack || value > most + slack || (isOver && value <= least)) {
    wrong.set(name, { kind: 'range', least, most, isOver, quantity, unit });
    return undefined;
  }
  return Math.min(most, Math.max(least, value));
}

export const textOf = (form: Form, name: string): string => form[name]?.text.trim() ?? '';
export const isTicked = (form: Form, name: string): boolean => textOf(form, name) === 'yes';

/** The entry's text in the reader's present units: as typed where they are the same. */
export function shownText(form: Form, name: string, quantity: Quantity, units: Units): string {
  const typed = form[name];
  if (typed === undefined) return '';
  const parsed = parseNumber(typed.text);
  const key = quantity === 'apart' ? 'temperature' : quantity;
  if (key === 'plain' || parsed === undefined || typed.units[key] === units[key]) return typed.text;
  return asTyped(fromSI(quantity, toSI(quantity, parsed, typed.units), units));
}

export const wayOf = (form: Form): HaveWay => {
  const text = textOf(form, 'have-what');
  return (HAVE_WAYS as readonly string[]).includes(text) ? (text as HaveWay) : 'oil-volume';
};

const CHOICES = ['oil.kind', 'catalyst.kind'] as const;
const TICKS = ['oil.methanolInFeed', 'watch.mixingStated'] as const;
/** No stirrer reports its speed, so that no lowest one is asked for. */
export const NO_STIRRER = 'no-stirrer';
export const PLACE = 'place';
const SPEED_PATH = 'watch.lowestStirrerSpeed';

/** Everything typed, read and computed; what is wrong is named and left out, and the rest goes on. */
export function readForm(form: Form, sites: readonly SiteAnswer[], unit: 'C' | 'F' = 'C'): Recipe {
  const wrong = new Map<string, Wrong>();
  const json: Json = {};
  for (const field of NUMBER_FIELDS) {
    const value = numberOf(form, field.path, field, wrong);
    if (value !== undefined) put(json, field.path, value);
  }
  for (const path of CHOICES) if (textOf(form, path) !== '') put(json, path, textOf(form, path));
  for (const path of TICKS) if (isTicked(form, path)) put(json, path, true);
  if (isTicked(form, NO_STIRRER)) {
    put(json, SPEED_PATH, null);
    wrong.delete(SPEED_PATH);
  }
  titration(form, json, wrong);
  passes(form, json, wrong);
  const place = sites.find(({ site }) => site === textOf(form, PLACE)) ?? null;
  const placeTells = place !== null && (place.altitudeM !== null || !place.pressureAssumed);
  if (placeTells) {
    without(json, 'site');
    for (const name of ['site.altitudeM', 'site.pressureHPa']) wrong.delete(name);
    if (place.altitudeM !== null) put(json, 'site.altitudeM', place.altitudeM);
    else put(json, 'site.pressureHPa', place.pressureHPa);
  }
  volume(form, json, wrong);
  const { request, answer } = computed(json, wrong, unit);
  return { request, resolved: resolvePlanRequest(request), answer, wrong, place, placeTells };
}

/** The entries of the runs: three, or as many as there are. */
export function runsOf(form: Form): string[] {
  const names = Array.from({ length: LEAST_RUNS }, (_, i) => runEntry(i + 1));
  while (form[runEntry(names.length + 1)] !== undefined) names.push(runEntry(names.length + 1));
  return names;
}

function titration(form: Form, json: Json, wrong: Map<string, Wrong>): void {
  const ofRuns: NumberField = { path: RUNS_PATH, quantity: 'plain', unit: 'mL' };
  const runs = runsOf(form)
    .map((name) => numberOf(form, name, ofRuns, wrong))
    .filter((run) => run !== undefined);
  const titrant = textOf(form, 'oil.titration.titrant');
  if (runs.length > 0 && titrant !== '') {
    put(json, 'oil.titration.titrant', titrant);
    put(json, RUNS_PATH, runs.length === 1 ? runs[0]! : runs);
    return;
  }
  if (runs.length > 0) wrong.set('oil.titration.titrant', { kind: 'titrant' });
  without(json, 'oil.titration');
}

/** '80 20', '80 + 20' or '80/20': shares of the passes. */
function passes(form: Form, json: Json, wrong: Map<string, Wrong>): void {
  const text = textOf(form, 'passes');
  if (text === '') return;
  const shares = text.split(/[\s+/;]+/).filter((part) => part !== '' && part !== '%');
  const numbers = shares.map((share) => parseNumber(share.replace('%', '')) ?? Number.NaN);
  json.passes = numbers.map((sharePercent) => ({ sharePercent }));
  try {
    readPlanRequest({ passes: json.passes });
  } catch (error) {
    if (!(error instanceof OutOfRange)) throw error;
    wrong.set('passes', { kind: 'passes' });
    delete json.passes;
  }
}

/** How much oil: said itself, or what is enough for the methanol or the lye that there is. */
function volume(form: Form, json: Json, wrong: Map<string, Wrong>): void {
  const way = wayOf(form);
  const asked: NumberField = { path: VOLUME_PATH, quantity: 'volume' };
  if (way === 'oil-volume') {
    const litres = numberOf(form, HAVE, asked, wrong);
    if (litres !== undefined) put(json, VOLUME_PATH, litres);
    return;
  }
  const typed = form[HAVE];
  if (typed === undefined || typed.text.trim() === '') return;
  const parsed = parseNumber(typed.text);
  if (parsed === undefined) {
    wrong.set(HAVE, { kind: 'not-a-number' });
    return;
  }
  const has = way === 'methanol' ? toSI('volume', parsed, typed.units) : parsed;
  // All three grow as the oil does: what a litre wants says how many litres there can be.
  put(json, VOLUME_PATH, 1);
  const { answer } = computed(structuredClone(json), new Map(), 'C');
  const aLitre = { 'oil-mass': answer.oilKg, methanol: answer.methanolL, lye: answer.catalystNeededG }[way];
  const litres = Number((has / aLitre).toPrecision(6));
  const { least, most } = rangeAt(VOLUME_PATH);
  if (litres >= least && litres <= most) {
    put(json, VOLUME_PATH, litres);
    return;
  }
  without(json, VOLUME_PATH);
  wrong.set(HAVE, { kind: 'range', ...rangeOf(way, aLitre, least, most) });
}

const rangeOf = (way: HaveWay, aLitre: number, least: number, most: number) => ({
  least: aLitre * least,
  most: aLitre * most,
  isOver: false,
  quantity: way === 'methanol' ? ('volume' as const) : ('plain' as const),
  unit: way === 'lye' ? 'g' : way === 'oil-mass' ? 'kg' : '',
});

/** What is left out where two entries cannot both be so. */
const LEFT_OUT: Readonly<Record<string, string>> = { [RUNS_PATH]: 'oil.titration' };
/** The entry that stands for a field of the request. */
const ENTRY_OF: Readonly<Record<string, string>> = { [RUNS_PATH]: FIRST_RUN, [VOLUME_PATH]: HAVE };
export const entryOf = (field: string): string => ENTRY_OF[field] ?? field;

function computed(
  json: Json,
  wrong: Map<string, Wrong>,
  unit: 'C' | 'F',
): { request: PlanRequest; answer: PlanAnswer } {
  for (;;) {
    try {
      const request = readPlanRequest(json);
      return { request, answer: computePlan(request, unit) };
    } catch (error) {
      if (!(error instanceof OutOfRange)) throw error;
      wrong.set(entryOf(error.field), { kind: 'together', allowed: error.allowed });
      if (!without(json, LEFT_OUT[error.field] ?? error.field)) throw error;
    }
  }
}

// ---- the other way: a request as a form ----

const typedSI = (text: string): Typed => ({ text, units: SI });

/** The entries that make a request: of a template, or of another page. */
export function formOf(request: PlanRequest): Form {
  const form: Record<string, Typed> = {};
  for (const { path } of NUMBER_FIELDS) {
    const value = at(request, path);
    if (typeof value === 'number') form[path] = typedSI(String(value));
  }
  for (const path of [...CHOICES, 'oil.titration.titrant']) {
    const value = at(request, path);
    if (typeof value === 'string') form[path] = typedSI(value);
  }
  for (const path of TICKS) if (at(request, path) === true) form[path] = typedSI('yes');
  if (request.watch?.lowestStirrerSpeed === null) form[NO_STIRRER] = typedSI('yes');
  if (request.oil?.volumeL !== undefined) form[HAVE] = typedSI(String(request.oil.volumeL));
  const mL = request.oil?.titration?.mL;
  const runs = mL === undefined ? [] : [mL].flat();
  runs.forEach((run, i) => {
    form[runEntry(i + 1)] = typedSI(String(run));
  });
  const shares = request.passes?.map(({ sharePercent }) => sharePercent) ?? [];
  if (shares.length > 1) form.passes = typedSI(shares.join(' + '));
  return form;
}

/** What stands for an entry that is left empty; undefined where nothing does. */
export function defaultOf(path: string, { resolved, answer }: Recipe): number | undefined {
  const value =
    path.startsWith('watch.') || path === VOLUME_PATH
      ? (at(answer, path) ?? at(resolved, path))
      : (at(resolved, path) ?? undefined);
  return typeof value === 'number' ? value : undefined;
}
