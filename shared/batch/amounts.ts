import { esterDensityKgPerM3 } from '../chemistry/ester.ts';
import { methanolDensityKgPerM3 } from '../chemistry/methanol.ts';
import { oilDensityKgPerM3 } from '../chemistry/oils.ts';
import { resolvePlanRequest } from '../plan/resolve.ts';
import type { Amount, Balance } from '../wire/balance.ts';
import type { Batch } from '../wire/batch.ts';
import type { EntryWhat } from '../wire/entries.ts';
import type { LotKind } from '../wire/lots.ts';
import type { Stage } from '../wire/names.ts';
import { hadGlycerol, newestFuel, rounded, type Standing, standing, sum } from './standing.ts';

/** How much of each thing went into a batch and came out, by what stands in its entries, draws and moves and its frozen plan. */

/** What a batch says of itself that its amounts follow from. */
export type Noted = Pick<Batch, 'entries' | 'stages' | 'moves' | 'draws' | 'request' | 'computed'>;

/** °C, of a volume whose temperature nobody said, and of all litres that are told. */
const USUAL_C = 20;
/** Water, be it hot or cold: common practice, no source. */
const WATER_KG_PER_L = 1;

/** kg/L at a temperature, °C; null where it is not known. */
type Density = (atC: number) => number | null;
type Weighed = Extract<EntryWhat, { kind: 'weighing' }>['what'];
type Measured = Extract<EntryWhat, { kind: 'volume' }>['what'];
type Drained = Extract<EntryWhat, { kind: 'drained' }>['what'];

export function amountsOf(batch: Noted): Pick<Balance, 'in' | 'out'> {
  const { entries, computed } = batch;
  const { oil } = resolvePlanRequest(batch.request);
  const oilDensity: Density = (atC) => oilDensityKgPerM3({ kind: oil.kind, temperatureC: atC }) / 1000;
  // Of the layer as the plan has it, at 20 °C; what warmth makes of it is less than what the plan knows of it.
  const layerDensity: Density = () =>
    computed === null ? null : computed.glycerolLayerKg / computed.glycerolLayerL;

  const weighed = (what: Weighed) =>
    standing(entries, 'weighing').filter((entry) => entry.what.what === what);
  const measured = (what: Measured) =>
    standing(entries, 'volume').filter((entry) => entry.what.what === what);
  const drained = (what: Drained) => standing(entries, 'drained').filter((entry) => entry.what.what === what);

  const esterified = was(batch, 'esterify') ? (computed?.esterification ?? null) : null;
  const catalyst = byScales(weighed('catalyst'), []);
  const acid = byScales(weighed('sulphuric-acid'), []);
  return {
    in: {
      oil:
        byEither(weighed('oil'), measured('oil'), oilDensity) ??
        drawnLitres(batch, 'oil', oilDensity) ??
        planned(computed?.oilKg, oilDensity),
      methanol:
        byEither(weighed('methanol'), measured('methanol'), methanolDensity) ??
        drawnLitres(batch, 'methanol', methanolDensity) ??
        planned(computed && computed.methanolKg + (esterified?.methanolKg ?? 0), methanolDensity),
      catalyst: catalyst ?? drawnCatalyst(batch) ?? planned(computed && computed.catalystG / 1000, solid),
      sulphuricAcid: acid ?? (was(batch, 'esterify') ? planned(esterified?.sulphuricAcidKg, solid) : NONE),
      water: waterIn(batch),
    },
    out: {
      fuel: fuelOf(batch),
      glycerol:
        byEither(weighed('glycerol'), measured('glycerol'), layerDensity) ??
        byTap(drained('glycerol'), layerDensity) ??
        movedGlycerol(batch, layerDensity) ??
        MISSING,
      water: waterOut(batch, measured('water'), drained('water'), drained('wash-water')),
      methanolRecovered:
        byVolume(measured('methanol-recovered'), methanolDensity) ?? (was(batch, 'recover') ? MISSING : NONE),
    },
  };
}

/** The fuel as it was measured last. */
export function fuelOf(batch: Pick<Noted, 'entries' | 'stages' | 'moves'>): Amount {
  const { entries } = batch;
  const isFuel = ({ what }: Standing<'weighing'> | Standing<'volume'>) => what.what === 'fuel';
  const newest = newestFuel(batch, [
    ...standing(entries, 'weighing').filter(isFuel),
    ...standing(entries, 'volume').filter(isFuel),
  ]);
  const isVolume = (entry: (typeof newest)[number]): entry is Standing<'volume'> =>
    entry.what.kind === 'volume';
  const volumes = newest.filter(isVolume);
  const weighings = newest.filter((entry): entry is Standing<'weighing'> => !isVolume(entry));
  return byEither(weighings, volumes, esterDensity) ?? MISSING;
}

export const was = ({ stages }: Pick<Batch, 'stages'>, stage: Stage): boolean =>
  stages.some((one) => one.stage === stage);

export const isWet = ({ what }: Standing<'wash'>): boolean => what.method !== 'dry-bed';

// ---- water ----

function waterIn(batch: Noted): Amount {
  const washes = standing(batch.entries, 'wash');
  const wet = washes.filter(isWet);
  if (wet.some(({ what }) => what.waterL === undefined)) return MISSING;
  if (wet.length > 0)
    return water(
      'noted',
      wet.map((entry) => ({ ...entry, litres: entry.what.waterL! })),
    );
  return washes.length === 0 && was(batch, 'wash') ? MISSING : NONE;
}

