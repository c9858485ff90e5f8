import { describe, expect, test } from 'vitest';
import { bodyOf, startOf, typedFrom } from '../../dashboard/forms.ts';
import {
  ENTRY_FORMS,
  type EntryKind,
  entryKindOf,
  entryLine,
} from '../../dashboard/pages/batch/entry-forms.ts';
import { storyOf } from '../../dashboard/pages/batch/story.ts';
import { formatWeight, parseWeight } from '../../dashboard/pages/batch/weight.ts';
import { lineOf, overlay } from '../../dashboard/pages/beside/overlay.ts';
import { LOT_FORMS, noteFields, noteKindsOf } from '../../dashboard/pages/stock/lot-forms.ts';
import { drainedSo, drainingOf } from '../../shared/batch/draining.ts';
import { toWeigh } from '../../shared/batch/scales.ts';
import { computePlan } from '../../shared/plan/compute.ts';
import type { Batch } from '../../shared/wire/batch.ts';
import type { ComparedBatch } from '../../shared/wire/comparison.ts';
import { type BatchEntry, type EntryWhat, entryBodySchema } from '../../shared/wire/entries.ts';
import { LOT_KINDS, lotNoteBodySchema, newLotBodySchema } from '../../shared/wire/lots.ts';

const METRIC = { temperature: 'C', volume: 'L' } as const;
const AMERICAN = { temperature: 'F', volume: 'gal' } as const;
const saying = { litres: (litres: number) => `${litres} L`, degrees: (celsius: number) => `${celsius} °C` };

/** What somebody could type into each kind of form. */
const TYPED: Record<EntryKind, Record<string, string>> = {
  note: { text: 'clear on top' },
  weighing: { what: 'catalyst', kg: '1,05' },
  volume: { what: 'fuel', litres: '96.5', atC: '31' },
  drained: { what: 'glycerol', litres: '12' },
  wash: { method: 'mist', waterL: '30', emulsion: 'yes', remedy: 'salt' },
  'handed-out': { use: 'given-away', litres: '20', to: 'the orchard' },
  titration: { mL: '2.4 2.5', titrant: 'KOH', purityPercent: '90' },
  '3/27': { dropoutMl: '0' },
  shake: { partsClean: 'no' },
  soap: { acidMl: '4.2', sampleG: '10', base: 'KOH' },
  water: { ppm: '380' },
  freezer: { clearAtC: '−3' },
  density: { kgPerM3: '883', atC: '15' },
  laboratory: { property: 'flashPoint', value: '162' },
};

const bodyFor = (kind: EntryKind, units: typeof METRIC | typeof AMERICAN = METRIC): EntryWhat => {
  const form = ENTRY_FORMS[kind];
  const made = bodyOf(form.fields, { ...startOf(form.fields), ...TYPED[kind] }, units);
  if ('wrong' in made) throw new Error(`${kind}: ${made.wrong.name}`);
  return { ...form.fixed, ...made.body } as EntryWhat;
};

