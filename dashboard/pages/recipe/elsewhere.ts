import { standardAltitudeM } from '../../../shared/chemistry/atmosphere.ts';
import type { PlanAnswer } from '../../../shared/plan/answer.ts';
import { CAUTION_CODES, type CautionCode } from '../../../shared/plan/caution-codes.ts';
import { computePlan } from '../../../shared/plan/compute.ts';
import type { PlanRequest } from '../../../shared/plan/request.ts';
import type { Recipe } from './form.ts';

/** The same recipe at another altitude, or at another temperature of the reaction. Pure. */

export interface Elsewhere {
  altitudeM: number;
  temperatureC: number;
}

const LEAST_STANDARD_HPA = standardAltitudeM.inputs.pressureHPa.least;

/** Where the recipe as entered stands: its altitude, or the one that its pressure is usual at. */
export function entered({ resolved, answer }: Recipe): Elsewhere {
  const { altitudeM } = resolved.site;
  return {
    // A deep vacuum is no altitude's: the highest that the standard has stands for it.
    altitudeM:
      altitudeM ??
      Math.floor(standardAltitudeM({ pressureHPa: Math.max(LEAST_STANDARD_HPA, answer.pressureHPa) })),
    temperatureC: resolved.reaction.temperatureC,
  };
}

/** The plan there: an altitude that was moved stands for the pressure that was entered. */
export function planThere(request: PlanRequest, from: Elsewhere, to: Elsewhere, unit: 'C' | 'F'): PlanAnswer {
  return computePlan(
    {
      ...request,
      ...(to.altitudeM === from.altitudeM ? {} : { site: { altitudeM: to.altitudeM } }),
      reaction: { temperatureC: to.temperatureC },
    },
    unit,
  );
}

/** Codes of cautions that come, and that go. */
export function cautionsMoved(
  before: PlanAnswer,
  after: PlanAnswer,
): { come: CautionCode[]; go: CautionCode[] } {
  const codes = ({ cautions }: PlanAnswer) => new Set(cautions.map(({ code }) => code));
  const [had, has] = [codes(before), codes(after)];
  return {
    come: CAUTION_CODES.filter((code) => has.has(code) && !had.has(code)),
    go: CAUTION_CODES.filter((code) => had.has(code) && !has.has(code)),
  };
}
