import { FUEL_WATER_PPM, OIL_WATER_PPM } from '../../shared/batch/conditions.ts';
import { drainedSo, drainingOf } from '../../shared/batch/draining.ts';
import {
  dosesBefore,
  isRight,
  isTooAcid,
  type PlannedBatch,
  passOf,
  plannedKg,
  planWith,
  type Titration,
  type Weighing,
  weighedFor,
} from '../../shared/batch/scales.ts';
import { densityAt15C } from '../../shared/batch/test-limits.ts';
import { OutOfRange } from '../../shared/chemistry/formula.ts';
import { compareWithLimit } from '../../shared/chemistry/fuel-limits.ts';
import { dropoutPercent } from '../../shared/chemistry/practice.ts';
import { soapTitrationPpm } from '../../shared/chemistry/soap.ts';
import { oilVerdict } from '../../shared/chemistry/titration.ts';
import type { Batch } from '../../shared/wire/batch.ts';
import type { EntryResult, EntryWhat } from '../../shared/wire/entries.ts';

/**
 * What an entry of a time (ISO 8601) says, beside the plan and what was noted before, as far as these say anything of
 * it; null for one that stands for itself. Of the entries those that stand.
 * @throws OutOfRange for numbers that cannot belong together.
 */
export function entryResult(what: EntryWhat, batch: Noted, at: string): EntryResult | null {
  if (what.kind === 'weighing') return weighed(what, batch, at);
  if (what.kind === 'drained') return drained(what, batch, at);
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
      if (blankMl > acidMl)
        throw new OutOfRange('blankMl', blankMl, `at most the ${acidMl} mL of the sample`);
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
      return dosesBefore(batch, at) === 0
        ? {
            passed: what.ppm <= OIL_WATER_PPM,
            says: `${what.ppm} ppm water in the oil; up to ${OIL_WATER_PPM} it may go on`,
          }
        : {
            passed: what.ppm <= FUEL_WATER_PPM,
            says: `${what.ppm} ppm water; EN 14214 takes up to ${FUEL_WATER_PPM}`,
          };
    case 'density': {
      const value = densityAt15C(what);
      const within = compareWithLimit('EN 14214:2012+A1:2014', 'density15C', value) === 'within';
      return {
        passed: within,
        figure: value,
        says: `${round(value, 0)} kg/m³ at 15 °C; EN 14214 takes 860 to 900`,
      };
    }
    default:
      return null;
  }
}

type Noted = PlannedBatch & Pick<Batch, 'stages' | 'soapLimitPpm'>;

function titrated(titration: Titration, { request, computed }: PlannedBatch): EntryResult | null {
  if (computed === null) return null;
  const plan = planWith(titration, request, computed);
  const { acidNumberMgKOHPerG, freeFattyAcidPercent, catalyst, catalystG, methoxidePortions } = plan;
  const acid = `acid number ${round(acidNumberMgKOHPerG, 2)} mg KOH/g, ${round(freeFattyAcidPercent, 2)} % free fatty acid`;
  const tooAcid = oilVerdict(freeFattyAcidPercent) === 'too-acid';
  const portions =
    methoxidePortions !== null && methoxidePortions > 1 ? ` in ${methoxidePortions} portions` : '';
  return {
    passed: !tooAcid,
    figure: freeFattyAcidPercent,
    says: tooAcid
      ? `${acid}: too acid for base alone. Esterify it first, or blend it with better oil`
      : `${acid}: ${mass(catalystG / 1000)} ${catalyst}${portions} by this titration`,
  };
}

type Drained = Extract<EntryWhat, { kind: 'drained' }>;

function drained({ what, litres }: Drained, batch: Noted, at: string): EntryResult | null {
  const draining = what === 'glycerol' ? drainingOf(batch, at) : null;
  if (draining === null) return null;
  const { expectedL, lowL, highL, earlierL, taps } = draining;
  const total = earlierL + litres;
  const expected = `of about ${volume(expectedL)} (${volume(lowL)} to ${volume(highL)})`;
  const next = {
    'more-than-expected': 'more than expected: look whether it is fuel',
    slowly: 'slowly now, the fuel is near',
    coming: `${volume(lowL - total)} at least are to come; much less than that points to a poor reaction`,
  }[drainedSo(total, draining)];
  const times = taps === 0 ? 'at one go' : `in ${taps + 1} taps`;
  return { passed: null, figure: total, says: `${volume(total)} ${expected} ${times}: ${next}` };
}

// ---- at the scales ----

/** All that was weighed of a thing for the same pass counts together: a second scoop adds to the first. */
function weighed(what: Weighing, batch: Noted, at: string): EntryResult | null {
  const { computed } = batch;
  if (computed === null || what.what === 'glycerol' || what.what === 'fuel') return null;
  const pass = passOf(what, batch, at);
  const before = weighedFor(what.what, pass, batch, at);
  const total = before.reduce((sum, other) => sum + other.what.kg, what.kg);
  if (what.what === 'catalyst' && isTooAcid(batch))
    return { passed: false, figure: total, says: 'STOP: by the last titration too acid for base alone' };
  const planned = plannedKg(what.what, batch, pass);
  if (planned === null)
    return { passed: null, figure: total, says: `${mass(total)}: the plan has no amount for pass ${pass}` };
  const of = what.what === 'catalyst' ? `${mass(planned)} ${computed.catalyst}` : mass(planned);
  const over = total - planned;
  const sum = before.length === 0 ? '' : ` (${mass(total)} in ${before.length + 1} weighings)`;
  if (isRight(total, planned)) return { passed: true, figure: total, says: `right: ${of} planned${sum}` };
  if (over < 0) return { passed: false, figure: total, says: `${mass(-over)} short of ${of}${sum}` };
  if (what.what === 'oil')
    return {
      passed: false,
      figure: total,
      says: `${mass(over)} more than the ${of} planned${sum}: the plan is for less oil`,
    };
  const more = planned === 0 ? 'none is planned' : `${mass(over)} more than the ${of} planned`;
  return { passed: false, figure: total, says: `STOP: ${more}${sum}` };
}

const round = (value: number, digits: number): string => String(Number(value.toFixed(digits)));
const mass = (kg: number): string => {
  // As the recipe has it.
  if (kg >= 1) return `${round(kg, kg < 10 ? 3 : 2)} kg`;
  return `${round(1000 * kg, kg < 0.1 ? 1 : 0)} g`;
};
const volume = (litres: number): string => `${round(litres, litres < 1 ? 2 : 1)} L`;
