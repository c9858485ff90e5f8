import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { balanceOf } from '../../../shared/batch/balance.ts';
import { esterDensityKgPerM3 } from '../../../shared/chemistry/ester.ts';
import { methanolDensityKgPerM3 } from '../../../shared/chemistry/methanol.ts';
import { oilDensityKgPerM3 } from '../../../shared/chemistry/oils.ts';
import { balanceSchema } from '../../../shared/wire/balance.ts';
import type { Batch } from '../../../shared/wire/batch.ts';
import type { EntryWhat } from '../../../shared/wire/entries.ts';
import type { Draw } from '../../../shared/wire/lots.ts';
import { batchOf, drained, hour, type Note, volume, wash, weighing } from './noted.ts';

/** Grams that scales show, as kg. */
const grams = (least: number, most: number) => fc.integer({ min: least, max: most }).map((g) => g / 1000);
/** Cans of one thing. */
const cans = fc.array(grams(1, 50_000), { minLength: 1, maxLength: 4 });
const gramsOf = (kg: readonly number[]): number =>
  kg.reduce((total, one) => total + Math.round(1000 * one), 0);

const FOUR_KG = [weighing('oil', 90), weighing('methanol', 18), weighing('catalyst', 1)];

describe('a balance', () => {
  test('of weighed cans is what the scales say, to the gram', () => {
    fc.assert(
      fc.property(cans, cans, cans, cans, cans, (oil, methanol, catalyst, fuel, glycerol) => {
        const all = { oil, methanol, catalyst, fuel, glycerol };
        const notes = Object.entries(all).flatMap(([what, kgs]) =>
          kgs.map((kg) => weighing(what as 'oil', kg)),
        );
        const balance = balanceSchema.strict().parse(balanceOf(batchOf(['react'], notes)));
        const inG = gramsOf(oil) + gramsOf(methanol) + gramsOf(catalyst);
        const lostG = inG - gramsOf(fuel) - gramsOf(glycerol);
        expect(balance.missing).toEqual([]);
        expect(balance.inKg).toBeCloseTo(inG / 1000, 9);
        expect(balance.unaccountedKg).toBe(lostG / 1000);
        expect(balance.unaccountedPercent).toBeCloseTo((100 * lostG) / inG, 9);
      }),
    );
  });

  test('adds up to nothing exactly where what came out is what went in', () => {
    fc.assert(
      fc.property(
        cans,
        cans,
        cans,
        fc.double({ min: 0.05, max: 0.95, noNaN: true }),
        (oil, methanol, catalyst, part) => {
          const inG = gramsOf(oil) + gramsOf(methanol) + gramsOf(catalyst);
          fc.pre(inG > 40);
          const fuelG = Math.round(inG * part);
          const notes = [
            ...oil.map((kg) => weighing('oil', kg)),
            ...methanol.map((kg) => weighing('methanol', kg)),
            ...catalyst.map((kg) => weighing('catalyst', kg)),
            weighing('fuel', fuelG / 1000),
            weighing('glycerol', (inG - fuelG) / 1000),
            wash(30),
            drained('wash-water', 30),
          ];
          const { unaccountedKg, unaccountedPercent } = balanceOf(batchOf(['react'], notes));
          expect([unaccountedKg, unaccountedPercent]).toEqual([0, 0]);
        },
      ),
    );
  });

  test('goes by a correction, and not by what it corrects', () => {
    fc.assert(
      fc.property(grams(1, 90_000), grams(1, 90_000), (wrong, right) => {
        const notes = (kg: number): (EntryWhat | Note)[] => [
          weighing('oil', kg),
          ...FOUR_KG.slice(1),
          weighing('fuel', 80),
          weighing('glycerol', 20),
        ];
        const corrected = balanceOf(
          batchOf(['react'], [...notes(wrong), { what: weighing('oil', right), corrects: 1 }]),
        );
        const plain = balanceOf(batchOf(['react'], notes(right)));
        expect(corrected.unaccountedKg).toBe(plain.unaccountedKg);
        expect(corrected.in.oil).toMatchObject({ kg: right, entries: ['b1-6'] });
        if (wrong !== right)
          expect(corrected.unaccountedKg).not.toBe(balanceOf(batchOf(['react'], notes(wrong))).unaccountedKg);
      }),
    );
  });

  test('is null without any one of what came out, and names it', () => {
    const out: Record<string, EntryWhat> = {
      fuel: weighing('fuel', 80),
      glycerol: weighing('glycerol', 20),
      'methanol-recovered': volume('methanol-recovered', 3),
      'water-in': wash(30),
      'water-out': drained('wash-water', 29),
    };
    const stages = ['react', 'recover', 'wash'] as const;
    expect(balanceOf(batchOf(stages, [...FOUR_KG, ...Object.values(out)]))).toMatchObject({
      missing: [],
      unaccountedKg: expect.any(Number),
    });
    for (const what of Object.keys(out)) {
      const { [what]: _, ...rest } = out;
      const { missing, unaccountedKg, unaccountedPercent } = balanceOf(
        batchOf(stages, [...FOUR_KG, ...Object.values(rest)]),
      );
      expect(missing.map((one) => one.what)).toEqual([what]);
      expect([unaccountedKg, unaccountedPercent]).toEqual([null, null]);
    }
  });

  test('of a washing wants to know of each wash how much water, but of none for a dry bed', () => {
    const missing = (...washes: EntryWhat[]) =>
      balanceOf(
        batchOf(['wash'], [...FOUR_KG, weighing('fuel', 80), weighing('glycerol', 20), ...washes]),
      ).missing.map(({ what }) => what);
    expect(missing(wash(30), wash(), drained('wash-water', 60))).toEqual(['water-in']);
    expect(missing(wash(30))).toEqual(['water-out']);
    expect(missing({ kind: 'wash', method: 'dry-bed', emulsion: false })).toEqual([]);
  });

  test('takes what nobody weighed as planned, and says so', () => {
    const batch = batchOf(['react'], [weighing('fuel', 80), weighing('glycerol', 20)]);
    const { in: into, notes, inKg } = balanceOf(batch);
    const plan = batch.computed!;
    expect(into.oil).toEqual({
      kg: plan.oilKg,
      litres: expect.closeTo(100, 9),
      from: 'planned',
      entries: [],
    });
    expect(into.catalyst.kg).toBe(plan.catalystG / 1000);
    expect(inKg).toBeCloseTo(plan.oilKg + plan.methanolKg + plan.catalystG / 1000, 6);
    expect(notes.map((note) => note.split(':')[0])).toEqual(['oil', 'methanol', 'lye']);
    const older = balanceOf({ ...batch, computed: null });
    expect(older.missing.map(({ what }) => what)).toEqual(['oil', 'methanol', 'catalyst']);
  });

  test('says where methanol or catalyst was weighed for fewer passes than were dosed', () => {
    const { notes } = balanceOf(batchOf(['dose', 'react', 'dose', 'react'], FOUR_KG));
    expect(notes.map((note) => note.split(':')[0])).toEqual(['methanol', 'lye']);
  });

  test('of acid oil has the acid and its methanol, once that was done', () => {
    // Titrated so high that the plan wants acid first.
    const request = { oil: { titration: { mL: 12, titrant: 'NaOH' as const } } };
    const [before, after] = [batchOf(['warm'], [], { request }), batchOf(['esterify'], [], { request })];
    const { sulphuricAcidKg, methanolKg } = after.computed!.esterification!;
    expect(balanceOf(before).in.sulphuricAcid).toMatchObject({ kg: 0, from: 'none' });
    expect(balanceOf(after).in.sulphuricAcid).toMatchObject({ kg: sulphuricAcidKg, from: 'planned' });
    expect(balanceOf(after).in.methanol.kg).toBeCloseTo(balanceOf(before).in.methanol.kg! + methanolKg, 9);
  });
});

