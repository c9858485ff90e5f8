import { contradictsAltitude, PRESSURE_SPREAD_HPA, standardPressureHPa } from '../chemistry/atmosphere.ts';
import type { OilKind } from '../chemistry/oil-kinds.ts';
import { sameMolesG } from '../chemistry/titration.ts';
import { LIMIT_DEFAULTS, LIMIT_NAMES, type LimitName } from '../rules/limits.ts';
import {
  formatTemperature,
  formatTemperatureDifference,
  type TemperatureUnit,
} from '../units/temperature.ts';
import type { Caution, PlanNumbers, Working } from './answer.ts';
import type { CautionCode } from './caution-codes.ts';
import type { ResolvedRequest } from './resolve.ts';

const PRACTICE = 'common practice, no source';

/** Weighed more, or less, than this share of what is needed. */
const CATALYST_SHARE = { low: 0.8, high: 1.25 } as const;
/**
 * Free catalyst beyond the acid, as pure NaOH in percent of the oil’s mass: 0.3 % did best with tallow
 * (Ma, Clements & Hanna 1998), 1 % is the most that Freedman, Pryde & Mounts 1984 used, with refined oil.
 */
const FREE_CATALYST_PERCENT = { low: 0.25, high: 0.7 } as const;
/** Molar ratios under and over which a plan is unusual: 3 is used up, 6 is usual. */
const METHANOL_TO_OIL = { low: 4.5, high: 9 } as const;
/** Water in the oil, ppm by mass: 0.06 % (Ma, Clements & Hanna 1998). */
export const WATER_PPM = 600;
/** Runs of a titration further apart than this share of their mean, and than so many mL. */
export const RUN_SPREAD = { share: 0.1, mL: 0.2 } as const;
/** Flake of less is not sold, %. Common practice, no source. */
const LEAST_PURITY_PERCENT = 80;
/** Pressures, hPa, that a weather report gives for sea level; and under which only a vacuum lies. */
const AT_SEA_LEVEL_HPA = { least: 980, most: 1050 } as const;
const VACUUM_UNDER_HPA = 450;
/** Fats are set under about this, °C. From memory. */
const SETS_UNDER_C: Partial<Record<OilKind, number>> = { coconut: 25, palm: 35, lard: 40, tallow: 45 };
/** Kinds that hold unknown acid unless somebody titrates them. */
const TITRATE: readonly OilKind[] = ['used', 'tallow', 'lard'];
/** The other limits are looser the higher they are. */
const LOOSER_WHEN_LOWER: ReadonlySet<LimitName> = new Set([
  'reachedMarginC',
  'nearMarginC',
  'dosingMarginC',
  'methoxideMarginC',
  'methoxideAheadMarginC',
  'methoxideDoseMarginC',
  'restartMarginC',
  'aheadMinutes',
  'shortPercent',
]);
/** Expected conversion under which a plan is not worth starting: the standard wants 96.5 % ester. */
const CONVERSION_PERCENT = 90;

type Numbers = Omit<PlanNumbers, 'cautions'>;

/** What a plan gives rise to; the gravest first. */
export function cautionsOf(
  given: ResolvedRequest,
  plan: Numbers,
  workings: readonly Working[],
  unit: TemperatureUnit,
): Caution[] {
  const words: Degrees = {
    degrees: (c) => formatTemperature(c, unit),
    apart: (c) => formatTemperatureDifference(c, unit),
  };
  const cautions: Caution[] = [];
  const caution = (code: CautionCode, field: string | null, text: string, source: string): void => {
    cautions.push({ code, text, source, field });
  };
  temperatures(given, plan, caution, words);
  const dose = doseOf(given, plan);
  if (dose === 'high') catalystHigh(given, plan, caution);
  methoxide(given, plan, dose === 'high', caution, words);
  place(given, plan, caution, words);
  limits(plan, caution);
  if (dose === 'low') catalystLow(given, plan, caution);
  purity(given, caution);
  oil(given, plan, caution, words);
  methanol(given, plan, caution);
  outcome(plan, caution, words);
  extrapolations(workings, caution);
  return cautions;
}

/** One for each quantity that is beyond what a source vouches for, with all that is worked out from it. */
function extrapolations(workings: readonly Working[], say: Say): void {
  const beyond = new Map<string, Working[]>();
  for (const working of workings) {
    for (const { what, value, unit, valid, extrapolated } of Object.values(working.inputs)) {
      if (!extrapolated) continue;
      const text = `${what}: ${amount(value, valid)} ${unit} is beyond the ${valid} that the source vouches for`;
      beyond.set(text, [...(beyond.get(text) ?? []), working]);
    }
  }
  for (const [text, found] of beyond) {
    const gives = found.map((working) => working.gives).join(', ');
    say('outside-validity', null, `${text}. Less sure: ${gives}`, found[0]!.source);
  }
}

