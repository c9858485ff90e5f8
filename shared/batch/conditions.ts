import type { Missing } from '../wire/api.ts';
import type { Batch } from '../wire/batch.ts';
import type { EntryWhat } from '../wire/entries.ts';
import { FUEL_GOES_ON, type Stage } from '../wire/names.ts';
import { type Noted, newestTest } from './standing.ts';

type TestName = Extract<EntryWhat, { kind: 'test' }>['test'];

/**
 * What must be true before a batch goes on to a stage. `counted` by the readings, `tested` by an entry, or to be
 * `seen` by somebody who looks; a test that was made stands for looking.
 */
export interface Condition {
  what: string;
  kind: 'counted' | 'tested' | 'seen';
  /** Null where nobody has looked or tested yet. */
  met: boolean | null;
  has: number;
  needs: number;
}

/** What a batch has come to, as far as a stage's conditions ask for it. */
export interface StageFacts {
  batch: Pick<Batch, 'stages' | 'entries' | 'plan'>;
  /** Of the vessel that is to go on. */
  vesselStage: Stage;
  /** Counted in the present pass, min; null where nothing reacts that has not been settled yet. */
  reactionMinutes: number | null;
  /** Counted since the last disturbance, h; null where the fuel has gone on already. */
  settleHours: number | null;
  /** Mixed time of the methoxide, min; null where no channel showed it. */
  methoxideMinutes: number | null;
  /** How far the vessel's liquid is below boiling, °C; null where nothing shows it. */
  headroomC: number | null;
  methanolPresent: boolean;
  /** The person's limit of soap in washed fuel, ppm. */
  soapLimitPpm: number;
}

/** Before heat. Common practice, no source. */
const BEFORE_HEAT = [
  'drain-valve-shut',
  'level-over-element',
  'vent-open',
  'pump-primed',
  'water-at-hand',
  'extinguisher-at-hand',
  'gear-on',
  'someone-told',
] as const;
const HEATED_STAGES: readonly Stage[] = ['warm', 'dry-oil', 'recover', 'dry-fuel'];
/** Stages that bring methanol to the oil, for which water in it is lost catalyst. */
const WANT_DRY_OIL: readonly Stage[] = ['prewash', 'esterify', 'dose'];
/** Water that oil may hold, ppm: 0.06 % (Ma, Clements & Hanna 1998). */
export const OIL_WATER_PPM = 600;
/** Water that fuel may hold, ppm: EN 14214:2012+A1:2014, 500 mg/kg. */
export const FUEL_WATER_PPM = 500;

/** In the order in which a person goes through them. */
export function conditionsFor(stage: Stage, facts: StageFacts): Condition[] {
  const { batch, reactionMinutes, settleHours } = facts;
  const { plan, stages, entries } = batch;
  const doses = stages.filter((one) => one.stage === 'dose');
  const doseAt = doses.at(-1)?.at ?? '';
  const tests = <Name extends TestName>(test: Name, since = doseAt) =>
    newestTest(entries, test, { since })?.what;
  const conditions: Condition[] = [];
  const seen = (what: string, met: boolean | null = null) => conditions.push(asked('seen', what, met));

  if (HEATED_STAGES.includes(stage) && !HEATED_STAGES.includes(facts.vesselStage))
    for (const what of BEFORE_HEAT) if (what !== 'pump-primed' || plan.lowestPumpFlow !== null) seen(what);
  // What is dried with methanol in it gives off its vapour into the room; leaving a wash or a recovery takes it out.
  const isFreed = facts.vesselStage === 'wash' || facts.vesselStage === 'recover';
  if (stage === 'dry-fuel' && facts.methanolPresent && !isFreed) seen('methanol-off');
  if (stage === 'recover') seen('condenser-running');
  if (stage === 'drain') seen('heat-off');

  if (WANT_DRY_OIL.includes(stage) && doses.length === 0) {
    const water = tests('water', '')?.ppm;
    const dry = water === undefined ? null : water <= OIL_WATER_PPM;
    seen('oil-dewatered', dry ?? (wasSeen(stages, 'oil-dewatered') ? true : null));
    seen('free-water-drained', wasSeen(stages, 'free-water-drained') ? true : null);
  }
  if (stage === 'dose') dosing(facts, conditions);
  if (stage === 'settle' && reactionMinutes !== null) {
    const needs = plan.requiredReactionMinutes;
    const enough = reactionMinutes >= (needs * plan.limits.shortPercent) / 100;
    // A passed 3/27 says more than the clock.
    const met = enough || tests('3/27')?.dropoutMl === 0;
    conditions.push({ what: 'reaction-minutes', kind: 'counted', met, has: reactionMinutes, needs });
  }
  if (FUEL_GOES_ON.includes(stage) && settleHours !== null) {
    const needs = plan.requiredSettleHours;
    const met = settleHours >= needs;
    conditions.push({ what: 'settle-hours', kind: 'counted', met, has: settleHours, needs });
  }
  if (stage === 'wash' && !stages.some((one) => one.stage === 'wash' && one.at >= doseAt))
    conditions.push(asked('tested', 'shake-parts-clean', tests('shake')?.partsClean ?? null));
  if (stage === 'dry-fuel') washed(facts, doseAt, conditions);
  if (stage === 'finished') {
    const dropoutMl = tests('3/27')?.dropoutMl;
    if (doses.length > 0)
      conditions.push(asked('tested', 'conversion', dropoutMl === undefined ? null : dropoutMl === 0));
    const ppm = tests('water')?.ppm;
    conditions.push(
      ppm === undefined
        ? asked('tested', 'fuel-dry', null)
        : { what: 'fuel-dry', kind: 'tested', met: ppm <= FUEL_WATER_PPM, has: ppm, needs: FUEL_WATER_PPM },
    );
  }
  return conditions;
}

