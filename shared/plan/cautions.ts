import { contradictsAltitude, PRESSURE_SPREAD_HPA, standardPressureHPa } from '../chemistry/atmosphere.ts';
import { sameMolesG } from '../chemistry/titration.ts';
import type { Caution, PlanNumbers, Working } from './answer.ts';
import type { CautionCode } from './caution-codes.ts';
import type { ResolvedRequest } from './request.ts';

const PRACTICE = 'common practice, no source';

/** Weighed more, or less, than this share of what is needed. */
const CATALYST_SHARE = { low: 0.8, high: 1.25 } as const;
/**
 * Free catalyst beyond the acid, as pure NaOH in percent of the oil’s mass: 0.3 % did best with tallow
 * (Ma, Clements & Hanna 1998), 1 % is the most that Freedman, Pryde & Mounts 1984 used.
 */
const FREE_CATALYST_PERCENT = { low: 0.25, high: 1 } as const;
/** Molar ratios under and over which a plan is unusual: 3 is used up, 6 is usual. */
const METHANOL_TO_OIL = { low: 4.5, high: 9 } as const;
/** Water in the oil, ppm by mass: 0.06 % (Ma, Clements & Hanna 1998). */
const WATER_PPM = 600;
/** Runs of a titration further apart than this share of their mean, and than so many mL. */
const RUN_SPREAD = { share: 0.1, mL: 0.2 } as const;
/** Expected conversion under which a plan is not worth starting: the standard wants 96.5 % ester. */
const CONVERSION_PERCENT = 90;

type Numbers = Omit<PlanNumbers, 'cautions'>;

/** What a plan gives rise to; the gravest first. */
export function cautionsOf(given: ResolvedRequest, plan: Numbers, workings: readonly Working[]): Caution[] {
  const cautions: Caution[] = [];
  const caution = (code: CautionCode, field: string | null, text: string, source: string): void => {
    cautions.push({ code, text, source, field });
  };
  temperatures(given, plan, caution);
  place(given, plan, caution);
  catalyst(given, plan, caution);
  oil(given, plan, caution);
  methanol(plan, caution);
  outcome(plan, caution);
  extrapolations(workings, caution);
  return cautions;
}

/** One for each quantity that is beyond what a source vouches for, with all that is worked out from it. */
function extrapolations(workings: readonly Working[], say: Say): void {
  const beyond = new Map<string, Working[]>();
  for (const working of workings) {
    for (const { what, value, unit, valid, extrapolated } of Object.values(working.inputs)) {
      if (!extrapolated) continue;
      const text = `${what}: ${amount(value)} ${unit} is beyond the ${valid} that the source vouches for`;
      beyond.set(text, [...(beyond.get(text) ?? []), working]);
    }
  }
  for (const [text, found] of beyond) {
    const gives = found.map((working) => working.gives).join(', ');
    say('outside-validity', null, `${text}. Less sure: ${gives}`, found[0]!.source);
  }
}

type Say = (code: CautionCode, field: string | null, text: string, source: string) => void;