type Say = (code: CautionCode, field: string | null, text: string, source: string) => void;

/** Temperatures, and differences of them, in the reader's unit. */
interface Degrees {
  readonly degrees: (c: number) => string;
  readonly apart: (c: number) => string;
}

function temperatures(
  { reaction }: ResolvedRequest,
  plan: Numbers,
  say: Say,
  { degrees, apart }: Degrees,
): void {
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
      `${degrees(temperatureC)} is ${apart(boiling - temperatureC)} below methanol's boiling point of ${degrees(boiling)}; keep to ${degrees(near)}`,
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
}

function methoxide(
  { methanol: { startC } }: ResolvedRequest,
  plan: Numbers,
  isTooMuch: boolean,
  say: Say,
  { degrees }: Degrees,
): void {
  const { methoxidePeakC: peak, methoxideAllowedC: allowed, methoxideNextBelowC: next } = plan;
  if (peak <= allowed) return;
  const text = [
    startC >= allowed
      ? `The methanol is at ${degrees(startC)} to begin with, and boils at ${degrees(plan.methanolBoilingC)}.`
      : `All at once the methoxide can heat itself from ${degrees(startC)} to ${degrees(peak)}, and methanol boils at ${degrees(plan.methanolBoilingC)}.`,
    ...(startC > next ? [`Let the methanol cool under ${degrees(next)} first.`] : []),
    ...(isTooMuch
      ? []
      : plan.methoxidePortions === null
        ? ['No portion keeps the margin: use colder methanol.']
        : [
            `Stir the catalyst in slowly, in ${plan.methoxidePortions} portions or more, none over ${grams(plan.methoxidePortionG)}, the next when it is back under ${degrees(next)}.`,
          ]),
    'Lye into methanol, never methanol onto lye; vent open, never shaken in a closed jar',
  ];
  say(
    'methoxide-near-boiling',
    startC > next ? 'methanol.startC' : 'catalyst',
    text.join(' '),
    'heat of solution in water (CRC Handbook), an upper bound; portions: common practice, no source',
  );
}

/** Whether the catalyst is far from what is needed: by what is worked out, and by what is free of acid. */
function doseOf({ catalyst: { kind } }: ResolvedRequest, plan: Numbers): 'high' | 'low' | 'usual' {
  const { catalystG, catalystNeededG: needed } = plan;
  const free =
    sameMolesG({ grams: plan.catalystPercentOfOilMass, from: kind, to: 'NaOH' }) -
    sameMolesG({ grams: plan.acidNumberMgKOHPerG / 10, from: 'KOH', to: 'NaOH' });
  if (free > FREE_CATALYST_PERCENT.high || catalystG > needed * CATALYST_SHARE.high) return 'high';
  return free < FREE_CATALYST_PERCENT.low || catalystG < needed * CATALYST_SHARE.low ? 'low' : 'usual';
}

const DOSE_SOURCE =
  'Ma, Clements & Hanna 1998 (Trans. ASAE 41:1261), Freedman, Pryde & Mounts 1984 (JAOCS 61:1638); limits chosen from them';

function doseText(
  { catalyst: { kind, grams: given } }: ResolvedRequest,
  plan: Numbers,
): [field: string, text: string] {
  const weighed = `${grams(plan.catalystG)} of ${kind}`;
  return given === null
    ? ['catalyst.baseGPerL', weighed]
    : ['catalyst.grams', `${weighed}, where ${grams(plan.catalystNeededG)} are worked out,`];
}

function catalystHigh(given: ResolvedRequest, plan: Numbers, say: Say): void {
  const [field, what] = doseText(given, plan);
  const text = `${what} is too much: do not add it. It makes soap of the oil and the methoxide hot. Of the estimates only the bounds take that soap in`;
  say('catalyst-high', field, text, DOSE_SOURCE);
}

function catalystLow(given: ResolvedRequest, plan: Numbers, say: Say): void {
  const [field, what] = doseText(given, plan);
  say('catalyst-low', field, `${what} is too little: the reaction may stop short or not start`, DOSE_SOURCE);
}