/** What is not so, and, of one who says what they have seen, what they have not, or what nobody tested. */
export const missingOf = (conditions: readonly Condition[], seen: readonly string[] | undefined): Missing =>
  conditions
    .filter(({ what, kind, met }) => {
      const isSeen = kind === 'seen' && seen?.includes(what);
      return met === false || (met === null && seen !== undefined && !isSeen);
    })
    .map(({ what, has, needs }) => ({ what, has, needs }));

function dosing({ batch, headroomC, methoxideMinutes }: StageFacts, conditions: Condition[]): void {
  const { plan, stages, entries } = batch;
  const { dosingMarginC, methoxideMinutes: needs } = plan.limits;
  conditions.push(
    headroomC === null
      ? asked('seen', 'below-boiling', null)
      : {
          what: 'below-boiling',
          kind: 'counted',
          met: headroomC >= dosingMarginC,
          has: headroomC,
          needs: dosingMarginC,
        },
  );
  const esterified = stages.findLast(({ stage }) => stage === 'esterify');
  // How much acid is left decides how much lye goes in.
  if (esterified !== undefined && esterified.at > (stages.findLast(isDose)?.at ?? '')) {
    const titrated = newestTest(entries, 'titration', { since: esterified.at }) !== undefined;
    conditions.push(asked('tested', 'titration', titrated));
  }
  if (methoxideMinutes !== null)
    conditions.push({
      what: 'methoxide-minutes',
      kind: 'counted',
      met: methoxideMinutes >= needs,
      has: methoxideMinutes,
      needs,
    });
  conditions.push(asked('seen', 'methoxide-clear', null));
}

/** Washed until the water stays clear, or the soap is below the limit. */
function washed(
  { batch: { stages, entries }, soapLimitPpm }: StageFacts,
  doseAt: string,
  conditions: Condition[],
): void {
  const wash = stages.findLast(({ stage, at }) => stage === 'wash' && at >= doseAt);
  if (wash === undefined) return;
  const soap = newestTest(entries, 'soap', { since: wash.at });
  const ppm = soap?.result?.figure ?? null;
  conditions.push(
    ppm === null
      ? asked('seen', 'wash-clear', null)
      : { what: 'wash-clear', kind: 'tested', met: ppm <= soapLimitPpm, has: ppm, needs: soapLimitPpm },
  );
}

const isDose = ({ stage }: { stage: Stage }): boolean => stage === 'dose';

const asked = (kind: Condition['kind'], what: string, met: boolean | null): Condition => ({
  what,
  kind,
  met,
  has: met === true ? 1 : 0,
  needs: 1,
});

const wasSeen = (stages: Batch['stages'], what: string): boolean =>
  stages.some(({ seen }) => seen.includes(what));

/** What stands of the 3/27 in the present pass: null where none was made. */
export function conversionTestOf({
  stages,
  entries,
}: {
  stages: Batch['stages'];
  entries: readonly Noted[];
}): boolean | null {
  const doseAt = stages.findLast(isDose)?.at ?? '';
  const test = newestTest(entries, '3/27', { since: doseAt });
  return test === undefined ? null : test.what.dropoutMl === 0;
}
