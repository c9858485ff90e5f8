import { describe, expect, test } from 'vitest';
import { cautionsMoved, entered, planThere } from '../../dashboard/pages/recipe/elsewhere.ts';
import { LIMIT_FIELDS, NUMBER_FIELDS } from '../../dashboard/pages/recipe/fields.ts';
import { defaultOf, type Form, formOf, readForm, shownText } from '../../dashboard/pages/recipe/form.ts';
import { measured, SI, type Units, weight } from '../../dashboard/pages/recipe/quantities.ts';
import { computePlan } from '../../shared/plan/compute.ts';
import { rangeAt, readPlanRequest } from '../../shared/plan/read-request.ts';
import type { PlanRequest } from '../../shared/plan/request.ts';
import { LIMIT_NAMES } from '../../shared/rules/limits.ts';
import type { SiteAnswer } from '../../shared/wire/set-up.ts';

const US: Units = { temperature: 'F', volume: 'gal', height: 'ft' };
const formWith = (texts: Record<string, string>, units: Units = SI): Form =>
  Object.fromEntries(Object.entries(texts).map(([name, text]) => [name, { text, units }]));
const read = (texts: Record<string, string>, units?: Units, sites: SiteAnswer[] = []) =>
  readForm(formWith(texts, units), sites);

const USED = { 'oil.kind': 'used', 'oil.titration.titrant': 'KOH', run1: '2.1', run2: '2,3' };

describe('what is typed', () => {
  test('nothing is a recipe: that of the stated defaults', () => {
    const recipe = read({});
    expect(recipe.request).toEqual({});
    expect(recipe.wrong.size).toBe(0);
    expect(recipe.answer).toEqual(computePlan({}));
    expect(defaultOf('methanol.percentOfOilVolume', recipe)).toBe(22);
    expect(defaultOf('watch.limits.nearMarginC', recipe)).toBe(3);
    expect(defaultOf('oil.waterPpm', recipe)).toBeUndefined();
  });

  test('every limit of the rules has an entry, and every entry a range of the request', () => {
    expect(LIMIT_FIELDS.map(({ path }) => path)).toEqual(LIMIT_NAMES.map((name) => `watch.limits.${name}`));
    for (const { path } of NUMBER_FIELDS) {
      const { least, most } = rangeAt(path);
      expect(least, path).toBeLessThan(most);
      expect(Number.isFinite(most), path).toBe(true);
    }
  });

  test('is computed in °C, litres and metres, whatever it was typed in', () => {
    const { request } = read(
      {
        have: '20',
        'reaction.temperatureC': '131',
        'site.altitudeM': '5280',
        'watch.limits.nearMarginC': '9',
      },
      US,
    );
    expect(request.oil?.volumeL).toBeCloseTo(75.708, 3);
    expect(request.reaction?.temperatureC).toBeCloseTo(55, 9);
    expect(request.site?.altitudeM).toBeCloseTo(1609.34, 2);
    // A difference: 9 °F are 5 °C, without the 32.
    expect(request.watch?.limits?.nearMarginC).toBeCloseTo(5, 9);
  });

  test('is shown as typed in its own units, and worked out in others', () => {
    const form = formWith({ 'reaction.temperatureC': '131', have: '20,0', run1: '2.40' }, US);
    expect(shownText(form, 'have', 'volume', US)).toBe('20,0');
    expect(shownText(form, 'reaction.temperatureC', 'temperature', SI)).toBe('55');
    expect(shownText(form, 'have', 'volume', SI)).toBe('75.708');
    expect(shownText(form, 'run1', 'plain', SI)).toBe('2.40');
  });

  test('runs are averaged with the same function as the daemon’s', () => {
    const { request, answer } = read(USED);
    expect(request).toEqual({ oil: { kind: 'used', titration: { mL: [2.1, 2.3], titrant: 'KOH' } } });
    expect(answer.titration?.meanMl).toBeCloseTo(2.2, 9);
  });

  test('the sentences of cautions come in the reader’s unit', () => {
    const form = formWith({ 'reaction.temperatureC': '63' });
    const text = (unit: 'C' | 'F') => readForm(form, [], unit).answer.cautions[0]?.text;
    expect(text('C')).toContain('63.0 °C');
    expect(text('F')).toContain('145.4 °F');
  });
});