function purity({ catalyst, oil: { titration } }: ResolvedRequest, say: Say): void {
  const found = [
    ['catalyst', 'catalyst.purityPercent', catalyst.purityPercent],
    ...(titration === null
      ? []
      : [['titrant', 'oil.titration.purityPercent', titration.purityPercent] as const]),
  ] as const;
  for (const [what, field, percent] of found) {
    if (percent >= LEAST_PURITY_PERCENT) continue;
    say(
      'purity-low',
      field,
      `A purity of ${percent} % is unusual for a ${what}: flake is sold at 85 to 99 %. Look at the label before you weigh so much`,
      PRACTICE,
    );
  }
}

/** Limits that a person made looser than usual: what they stand for is warned of later, or not at all. */
function limits({ watch }: Numbers, say: Say): void {
  const loosened = LIMIT_NAMES.filter((name) => {
    const usual = name === 'methoxideMinutes' ? Number.NaN : LIMIT_DEFAULTS[name];
    return LOOSER_WHEN_LOWER.has(name) ? watch.limits[name] < usual : watch.limits[name] > usual;
  });
  if (loosened.length === 0) return;
  const list = loosened.map((name) => `${name} ${watch.limits[name]} (usual ${LIMIT_DEFAULTS[name]})`);
  say(
    'limits-loosened',
    'watch.limits',
    `Warnings come later than usual, or not at all: ${list.join(', ')}`,
    PRACTICE,
  );
}

