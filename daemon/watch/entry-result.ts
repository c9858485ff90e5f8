import { dropoutPercent } from '../../shared/chemistry/practice.ts';
import { soapTitrationPpm } from '../../shared/chemistry/soap.ts';
import type { PlanNumbers } from '../../shared/plan/answer.ts';
import type { BatchEntry, EntryResult, EntryWhat } from '../../shared/wire/entries.ts';

/** Scales and spills make so much of a difference, of what was planned: common practice, no source. */
const RIGHT_WITHIN = 0.01;

/**
 * What an entry says, beside the plan where that says anything of it; null for one that stands for itself.
 * @throws OutOfRange for numbers that cannot belong together.
 */
export function entryResult(
  what: EntryWhat,
  plan: PlanNumbers | null,
  before: readonly BatchEntry[],
): EntryResult | null {
  if (what.kind === 'weighing') return weighed(what, plan, before);
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
      return { passed: null, says: `${round(ppm, 0)} ppm soap: ${sum}, as oleate of ${what.base}` };
    }
    case 'water':
      // EN 14214: at most 500 mg/kg.
      return { passed: what.ppm <= 500, says: `${what.ppm} ppm water; EN 14214 takes up to 500` };
    default:
      return null;
  }
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