describe('what cannot be used', () => {
  test('is named by itself, and the rest is worked out without it', () => {
    const { wrong, answer } = read({
      ...USED,
      run2: 'two',
      'site.altitudeM': '9000',
      'watch.lowestStirrerSpeed': '0',
    });
    expect([...wrong].map(([name, { kind }]) => [name, kind])).toEqual([
      ['site.altitudeM', 'range'],
      ['watch.lowestStirrerSpeed', 'range'],
      ['run2', 'not-a-number'],
    ]);
    expect(wrong.get('watch.lowestStirrerSpeed')).toMatchObject({ isOver: true, least: 0, most: 100_000 });
    expect(answer).toEqual(computePlan({ oil: { kind: 'used', titration: { mL: 2.1, titrant: 'KOH' } } }));
  });

  test('a titration without its titrant says nothing of an oil', () => {
    const { wrong, answer, request } = read({ run1: '2.4' });
    expect(wrong.get('oil.titration.titrant')).toEqual({ kind: 'titrant' });
    expect(request).toEqual({});
    expect(answer.oilVerdict).toBe('not-titrated');
  });

  test('what is possible by itself and not together is named too', () => {
    const { wrong, answer } = read({
      ...USED,
      run1: '900',
      'oil.titration.gPerL': '100',
      'catalyst.grams': '9000000',
    });
    expect([...wrong.keys()].sort()).toEqual(['catalyst.grams', 'run1']);
    expect(answer).toEqual(computePlan({ oil: { kind: 'used' } }));
  });

  test.each(['80', '80 20 10', 'a + b', '100 + 0'])('shares of passes ‘%s’', (passes) => {
    expect(read({ passes }).wrong.get('passes')).toEqual({ kind: 'passes' });
  });
  test.each(['80 20', '80 + 20', '80/20 %', '80 % + 20 %'])('but ‘%s’ are shares', (passes) => {
    expect(read({ passes }).request.passes).toEqual([{ sharePercent: 80 }, { sharePercent: 20 }]);
  });
});

describe('as much oil as there is enough for', () => {
  test('methanol: all of it goes in', () => {
    const { answer, resolved } = read({ 'have-what': 'methanol', have: '11', ...USED });
    expect(resolved.oil.volumeL).toBeCloseTo(50, 4);
    expect(answer.methanolL).toBeCloseTo(11, 4);
  });
  test('lye, the titration counted in', () => {
    expect(read({ 'have-what': 'lye', have: '480', ...USED }).answer.catalystG).toBeCloseTo(480, 2);
  });
  test('oil that was weighed', () => {
    expect(read({ 'have-what': 'oil-mass', have: '180' }).answer.oilKg).toBeCloseTo(180, 2);
  });
  test('what comes to no batch is named, in what was typed', () => {
    const { wrong, request } = read({ 'have-what': 'methanol', have: '0.0001' });
    expect(wrong.get('have')).toMatchObject({ kind: 'range', quantity: 'volume' });
    expect(request.oil).toEqual({});
    expect(read({ 'have-what': 'lye', have: '5', 'catalyst.baseGPerL': '0' }).wrong.has('have')).toBe(true);
  });
});

describe('the place', () => {
  const site = (altitudeM: number | null, pressureHPa = 1013.25, pressureAssumed = false): SiteAnswer => ({
    boilingC: 64.7,
    barometer: null,
    warningTested: null,
    site: 'barn',
    altitudeM,
    pressureHPa,
    pressureAssumed,
  });
  test('chosen, says its altitude, or its pressure', () => {
    const typed = { place: 'barn', 'site.altitudeM': '1e4' };
    const high = read(typed, SI, [site(820)]);
    expect(high.request.site).toEqual({ altitudeM: 820 });
    expect(high.wrong.size).toBe(0);
    expect(read(typed, SI, [site(null, 930)]).request.site).toEqual({ pressureHPa: 930 });
  });
  test('that has said nothing leaves it to be typed', () => {
    const recipe = read({ place: 'barn', 'site.altitudeM': '340' }, SI, [site(null, 1013.25, true)]);
    expect(recipe.placeTells).toBe(false);
    expect(recipe.request.site).toEqual({ altitudeM: 340 });
  });
  test('that is not known any more does nothing', () => {
    expect(read({ place: 'mill', 'site.altitudeM': '340' }, SI, [site(820)]).request.site).toEqual({
      altitudeM: 340,
    });
  });
});

