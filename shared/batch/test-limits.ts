import { BASES, type BaseKind } from '../chemistry/bases.ts';
import { esterDensityKgPerM3 } from '../chemistry/ester.ts';
import {
  compareWithLimit,
  FUEL_PROPERTIES,
  FUEL_STANDARD_NAMES,
  FUEL_STANDARDS,
  type FuelProperty,
} from '../chemistry/fuel-limits.ts';
import type { Batch } from '../wire/batch.ts';
import type { BatchEntry, EntryWhat } from '../wire/entries.ts';
import type { RecordTest } from '../wire/record.ts';
import { standing } from './standing.ts';

type Test = Extract<EntryWhat, { kind: 'test' }>;

const HYDROXIDE_G_PER_MOL = 17.007;

/** How much of a soap, as oleate, is sodium or potassium. */
export const metalPerSoap = (base: BaseKind): number =>
  (BASES[base].gPerMol - HYDROXIDE_G_PER_MOL) / BASES[base].oleateGPerMol;

/** The newest of each test of the fuel, beside what the standards have for it. */
export function testsOfFuel({ entries, stages }: Pick<Batch, 'entries' | 'stages'>): RecordTest[] {
  const doseAt = stages.findLast(({ stage }) => stage === 'dose')?.at ?? '';
  const newest = new Map<string, BatchEntry & { what: Test }>();
  for (const entry of standing(entries, 'test')) {
    const { what, at } = entry;
    // What was found of the oil is no test of the fuel.
    if (at < doseAt || what.test === 'titration') continue;
    const key = what.test === 'laboratory' ? what.property : what.test;
    if (at >= (newest.get(key)?.at ?? '')) newest.set(key, entry);
  }
  return [...newest.values()].map(({ id, what, at, by, result }) => {
    const found = comparable(what, result?.figure ?? null);
    return {
      entry: id,
      test: what.test,
      at,
      by,
      says: result?.says ?? '',
      passed: result?.passed ?? null,
      property: found === null ? null : FUEL_PROPERTIES[found.property],
      value: found?.value ?? null,
      limits: found === null ? [] : limitsOf(found.property, found.value),
    };
  });
}

/** What a test found, as the property that standards limit, in their unit; null where they limit nothing like it. */
function comparable(what: Test, figure: number | null): { property: FuelProperty; value: number } | null {
  switch (what.test) {
    case 'laboratory':
      return { property: what.property, value: what.value };
    case 'water':
      return { property: 'water', value: what.ppm };
    case 'soap':
      return figure === null
        ? null
        : { property: 'sodiumPotassium', value: figure * metalPerSoap(what.base) };
    case 'density':
      return { property: 'density15C', value: densityAt15C(what) };
    default:
      return null;
  }
}

/** Density of fuel at 15 °C, kg/m³, from that at a temperature, °C (−20 to 100), by how ester expands. */
export const densityAt15C = ({ kgPerM3, atC }: { kgPerM3: number; atC: number }): number =>
  kgPerM3 + esterDensityKgPerM3({ temperatureC: 15 }) - esterDensityKgPerM3({ temperatureC: atC });

const limitsOf = (property: FuelProperty, value: number): RecordTest['limits'] =>
  FUEL_STANDARD_NAMES.flatMap((standard) => {
    const limit = FUEL_STANDARDS[standard][property];
    if (limit === undefined) return [];
    const { unit, least = null, most = null, method } = limit;
    const verdict = compareWithLimit(standard, property, value);
    return [{ standard, unit, least, most, method, within: verdict === 'within' }];
  });
