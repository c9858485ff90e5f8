import { dropoutPercent } from '../../shared/chemistry/practice.ts';
import { soapTitrationPpm } from '../../shared/chemistry/soap.ts';
import { oilVerdict } from '../../shared/chemistry/titration.ts';
import type { PlanNumbers } from '../../shared/plan/answer.ts';
import { computePlan } from '../../shared/plan/compute.ts';
import type { PlanRequest } from '../../shared/plan/request.ts';
import type { Batch } from '../../shared/wire/api.ts';
import type { BatchEntry, EntryResult, EntryWhat } from '../../shared/wire/entries.ts';

/** Scales and spills make so much of a difference, of what was planned: common practice, no source. */
const RIGHT_WITHIN = 0.01;

/**
 * What an entry says, beside the plan and what was noted before, as far as these say anything of it; null for one
 * that stands for itself. Of the entries those that stand.
 * @throws OutOfRange for numbers that cannot belong together.
 */
export function entryResult(
  what: EntryWhat,
  batch: Pick<Batch, 'request' | 'computed' | 'entries' | 'soapLimitPpm'>,
): EntryResult | null {
  if (what.kind === 'weighing') return weighed(what, planInForce(batch), batch.entries);
  if (what.kind === 'drained') return drained(what, batch.computed, batch.entries);
  if (what.kind !== 'test') return null;
  switch (what.test) {
    case '3/27': {
      const percent = dropoutPercent({ dropoutMl: what.dropoutMl, fuelMl: what.fuelMl });
      const passed = what.dropoutMl === 0;
      const drops = `${what.dropoutMl} mL of ${what.fuelMl} mL drop out`;
      return {
        passed,
        says: passed ? 'nothing drops out: passed' : `${drops}, ${round(percent, 1)} %: not passed`,
      };
    }
    case 'shake':
      return { passed: what.partsClean, says: what.partsClean ? 'parts clean' : 'does not part clean' };
    case 'soap': {
      const { kind: _, test: __, ...amounts } = what;
      const { acidMl, blankMl, acidMolPerL, sampleG } = amounts;
      const ppm = soapTitrationPpm(amounts);
      const sum = `(${acidMl} − ${blankMl}) mL · ${acidMolPerL} mol/L on ${sampleG} g`;
      const limit = `the limit is ${round(batch.soapLimitPpm, 0)} ppm`;
      return {
        passed: ppm <= batch.soapLimitPpm,
        figure: ppm,
        says: `${round(ppm, 0)} ppm soap: ${sum}, as oleate of ${what.base}; ${limit}`,
      };
    }
    case 'titration':
      return titrated(what, batch);
    case 'water':
      // EN 14214: at most 500 mg/kg.
      return { passed: what.ppm <= 500, says: `${what.ppm} ppm water; EN 14214 takes up to 500` };
    default:
      return null;
  }
}

/** The plan as it was frozen, its lye by what was titrated since, as after an esterification. */
function planInForce({ request, computed, entries }: PlannedBatch): PlanNumbers | null {
  const titration = entries.findLast(isTitration)?.what as Titration | undefined;
  if (computed === null || titration === undefined) return computed;
  return planWith(titration, request, computed);
}

type PlannedBatch = Pick<Batch, 'request' | 'computed' | 'entries'>;
type Titration = Extract<EntryWhat, { test: 'titration' }>;

const isTitration = ({ what, correctedBy }: BatchEntry): boolean =>
  what.kind === 'test' && what.test === 'titration' && correctedBy === null;

function planWith(titration: Titration, request: PlanRequest, { pressureHPa }: PlanNumbers): PlanNumbers {
  const { kind: _, test: __, ...made } = titration;
  return computePlan({ site: { pressureHPa }, ...request, oil: { ...request.oil, titration: made } });
}

function titrated(titration: Titration, { request, computed }: PlannedBatch): EntryResult | null {
  if (computed === null) return null;
  const plan = planWith(titration, request, computed);
  const { acidNumberMgKOHPerG, freeFattyAcidPercent, catalyst, catalystG } = plan;
  const acid = `acid number ${round(acidNumberMgKOHPerG, 2)} mg KOH/g, ${round(freeFattyAcidPercent, 2)} % free fatty acid`;
  return {
    passed: oilVerdict(freeFattyAcidPercent) !== 'too-acid',
    figure: freeFattyAcidPercent,
    says: `${acid}: ${mass(catalystG / 1000)} ${catalyst} by this titration`,
  };
}

type Drained = Extract<EntryWhat, { kind: 'drained' }>;

/** Most of the least that is expected: from here on slowly, to see the fuel come. */
const SLOW_FROM = 0.8;

/** How much of the glycerol is out, of what is to come. */
function drained(
  { what, litres }: Drained,
  plan: PlanNumbers | null,
  before: readonly BatchEntry[],
): EntryResult | null {
  if (what !== 'glycerol' || plan === null) return null;
  const taps = before
    .filter((entry) => entry.correctedBy === null)
    .map((entry) => entry.what)
    .filter((entry) => entry.kind === 'drained' && entry.what === 'glycerol');
  const total = taps.reduce((sum, tap) => sum + (tap as Drained).litres, litres);
  const { glycerolLayerL, glycerolLayerLLow: low, glycerolLayerLHigh: high } = plan;
  const expected = `of about ${round(glycerolLayerL, 1)} L (${round(low, 1)} to ${round(high, 1)})`;
  const next =
    total > high
      ? 'more than expected: look whether it is fuel'
      : total >= SLOW_FROM * low
        ? 'slowly now, the fuel is near'
        : `${round(low - total, 1)} L at least are to come; much less than that points to a poor reaction`;
  return {
    passed: null,
    figure: total,
    says: `${round(total, 1)} L ${expected} in ${taps.length + 1} taps: ${next}`,
  };
}

type Weighing = Extract<EntryWhat, { kind: 'weighing' }>;

function weighed(
  what: Weighing,
  plan: PlanNumbers | null,
  before: readonly BatchEntry[],
): EntryResult | null {
  const planned = plan === null ? null : plannedKg(what.what, plan, passOf(what.what, before));
  if (planned === null) return null;
  const over = what.kg - planned;
  if (Math.abs(over) <= RIGHT_WITHIN * planned)
    return { passed: true, says: `right: ${mass(planned)} planned` };
  const more = `${mass(over)} more than the ${mass(planned)} planned`;
  const tooMuch = what.what === 'oil' ? `${more}: the plan is for less oil` : `STOP: ${more}`;
  const says = over < 0 ? `${mass(-over)} short of ${mass(planned)}` : tooMuch;
  return { passed: false, says };
}

/** How many weighings of the same have been before, that stand. */
const passOf = (what: Weighing['what'], before: readonly BatchEntry[]): number =>
  before.filter(
    (entry) => entry.correctedBy === null && entry.what.kind === 'weighing' && entry.what.what === what,
  ).length;

/** Methanol and catalyst go in pass by pass. */
function plannedKg(what: Weighing['what'], plan: PlanNumbers, pass: number): number | null {
  switch (what) {
    case 'oil':
      return plan.oilKg;
    case 'methanol':
      return plan.passes[pass]?.methanolKg ?? null;
    case 'catalyst':
      return pass < plan.passes.length ? plan.passes[pass]!.catalystG / 1000 : null;
    case 'sulphuric-acid':
      return plan.esterification?.sulphuricAcidKg ?? null;
    default:
      return null;
  }
}

const round = (value: number, digits: number): string => String(Number(value.toFixed(digits)));
const mass = (kg: number): string => (kg < 1 ? `${round(1000 * kg, 0)} g` : `${round(kg, 3)} kg`);
