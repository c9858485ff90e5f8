import { runsOf, titratedMolPerL } from '../chemistry/titration.ts';
import type { PlanRequest, Titration } from '../plan/request.ts';
import { resolvePlanRequest } from '../plan/resolve.ts';
import type { LotKind, LotKnown } from '../wire/lots.ts';
import { OIL_WATER_PPM } from './conditions.ts';

/** What is drawn for a batch, beside what its plan was made for. */

/** Methanol that is sold as pure has so much, %; a plan counts it as pure. Common practice, no source. */
const PURE_METHANOL_PERCENT = 99.8;
/** Means of the same runs may differ by a rounding. */
const ROUNDING = 1e-9;

/** What to mind of what is drawn, by what is known of it; null where it is as good as the plan's, or not known. */
export function drawCaution(kind: LotKind, known: LotKnown, request: PlanRequest): string | null {
  const said = [
    ...(kind === 'oil' ? oilCautions(known, request) : []),
    ...(kind === 'methanol' || kind === 'catalyst' ? purityCautions(kind, known, request) : []),
  ];
  return said.length === 0 ? null : said.join('. ');
}

function purityCautions(
  kind: 'methanol' | 'catalyst',
  { purityPercent }: LotKnown,
  request: PlanRequest,
): string[] {
  const catalyst = kind === 'catalyst';
  const counted = catalyst ? resolvePlanRequest(request).catalyst.purityPercent : PURE_METHANOL_PERCENT;
  if (purityPercent === null || purityPercent >= counted) return [];
  const plan = catalyst ? `with ${counted} %` : 'it as pure';
  return [`This ${kind} is ${purityPercent} % pure, and the plan counts ${plan}: make a plan for it`];
}

function oilCautions({ titration, waterPpm }: LotKnown, request: PlanRequest): string[] {
  const planned = request.oil?.titration ?? null;
  const [has, counted] = [titration, planned].map((one) => (one === null ? 0 : molPerL(one, request)));
  const mostPpm = request.oil?.waterPpm ?? OIL_WATER_PPM;
  return [
    ...(has! > counted! * (1 + ROUNDING)
      ? [
          planned === null
            ? 'This oil was titrated, and the plan counts with oil free of acid: make a plan for it'
            : `This oil takes ${more(has!, counted!)} base at the titration than the plan counts with: make a plan for it`,
        ]
      : []),
    ...(waterPpm !== null && waterPpm > mostPpm
      ? [
          `This oil has ${waterPpm} ppm of water, and the plan is for ${mostPpm} ppm at most: dry it, and test it again`,
        ]
      : []),
  ];
}

/** How much more, in words: of none it is no multiple. */
const more = (has: number, counted: number): string =>
  counted === 0 ? 'more' : `${Number(((100 * has) / counted - 100).toPrecision(2))} % more`;

/** Base that a litre of oil takes, the titrant made of the plan's flakes where it does not say how pure it is. */
function molPerL(titration: Titration, request: PlanRequest): number {
  const { kind } = resolvePlanRequest(request).catalyst;
  const { oil } = resolvePlanRequest({
    oil: { titration },
    catalyst: { ...request.catalyst, kind },
  });
  const { mL, ...made } = oil.titration!;
  return titratedMolPerL({ titrantMl: runsOf(mL).mean, ...made });
}