function temperatures({ reaction, methanol: { startC } }: ResolvedRequest, plan: Numbers, say: Say): void {
  const { temperatureC } = reaction;
  const { methanolBoilingC: boiling, nearBoilingC: near, highestDosingC: dosing } = plan;
  const source = workingSource(plan);
  if (temperatureC >= boiling) {
    say(
      'reaction-above-boiling',
      'reaction.temperatureC',
      `${degrees(temperatureC)} is not below methanol's boiling point of ${degrees(boiling)} at ${hPa(plan.pressureHPa)}: it would boil off`,
      source,
    );
  } else if (temperatureC > near) {
    say(
      'reaction-near-boiling',
      'reaction.temperatureC',
      `${degrees(temperatureC)} is ${degrees(boiling - temperatureC)} below methanol's boiling point of ${degrees(boiling)}; keep to ${degrees(near)}`,
      source,
    );
  }
  if (temperatureC > dosing) {
    say(
      'dosing-too-hot',
      'reaction.temperatureC',
      `Let the oil cool to ${degrees(dosing)} before methoxide goes in: hotter oil can make it erupt`,
      PRACTICE,
    );
  }
  if (plan.methoxidePeakC > plan.methoxideAllowedC) {
    const portions =
      plan.methoxidePortions === null
        ? 'No portion keeps the margin: use colder methanol'
        : `${startC > plan.methoxideNextBelowC ? `Let the methanol cool under ${degrees(plan.methoxideNextBelowC)} first. ` : ''}Put the catalyst in ${plan.methoxidePortions} portions or more, none over ${grams(plan.methoxidePortionG)}, the next when it is back under ${degrees(plan.methoxideNextBelowC)}`;
    say(
      'methoxide-near-boiling',
      startC > plan.methoxideNextBelowC ? 'methanol.startC' : 'catalyst',
      `All at once the methoxide can heat itself from ${degrees(startC)} to ${degrees(plan.methoxidePeakC)}, and methanol boils at ${degrees(boiling)}. ${portions}. Lye into methanol, never methanol onto lye`,
      'heat of solution in water (CRC Handbook), an upper bound; portions: common practice, no source',
    );
  }
}

function catalyst({ catalyst: { kind, grams: given } }: ResolvedRequest, plan: Numbers, say: Say): void {
  const { catalystG, catalystNeededG: needed } = plan;
  const field = given === null ? 'catalyst.baseGPerL' : 'catalyst.grams';
  const neutralised = plan.acidNumberMgKOHPerG / 10;
  const free =
    sameMolesG({ grams: plan.catalystPercentOfOilMass, from: kind, to: 'NaOH' }) -
    sameMolesG({ grams: neutralised, from: 'KOH', to: 'NaOH' });
  const source =
    'Ma, Clements & Hanna 1998 (Trans. ASAE 41:1261), Freedman, Pryde & Mounts 1984 (JAOCS 61:1638); limits chosen from them';
  const weighed = `${grams(catalystG)} of ${kind}`;
  const beside = given === null ? '' : `; ${grams(needed)} are worked out`;
  if (free > FREE_CATALYST_PERCENT.high || catalystG > needed * CATALYST_SHARE.high) {
    say(
      'catalyst-high',
      field,
      `${weighed} is too much${beside}. It makes soap of the oil, and the methoxide hot`,
      source,
    );
  } else if (free < FREE_CATALYST_PERCENT.low || catalystG < needed * CATALYST_SHARE.low) {
    say(
      'catalyst-low',
      field,
      `${weighed} is too little${beside}. The reaction may stop short or not start`,
      source,
    );
  }
}

function oil({ oil: { kind, titration, waterPpm } }: ResolvedRequest, plan: Numbers, say: Say): void {
  const ffa = plan.freeFattyAcidPercent;
  if (titration === null && kind === 'used') {
    say(
      'not-titrated',
      'oil.titration',
      'Used oil was not titrated, and is taken to be free of acid: titrate it, or the catalyst is guesswork',
      PRACTICE,
    );
  }
  if (plan.titration !== null) {
    const { spreadMl, meanMl } = plan.titration;
    if (spreadMl > RUN_SPREAD.mL && spreadMl > meanMl * RUN_SPREAD.share) {
      say(
        'titration-spread',
        'oil.titration.mL',
        `The runs of the titration lie ${spreadMl.toFixed(1)} mL apart: titrate again`,
        PRACTICE,
      );
    }
  }
  if (plan.oilVerdict === 'too-acid') {
    say(
      'free-fatty-acid-high',
      'oil.titration',
      `${ffa.toFixed(1)} % of free fatty acid is too much for base alone: blend it with better oil, wash it with old glycerol, or esterify it first`,
      'Kombe et al. 2013 (Adv. Chem. Eng. Sci. 3(4)): under 3 %',
    );
  } else if (plan.oilVerdict === 'more-soap') {
    say(
      'free-fatty-acid',
      'oil.titration',
      `${ffa.toFixed(1)} % of free fatty acid makes ${grams(plan.soapG)} of soap: more to wash out, and less fuel`,
      PRACTICE,
    );
  }
  if (waterPpm !== null && waterPpm > WATER_PPM) {
    say(
      'water-high',
      'oil.waterPpm',
      `${waterPpm} ppm of water in the oil makes soap and stops the reaction short: dry it to ${WATER_PPM} ppm`,
      'Ma, Clements & Hanna 1998 (Trans. ASAE 41:1261): 0.06 %',
    );
  }
}