describe('forms that are written as tables', () => {
  test.each(Object.keys(ENTRY_FORMS) as EntryKind[])(
    'what is typed as %s is what the daemon takes',
    (kind) => {
      const parsed = entryBodySchema.safeParse({ what: bodyFor(kind) });
      expect(parsed.error?.issues).toBeUndefined();
      expect(entryKindOf(parsed.data!.what)).toBe(kind);
    },
  );

  test('every kind of entry that the daemon takes has a form', () => {
    const kinds = entryBodySchema.shape.what.options.flatMap((option) =>
      'options' in option
        ? option.options.map((one) => one.shape.test.value)
        : [(option.shape.kind as { value: string }).value],
    );
    expect(new Set(Object.keys(ENTRY_FORMS))).toEqual(new Set(kinds));
  });

  test('quantities are typed and corrected in the reader’s units, and go in litres and °C', () => {
    expect(bodyFor('volume')).toMatchObject({ litres: 96.5, atC: 31 });
    const american = bodyFor('volume', AMERICAN);
    // 96.5 US gal of 3.785411784 L; 31 °F.
    expect(american).toMatchObject({
      litres: expect.closeTo(365.292, 3),
      atC: expect.closeTo(-0.5556, 4),
    });
    expect(typedFrom(ENTRY_FORMS.volume.fields, american, AMERICAN)).toMatchObject({
      litres: '96.5',
      atC: '31',
    });
  });

  test('the first field that is missing or no number is named', () => {
    const { fields } = ENTRY_FORMS.weighing;
    expect(bodyOf(fields, { what: '', kg: '1' }, METRIC)).toMatchObject({ wrong: { name: 'what' } });
    expect(bodyOf(fields, { what: 'oil', kg: 'much' }, METRIC)).toMatchObject({ wrong: { name: 'kg' } });
    expect(bodyOf(fields, { what: 'gold', kg: '1' }, METRIC)).toMatchObject({ wrong: { name: 'what' } });
  });

  test('a titration that is not there leaves nothing of itself in a lot', () => {
    const typed = { ...startOf(LOT_FORMS.oil), litres: '200' };
    expect(bodyOf(LOT_FORMS.oil, typed, METRIC)).toEqual({ body: { litres: 200 } });
    expect(
      bodyOf(LOT_FORMS.oil, { ...typed, 'titration.mL': '2.4', 'titration.titrant': 'KOH' }, METRIC),
    ).toMatchObject({ body: { titration: { mL: 2.4, titrant: 'KOH' } } });
    // Begun, it has to be whole.
    expect(bodyOf(LOT_FORMS.oil, { ...typed, 'titration.mL': '2.4' }, METRIC)).toMatchObject({
      wrong: { name: 'titration.titrant' },
    });
  });

  const ANYTHING: Record<string, string> = {
    number: '5',
    numbers: '2.4 2.5',
    volume: '10',
    temperature: '20',
    text: 'so',
    'yes-no': 'yes',
    date: '2026-10-02',
    choice: 'KOH',
  };
  const filled = (fields: (typeof LOT_FORMS)['oil']) =>
    bodyOf(fields, Object.fromEntries(fields.map(({ name, is }) => [name, ANYTHING[is]!])), METRIC) as {
      body: object;
    };
  test.each(LOT_KINDS)('everything that is said of a lot of %s is what the daemon takes', (kind) => {
    const { body } = filled(LOT_FORMS[kind]);
    const lot = newLotBodySchema.safeParse({ site: 'barn', name: 'Drum', kind, ...body });
    expect(lot.error?.issues).toBeUndefined();
    for (const note of noteKindsOf(kind)) {
      const what = { kind: note, ...filled(noteFields(kind, note)).body };
      expect(lotNoteBodySchema.safeParse({ what }).error?.issues).toBeUndefined();
    }
  });

  test('an entry is told in a line, a titration never without its titrant', () => {
    expect(entryLine(bodyFor('titration'), saying)).toContain('2.4, 2.5 mL (KOH)');
    expect(entryLine(bodyFor('weighing'), saying)).toContain('1.05 kg');
    expect(entryLine({ kind: 'wash', method: 'mist', emulsion: false }, saying)).not.toMatch(/emulsion/i);
    expect(entryLine({ kind: 'wash', method: 'mist', emulsion: true }, saying)).toMatch(/emulsion/i);
  });
});

describe('weights', () => {
  test.each([
    ['1092', 'g', 1.092, 1.092],
    ['1,092', 'g', 1.092, 1.092],
    // As it might be typed of a jar.
    ['1,092', 'g', 0.0011, 0.001092],
    ['2,184', 'g', 1.092, 2.184],
    ['1 092', 'g', 1.092, 1.092],
    ['17,4', 'kg', 17.42, 17.4],
    ['1.052 kg', 'g', 1.092, 1.052],
    ['950g', 'kg', 17, 0.95],
  ] as const)('%s in %s, where %d kg are expected', (text, unit, expected, kg) => {
    expect(parseWeight(text, unit, expected)).toBeCloseTo(kg, 9);
  });
  test.each(['', 'g', '-5', '0', '1,2,3', '12 lb'])('%j is no weight', (text) => {
    expect(parseWeight(text, 'g', 1)).toBeUndefined();
  });
  test('are said as scales show them', () => {
    expect([1.092, 0.0214, 17.4166].map((kg) => formatWeight(kg))).toEqual([
      '1,092\u00a0g',
      '21.4\u00a0g',
      '17.42\u00a0kg',
    ]);
  });
});

/** A batch with a plan, of which so much was noted. */
function batchWith(entries: EntryWhat[], stages: string[] = []): Batch {
  const request = { oil: { volumeL: 100 }, catalyst: { kind: 'KOH' as const } };
  return {
    request,
    computed: computePlan({ ...request, site: { altitudeM: 340 } }),
    opened: '2026-03-02T08:00:00.000Z',
    stages: stages.map((stage, i) => ({ stage, vessel: 'r1', at: `2026-03-02T09:0${i}:00.000Z` })),
    entries: entries.map((what, i) => ({
      id: `e${i}`,
      what,
      at: `2026-03-02T08:0${i}:00.000Z`,
      correctedBy: null,
      result: null,
    })),
    draws: [],
    moves: [],
  } as unknown as Batch;
}