function oil(
  { oil: { kind, volumeAtC, titration, waterPpm } }: ResolvedRequest,
  plan: Numbers,
  say: Say,
  { degrees }: Degrees,
): void {
  const ffa = plan.freeFattyAcidPercent;
  if (titration === null && TITRATE.includes(kind)) {
    say(
      'not-titrated',
      'oil.titration',
      `${kind === 'used' ? 'Used oil' : 'Rendered fat'} was not titrated, and is taken to be free of acid: titrate it, or the catalyst is guesswork`,
      PRACTICE,
    );
  }
  if (titration !== null && plan.titration !== null) {
    const { spreadMl, meanMl } = plan.titration;
    if (titration.blankMl > meanMl) {
      say(
        'titration-blank',
        'oil.titration.blankMl',
        `The blank took ${titration.blankMl} mL and the oil ${meanMl.toFixed(1)} mL: are the two mixed up? The oil counts as free of acid`,
        PRACTICE,
      );
    }
    if (spreadMl > RUN_SPREAD.mL + 1e-9 && spreadMl > meanMl * RUN_SPREAD.share) {
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
      `${ffa.toFixed(1)} % of free fatty acid is too much for base alone: blend it with better oil, wash it with old glycerol, or esterify it first (acid slowly into the stirred liquid, never the reverse). The estimates hold for oil fit for base alone`,
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
  const setsUnderC = SETS_UNDER_C[kind];
  if (setsUnderC !== undefined && volumeAtC < setsUnderC) {
    say(
      'fat-set',
      'oil.volumeAtC',
      `At ${degrees(volumeAtC)} ${kind} is set or setting: litres and mass are those of a liquid. Measure it melted, over ${degrees(setsUnderC)}, and say at which temperature`,
      'from memory',
    );
  }
  if (waterPpm !== null && waterPpm > WATER_PPM) {
    say(
      'water-high',
      'oil.waterPpm',
      `${waterPpm} ppm of water in the oil makes soap and stops the reaction short: dry it to ${WATER_PPM} ppm. The estimates do not see it`,
      'Ma, Clements & Hanna 1998 (Trans. ASAE 41:1261): 0.06 %',
    );
  }
}

function methanol(
  { methanol: { purityPercent }, oil: { waterPpm } }: ResolvedRequest,
  { methanolToOilMolar: ratio, methanolKg, oilKg }: Numbers,
  say: Say,
): void {
  const brought = (methanolKg * (1 - purityPercent / 100) * 1e6) / oilKg;
  const known = waterPpm ?? 0;
  if (known <= WATER_PPM && known + brought > WATER_PPM) {
    say(
      'water-high',
      'methanol.purityPercent',
      `Methanol of ${purityPercent} % brings ${brought.toFixed(0)} ppm of water into the oil${known > 0 ? `, which has ${known} ppm itself` : ''}: over ${WATER_PPM} ppm makes soap and stops the reaction short. The estimates do not see it`,
      'Ma, Clements & Hanna 1998 (Trans. ASAE 41:1261): 0.06 %, of the oil; that it holds for what methanol brings is taken for granted',
    );
  }
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

function outcome(plan: Numbers, say: Say, { degrees }: Degrees): void {
  const { expectedConversionPercent: expected, watch } = plan;
  if (watch.requiredReactionMinutes < plan.reactionMinutes) {
    say(
      'time-short',
      'watch.requiredReactionMinutes',
      `${watch.requiredReactionMinutes} min are asked of the reaction, and ${plan.reactionMinutes.toFixed(0)} are estimated`,
      'the estimate of the reaction time',
    );
  }
  if (watch.requiredSettleHours < plan.settleHours) {
    say(
      'time-short',
      'watch.requiredSettleHours',
      `${watch.requiredSettleHours} h are asked of the settling, and ${plan.settleHours.toFixed(1)} are estimated`,
      'the estimate of the settling time',
    );
  }
  if (expected < CONVERSION_PERCENT) {
    say(
      'reaction-incomplete',
      null,
      `About ${expected.toFixed(0)} % (${plan.expectedConversionPercentLow.toFixed(0)} to ${plan.expectedConversionPercentHigh.toFixed(0)} %) is expected to have reacted by then`,
      'the estimate of the conversion; the limit is chosen',
    );
  }
  if (plan.glycerolSetsBelowC !== null) {
    say(
      'glycerol-sets',
      'catalyst.kind',
      `Glycerol of ${plan.catalyst} sets under about ${degrees(plan.glycerolSetsBelowC)}: drain it before it is that cold`,
      PRACTICE,
    );
  }
}

function place({ site }: ResolvedRequest, plan: Numbers, say: Say, { degrees, apart }: Degrees): void {
  if (plan.pressureAssumed) {
    say(
      'altitude-not-set',
      'site',
      `Altitude not set: ${degrees(plan.methanolBoilingC)} is the boiling point at sea level. It falls by about ${apart(3)} for each 1,000 m`,
      'U.S. Standard Atmosphere 1976, Ambrose & Sprake 1970',
    );
  }
  const { pressureHPa: read, altitudeM } = site;
  if (read === null) return;
  if (altitudeM === null) {
    if (read < VACUUM_UNDER_HPA) {
      const text = `${hPa(read)} is that of a vacuum: it has to hold as long as there is methanol in the liquid, or it boils at another temperature`;
      say('pressure-unchecked', 'site.pressureHPa', text, PRACTICE);
    } else if (read >= AT_SEA_LEVEL_HPA.least && read <= AT_SEA_LEVEL_HPA.most) {
      const text = `${hPa(read)} may be a weather report’s, reduced to sea level: state the altitude as well, and it is checked. 100 hPa too much make methanol boil almost ${apart(3)} too late`;
      say('pressure-unchecked', 'site.pressureHPa', text, PRACTICE);
    }
    return;
  }
  const standard = standardPressureHPa({ altitudeM });
  if (Math.abs(read - standard) <= PRESSURE_SPREAD_HPA) return;
  const what =
    read > standard
      ? 'it may be reduced to sea level, as weather reports give it'
      : 'one of the two is mistaken, or it is that of a vacuum';
  const counts = contradictsAltitude(read, altitudeM) ? '. The lower pressure counts' : '';
  say(
    'pressure-not-station',
    'site.pressureHPa',
    `${hPa(read)} is unusual at ${altitudeM} m, where ${hPa(standard)} ± ${PRESSURE_SPREAD_HPA} is the pressure: ${what}${counts}`,
    'U.S. Standard Atmosphere 1976; the weather’s spread is common practice, no source',
  );
}

const workingSource = ({ pressureAssumed }: Numbers): string =>
  `Ambrose & Sprake 1970 (J. Chem. Thermodyn. 2:631)${pressureAssumed ? ', at sea level' : ''}`;

const hPa = (pressure: number): string => `${pressure.toFixed(0)} hPa`;

/** As it can be weighed: to 0.01 g in a jar, to 1 g in a drum. */
function grams(g: number): string {
  const digits = g < 10 ? 2 : g < 100 ? 1 : 0;
  return `${g.toLocaleString('en', { minimumFractionDigits: digits, maximumFractionDigits: digits })} g`;
}

/** To three digits, or more where it would read as the limit that it is beyond: 1.0013 is beyond 1, and 1 is not. */
const amount = (value: number | string | number[], valid: string): string =>
  [value]
    .flat()
    .map((one) => {
      if (typeof one !== 'number') return one;
      const short = String(Number(one.toPrecision(3)));
      return valid.split(' ').includes(short) ? String(Number(one.toPrecision(5))) : short;
    })
    .join(', ');