describe('what was measured by volume', () => {
  test('is weighed by its density at its temperature, and told as litres at 20 °C', () => {
    const { out, in: into } = balanceOf(batchOf([], [volume('fuel', 90, 50), volume('methanol', 22)]));
    const kgPerL = (temperatureC: number) => esterDensityKgPerM3({ temperatureC }) / 1000;
    expect(out.fuel.kg).toBeCloseTo(90 * kgPerL(50), 9);
    expect(out.fuel.litres).toBeCloseTo((90 * kgPerL(50)) / kgPerL(20), 9);
    expect(into.methanol.litres).toBe(22);
    expect(into.methanol.kg).toBeCloseTo((22 * methanolDensityKgPerM3({ temperatureC: 20 })) / 1000, 9);
  });

  test('and weighed, too, is the same twice', () => {
    const { in: into } = balanceOf(batchOf([], [volume('oil', 100), weighing('oil', 91.5)]));
    expect(into.oil).toEqual({ kg: 91.5, litres: 100, from: 'weighed', entries: ['b1-2', 'b1-1'] });
  });

  test('glycerol is as dense as the plan’s layer, by the can before by the tap', () => {
    const batch = batchOf([], [drained('glycerol', 19), volume('glycerol', 20)]);
    const { glycerolLayerKg, glycerolLayerL } = batch.computed!;
    expect(balanceOf(batch).out.glycerol).toEqual({
      kg: expect.closeTo((20 * glycerolLayerKg) / glycerolLayerL, 9),
      litres: 20,
      from: 'measured',
      entries: ['b1-2'],
    });
    const older = balanceOf({ ...batch, computed: null });
    expect(older.out.glycerol).toMatchObject({ kg: null, litres: 20 });
    expect(older.missing.map(({ what }) => what)).toContain('glycerol');
  });
});