describe('at the scales', () => {
  test('what goes in stands with what was weighed of it: short, right within 1 %, over', () => {
    const planned = toWeigh(batchWith([])).map(({ what, plannedKg }) => [what, plannedKg] as const);
    expect(planned.map(([what]) => what)).toEqual(['oil', 'methanol', 'catalyst']);
    const lye = Object.fromEntries(planned).catalyst!;
    const stateOf = (...kgs: number[]) =>
      toWeigh(batchWith(kgs.map((kg) => ({ kind: 'weighing', what: 'catalyst', kg })))).at(-1)!;
    expect(stateOf(lye * 0.98)).toMatchObject({ state: 'short' });
    expect(stateOf(lye * 0.991)).toMatchObject({ state: 'right' });
    expect(stateOf(lye * 1.02)).toMatchObject({ state: 'over' });
    // A second scoop adds to the first.
    expect(stateOf(lye * 0.9, lye * 0.1)).toMatchObject({ state: 'right', entries: ['e0', 'e1'] });
  });

  test('once the only pass of a plan is dosed its weights still stand, with what was weighed of them', () => {
    const before = toWeigh(batchWith([{ kind: 'weighing', what: 'oil', kg: 91 }]));
    const after = toWeigh(
      batchWith([{ kind: 'weighing', what: 'oil', kg: 91 }], ['warm', 'methoxide', 'dose']),
    );
    expect(before.map(({ isDosed }) => isDosed)).toEqual([false, false, false]);
    expect(after).toEqual(before.map((one) => ({ ...one, isDosed: true })));
    // Noted afterwards, it says itself which pass it was for.
    const { plannedKg } = after[1]!;
    const noted = batchWith(
      [{ kind: 'weighing', what: 'methanol', kg: plannedKg, pass: 1 }],
      ['warm', 'dose'],
    );
    expect(toWeigh(noted)[1]).toMatchObject({ what: 'methanol', state: 'right', entries: ['e0'] });
  });
});

test('glycerol that came since the dose counts, and it goes slowly before the fuel comes', () => {
  const draining = drainingOf(batchWith([{ kind: 'drained', what: 'glycerol', litres: 4 }]))!;
  expect(draining).toMatchObject({ earlierL: 4, taps: 1 });
  const { lowL, highL } = draining;
  expect(drainedSo(lowL * 0.79, draining)).toBe('coming');
  expect(drainedSo(lowL * 0.81, draining)).toBe('slowly');
  expect(drainedSo(highL, draining)).toBe('slowly');
  expect(drainedSo(highL + 0.1, draining)).toBe('more-than-expected');
});

test('a story has what was noted in the stage of its time, whenever it was noted', () => {
  const batch = batchWith([], ['warm', 'dose']);
  const entry = (id: string, at: string) => ({ id, at }) as BatchEntry;
  batch.entries.push(
    entry('late', '2026-03-02T09:00:30.000Z'),
    entry('before', '2026-03-02T08:30:00.000Z'),
    entry('last', '2026-03-02T12:00:00.000Z'),
  );
  const told = storyOf(batch).map(({ stage, items }) => [
    stage?.stage,
    items.map((item) => item.kind === 'entry' && item.entry.id),
  ]);
  expect(told).toEqual([
    [undefined, ['before']],
    ['warm', ['late']],
    ['dose', ['last']],
  ]);
});

describe('two batches over each other', () => {
  const series = (vessel: string, minutes: number[], mean: number[], channel = 'liquid-temperature') => ({
    vessel,
    channel,
    minutes,
    mean,
    min: mean,
    max: mean,
    stepMinutes: 1,
  });
  const side = (list: object[], stages: object[]) => ({ series: list, stages }) as unknown as ComparedBatch;

  test('the line follows the batch from vessel to vessel, and a silence is a gap', () => {
    const batch = side(
      [
        series('r1', [0, 1, 2, 10], [50, 51, 52, 40]),
        series('t1', [0, 5, 9, 10], [18, 18, 44, 43]),
        series('r1', [0, 1], [300, 300], 'stirrer-speed'),
      ],
      [
        { stage: 'methoxide', vessel: 'm1', minutes: -5 },
        { stage: 'react', vessel: 'r1', minutes: 0 },
        { stage: 'settle', vessel: 't1', minutes: 8 },
      ],
    );
    expect(lineOf(batch, 'temperature')).toEqual({
      minutes: [0, 1, 2, 5.5, 9, 10],
      value: [50, 51, 52, null, 44, 43],
    });
    expect(lineOf(batch, 'mixing')).toEqual({ minutes: [0, 1], value: [300, 300] });
  });

  test('a minute that only one has interrupts no other line', () => {
    expect(
      overlay([
        { minutes: [0, 2], value: [50, null] },
        { minutes: [1, 2], value: [20, 21] },
      ]),
    ).toEqual({
      minutes: [0, 1, 2],
      lines: [
        [50, undefined, null],
        [undefined, 20, 21],
      ],
    });
  });
});