function methanol({ methanolToOilMolar: ratio }: Numbers, say: Say): void {
  const field = 'methanol.percentOfOilVolume';
  const source = `6:1 with 93 to 98 % ester: Freedman, Pryde & Mounts 1984 (JAOCS 61:1638); the limits are ${PRACTICE}`;
  const is = `${ratio.toFixed(1)} mol of methanol for each of oil`;
  if (ratio < METHANOL_TO_OIL.low) {
    say(
      'methanol-low',
      field,
      `${is}: 3 are used up, and under ${METHANOL_TO_OIL.low} much stays unreacted`,
      source,
    );
  } else if (ratio > METHANOL_TO_OIL.high) {
    say(
      'methanol-high',
      field,
      `${is}: over ${METHANOL_TO_OIL.high} little is gained, glycerol parts badly and more is left to recover`,
      source,
    );
  }
}

function outcome(plan: Numbers, say: Say): void {
  const expected = plan.expectedConversionPercent;
  if (expected < CONVERSION_PERCENT) {
    say(
      'reaction-incomplete',
      null,
      `About ${expected.toFixed(0)} % (${plan.expectedConversionPercentLow.toFixed(0)} to ${plan.expectedConversionPercentHigh.toFixed(0)} %) is expected to have reacted by then`,
      'the estimate of the conversion; the limit is chosen',
    );
  }
}

function place({ site }: ResolvedRequest, plan: Numbers, say: Say): void {
  if (plan.pressureAssumed) {
    say(
      'altitude-not-set',
      'site',
      `Altitude not set: ${degrees(plan.methanolBoilingC)} is the boiling point at sea level. It falls by about 3 °C for each 1,000 m`,
      'U.S. Standard Atmosphere 1976, Ambrose & Sprake 1970',
    );
  }
  if (
    site.pressureHPa !== null &&
    site.altitudeM !== null &&
    contradictsAltitude(site.pressureHPa, site.altitudeM)
  ) {
    const standard = standardPressureHPa({ altitudeM: site.altitudeM });
    say(
      'pressure-not-station',
      'site.pressureHPa',
      `${hPa(site.pressureHPa)} cannot be the pressure at ${site.altitudeM} m, where ${hPa(standard)} ± ${PRESSURE_SPREAD_HPA} is usual: ${
        site.pressureHPa > standard
          ? 'it may be reduced to sea level, as weather reports give it'
          : 'one of the two is mistaken, or it is that of a vacuum'
      }. The lower pressure counts`,
      'U.S. Standard Atmosphere 1976; the weather’s spread is common practice, no source',
    );
  }
}

const workingSource = ({ pressureAssumed }: Numbers): string =>
  `Ambrose & Sprake 1970 (J. Chem. Thermodyn. 2:631)${pressureAssumed ? ', at sea level' : ''}`;

const degrees = (c: number): string => `${c.toFixed(1)} °C`;
const hPa = (pressure: number): string => `${pressure.toFixed(0)} hPa`;

/** As it can be weighed: to 0.1 g in a jar, to 1 g in a drum. */
const grams = (g: number): string => `${g < 100 ? g.toFixed(1) : g.toFixed(0)} g`;

const amount = (value: number | string | number[]): string =>
  [value]
    .flat()
    .map((one) => (typeof one === 'number' ? String(Number(one.toPrecision(3))) : one))
    .join(', ');