test('water off the oil counts by the can before by the tap, and wash water with it', () => {
  const water = (...notes: EntryWhat[]) => balanceOf(batchOf([], [wash(30), ...notes])).out.water;
  const washWater = drained('wash-water', 29);
  expect(water(washWater, drained('water', 2))).toMatchObject({ kg: 31, from: 'drained' });
  expect(water(washWater, drained('water', 2), volume('water', 1.5), volume('water', 1))).toEqual({
    kg: 31.5,
    litres: 31.5,
    from: 'measured',
    entries: ['b1-4', 'b1-5', 'b1-2'],
  });
});

describe('where nobody weighed or measured it', () => {
  const draw = (
    kind: Draw['kind'],
    amount: { litres: number } | { kg: number },
    more: Partial<Draw> = {},
  ) => ({
    id: 'd',
    kind,
    lot: 'l1',
    fromBatch: null,
    name: 'Drum',
    litres: null,
    kg: null,
    at: hour(1),
    noted: hour(1),
    by: 'Ida',
    known: { titration: null, waterPpm: null, filtered: null, purityPercent: null },
    deviation: null,
    undone: null,
    ...amount,
    ...more,
  });
  const undone = { reason: 'wrong drum', by: 'Uwe', at: hour(2) };
  const draws: Draw[] = [
    draw('oil', { litres: 60.1 }),
    draw('oil', { litres: 20.2 }, { lot: null, fromBatch: 'b0' }),
    draw('oil', { litres: 500 }, { undone }),
    draw('methanol', { litres: 17 }),
    draw('catalyst', { kg: 0.1 }),
    draw('catalyst', { kg: 0.2 }),
    draw('dry-bed', { litres: 90 }),
  ];

  test('what was drawn counts, before the plan, and not what was undone', () => {
    const { in: into, notes } = balanceOf(batchOf(['react'], [], { draws }));
    const oilKgPerL = oilDensityKgPerM3({ kind: 'soybean', temperatureC: 20 }) / 1000;
    expect(into.oil).toEqual({
      kg: expect.closeTo(80.3 * oilKgPerL, 9),
      litres: 80.3,
      from: 'drawn',
      entries: [],
    });
    expect(into.methanol).toMatchObject({ litres: 17, from: 'drawn' });
    expect(into.methanol.kg).toBeCloseTo((17 * methanolDensityKgPerM3({ temperatureC: 20 })) / 1000, 9);
    expect(into.catalyst).toEqual({ kg: 0.3, litres: null, from: 'drawn', entries: [] });
    expect(notes).toEqual([]);
    const all = batchOf(['react'], [], { draws: draws.map((one) => ({ ...one, undone })) });
    expect(balanceOf(all).in.oil.from).toBe('planned');
  });

  test('what was noted goes before what was drawn', () => {
    const { in: into } = balanceOf(
      batchOf(['react'], [weighing('oil', 70), volume('methanol', 16), weighing('catalyst', 0.4)], { draws }),
    );
    expect([into.oil.from, into.methanol.from, into.catalyst.from]).toEqual([
      'weighed',
      'measured',
      'weighed',
    ]);
  });

  test('glycerol is what was moved off, each litre once, after what was drained or weighed', () => {
    const move = (from: string, to: string, litres: number, atHour: number) => ({
      at: hour(atHour),
      by: 'Ida',
      from,
      to,
      litres,
      what: 'glycerol' as const,
    });
    const moves = [move('r1', 'g1', 11, 1), move('g1', 'g2', 18, 3), move('r1', 'g1', 7, 2)];
    const glycerol = (...notes: EntryWhat[]) => balanceOf(batchOf(['react'], notes, { moves })).out.glycerol;
    const { glycerolLayerKg, glycerolLayerL } = batchOf([], []).computed!;
    expect(glycerol()).toEqual({
      kg: expect.closeTo((18 * glycerolLayerKg) / glycerolLayerL, 9),
      litres: 18,
      from: 'moved',
      entries: [],
    });
    expect(glycerol(drained('glycerol', 19))).toMatchObject({ litres: 19, from: 'drained' });
    expect(glycerol(weighing('glycerol', 20))).toMatchObject({ kg: 20, from: 'weighed' });
    const fuelMoved = moves.map((one) => ({ ...one, what: 'ester' as const }));
    expect(balanceOf(batchOf(['react'], [], { moves: fuelMoved })).out.glycerol.from).toBe('missing');
  });
});