function waterOut(
  batch: Noted,
  measured: readonly Standing<'volume'>[],
  drained: readonly Standing<'drained'>[],
  washWater: readonly Standing<'drained'>[],
): Amount {
  if (washWater.length === 0 && waterIn(batch).from !== 'none') return MISSING;
  // Measured in a can, it is not counted at the tap, too.
  const offOil = measured.length > 0 ? measured : drained;
  const all = [...offOil, ...washWater].map((entry) => ({ ...entry, litres: entry.what.litres }));
  return all.length === 0 ? NONE : water(measured.length > 0 ? 'measured' : 'drained', all);
}

function water(from: Amount['from'], entries: readonly { id: string; litres: number }[]): Amount {
  const litres = sum(entries.map((entry) => entry.litres));
  return { kg: litres * WATER_KG_PER_L, litres, from, entries: entries.map(({ id }) => id) };
}

// ---- draws and moves ----

const drawsOf = ({ draws }: Noted, kind: LotKind) =>
  draws.filter((draw) => draw.kind === kind && draw.undone === null);

/** Of lots, and of oil also what came from other batches. */
function drawnLitres(batch: Noted, kind: 'oil' | 'methanol', density: Density): Amount | null {
  const draws = drawsOf(batch, kind);
  return draws.length === 0
    ? null
    : ofLitres('drawn', rounded(sum(draws.map(({ litres }) => litres!))), density);
}

function drawnCatalyst(batch: Noted): Amount | null {
  const draws = drawsOf(batch, 'catalyst');
  if (draws.length === 0) return null;
  return { kg: rounded(sum(draws.map(({ kg }) => kg!))), litres: null, from: 'drawn', entries: [] };
}

/** What goes on from a vessel that glycerol was moved to has come off already. */
function movedGlycerol({ moves }: Noted, density: Density): Amount | null {
  const inTime = moves.toSorted((a, b) => Date.parse(a.at) - Date.parse(b.at));
  const off = inTime.filter(
    ({ what, from, at }, i) => what === 'glycerol' && !hadGlycerol(inTime.slice(0, i), from, at),
  );
  return off.length === 0 ? null : ofLitres('moved', rounded(sum(off.map(({ litres }) => litres))), density);
}

/** At 20 °C, as nobody said how warm. */
function ofLitres(from: Amount['from'], litres: number, density: Density): Amount {
  const kgPerL = density(USUAL_C);
  return { kg: kgPerL === null ? null : litres * kgPerL, litres, from, entries: [] };
}

// ---- amounts ----

const NONE: Amount = { kg: 0, litres: 0, from: 'none', entries: [] };
const MISSING: Amount = { kg: null, litres: null, from: 'missing', entries: [] };

const esterDensity: Density = (atC) => esterDensityKgPerM3({ temperatureC: atC }) / 1000;
const methanolDensity: Density = (atC) => methanolDensityKgPerM3({ temperatureC: atC }) / 1000;
const solid: Density = () => null;

/** What was both weighed and measured is the same twice: the scales have its kg, the measure its litres. */
function byEither(
  weighings: readonly Standing<'weighing'>[],
  volumes: readonly Standing<'volume'>[],
  density: Density,
): Amount | null {
  const byMeasure = byVolume(volumes, density);
  const scales = byScales(weighings, byMeasure?.entries ?? []);
  if (scales === null) return byMeasure;
  return { ...scales, litres: byMeasure?.litres ?? litresOf(scales.kg!, density) };
}

function byScales(weighings: readonly Standing<'weighing'>[], also: readonly string[]): Amount | null {
  if (weighings.length === 0) return null;
  const kg = sum(weighings.map(({ what }) => what.kg));
  return { kg, litres: null, from: 'weighed', entries: [...weighings.map(({ id }) => id), ...also] };
}

const byVolume = (volumes: readonly Standing<'volume'>[], density: Density): Amount | null =>
  byLitres('measured', volumes, density);

const byTap = (drained: readonly Standing<'drained'>[], density: Density): Amount | null =>
  byLitres('drained', drained, density);

function byLitres(
  from: Amount['from'],
  entries: readonly { id: string; what: { litres: number; atC?: number | undefined } }[],
  density: Density,
): Amount | null {
  if (entries.length === 0) return null;
  const usual = density(USUAL_C);
  const at = entries.map(({ what: { litres, atC = USUAL_C } }) => ({ litres, kgPerL: density(atC) }));
  return {
    kg: usual === null ? null : sum(at.map(({ litres, kgPerL }) => litres * kgPerL!)),
    litres: sum(at.map(({ litres, kgPerL }) => (usual === null ? litres : litres * (kgPerL! / usual)))),
    from,
    entries: entries.map(({ id }) => id),
  };
}

function planned(kg: number | null | undefined, density: Density): Amount {
  if (kg == null) return MISSING;
  return { kg, litres: litresOf(kg, density), from: 'planned', entries: [] };
}

function litresOf(kg: number, density: Density): number | null {
  const kgPerL = density(USUAL_C);
  return kgPerL === null ? null : kg / kgPerL;
}