test('a request becomes entries, and the entries the same request', () => {
  const request: PlanRequest = readPlanRequest({
    oil: {
      volumeL: 60,
      volumeAtC: 25,
      kind: 'used',
      waterPpm: 400,
      methanolInFeed: true,
      titration: {
        mL: [2.1, 2.3, 2.2],
        titrant: 'KOH',
        blankMl: 0.1,
        gPerL: 1,
        sampleMl: 1,
        purityPercent: 88,
      },
    },
    methanol: { percentOfOilVolume: 20, purityPercent: 99, startC: 15 },
    catalyst: { kind: 'KOH', purityPercent: 90, baseGPerL: 6 },
    passes: [{ sharePercent: 80 }, { sharePercent: 20 }],
    site: { altitudeM: 820, pressureHPa: 915 },
    reaction: { temperatureC: 54 },
    vessel: { liquidHeightM: 0.6 },
    watch: {
      requiredReactionMinutes: 90,
      requiredSettleHours: 12,
      lowestStirrerSpeed: null,
      lowestPumpFlow: 12,
      readingEverySeconds: 2,
      mixingStated: true,
      limits: { nearMarginC: 4 },
    },
  });
  const recipe = readForm(formOf(request), []);
  expect(recipe.wrong.size).toBe(0);
  expect(recipe.request).toEqual(request);
});

test('all runs of a titration become entries, and say that they disagree as before', () => {
  const plan = readPlanRequest({ oil: { titration: { mL: [2.1, 2.3, 2.2, 3.4, 2.2], titrant: 'KOH' } } });
  const { request, answer } = readForm(formOf(plan), []);
  expect(request).toEqual(plan);
  expect(answer.cautions.map(({ code }) => code)).toContain('titration-spread');
});

test('higher up methanol boils earlier, and what that brings is named', () => {
  const recipe = read({ 'site.altitudeM': '0', 'reaction.temperatureC': '55' });
  const from = entered(recipe);
  expect(from).toEqual({ altitudeM: 0, temperatureC: 55 });
  const there = planThere(recipe.request, from, { ...from, altitudeM: 3000 }, 'C');
  expect(there).toEqual(computePlan({ site: { altitudeM: 3000 }, reaction: { temperatureC: 55 } }));
  expect(cautionsMoved(recipe.answer, there).come).toContain('reaction-near-boiling');
  expect(cautionsMoved(there, recipe.answer).go).toContain('reaction-near-boiling');
  // A pressure stands for its usual altitude, and stays what it is until the altitude is moved.
  const pressed = read({ 'site.pressureHPa': '900' });
  const at = entered(pressed);
  expect(at.altitudeM).toBeGreaterThan(900);
  expect(planThere(pressed.request, at, at, 'C').pressureHPa).toBe(900);
  expect(entered(read({ 'site.pressureHPa': '200' })).altitudeM).toBe(11_000);
});

test('amounts are said as a bench reads them', () => {
  expect(weight(3.571)).toBe('3.57 g');
  expect(weight(35.71)).toBe('35.7 g');
  expect(weight(357.1)).toBe('357 g');
  expect(weight(12_345)).toBe('12.35 kg');
  expect(measured(0.044, 'L')).toBe('44.0 mL');
  expect(measured(0.5, 'gal')).toBe('500 mL');
  expect(measured(22, 'L')).toBe('22.00 L');
  expect(measured(22, 'gal')).toBe('5.81 US gal');
});