describe('fuel that was measured more than once', () => {
  const stages = ['settle', 'wash', 'dry-fuel', 'test', 'finished'] as const;
  test('counts as it was measured last, its cans added up', () => {
    const notes = [
      { what: volume('fuel', 92), hour: 0.5 },
      { what: weighing('fuel', 79), hour: 1.5 },
      { what: volume('fuel', 50), hour: 2 },
      { what: volume('fuel', 36), hour: 4.5 },
    ];
    const { out } = balanceOf(batchOf(stages, notes));
    expect(out.fuel).toMatchObject({ litres: 86, from: 'measured', entries: ['b1-3', 'b1-4'] });
  });

  test('is not changed by what is done with the glycerol in a vessel of its own', () => {
    const batch = batchOf(
      ['settle', 'drain', 'recover', 'test'],
      [
        { what: volume('fuel', 50), hour: 1.5 },
        { what: volume('fuel', 36), hour: 2.5 },
      ],
    );
    const moved = (to: string, atHour: number, what: 'glycerol' | 'ester' = 'glycerol') => ({
      at: hour(atHour),
      by: 'Ida',
      from: 'r1',
      to,
      litres: 15,
      what,
    });
    const recovered = (...moves: Batch['moves']) => {
      const stages = batch.stages.map((one) => (one.stage === 'recover' ? { ...one, vessel: 'g1' } : one));
      return balanceOf({ ...batch, stages, moves }).out.fuel.litres;
    };
    expect(recovered(moved('g1', 1))).toBe(86);
    expect(recovered(moved('g1', 2))).toBe(86);
    // Elsewhere, later, or fuel since: it was fuel that was recovered from.
    expect(recovered(moved('g2', 1))).toBe(36);
    expect(recovered(moved('g1', 2.1))).toBe(36);
    expect(recovered(moved('g1', 1), moved('g1', 1.5, 'ester'))).toBe(36);
  });

  test('corrected later, is still of the time when it was measured', () => {
    const notes = [
      { what: volume('fuel', 92), hour: 0.5 },
      { what: volume('fuel', 86), hour: 3 },
      { what: volume('fuel', 91), hour: 50, corrects: 1 },
    ];
    expect(balanceOf(batchOf(stages, notes)).out.fuel).toMatchObject({ litres: 86, entries: ['b1-2'] });
  });
});

describe('methanol', () => {
  test('is reacted as the plan has it by the oil, recovered, or left', () => {
    const half = batchOf(
      ['recover'],
      [weighing('oil', 45), weighing('methanol', 18), volume('methanol-recovered', 4)],
    );
    const plan = half.computed!;
    const { methanol, out } = balanceOf(half);
    const reacted = ((plan.methanolKg - plan.methanolLeftKg) * 45) / plan.oilKg;
    expect(methanol.reactedKg).toBeCloseTo(reacted, 9);
    expect(methanol.notRecoveredKg).toBeCloseTo(18 - reacted - out.methanolRecovered.kg!, 5);
    expect(methanol.reactedKgLow).toBeLessThanOrEqual(methanol.reactedKg!);
    expect(methanol.reactedKgHigh).toBeGreaterThanOrEqual(methanol.reactedKg!);
  });

  test('never reacts beyond what went in', () => {
    fc.assert(
      fc.property(grams(1, 500_000), grams(1, 50_000), (oil, methanol) => {
        const { methanol: of } = balanceOf(
          batchOf([], [weighing('oil', oil), weighing('methanol', methanol)]),
        );
        expect(of.reactedKgHigh).toBeLessThanOrEqual(methanol);
        expect(of.notRecoveredKg).toBeGreaterThanOrEqual(0);
      }),
    );
  });
});
