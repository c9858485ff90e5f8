import type { PlanNumbers } from '../plan/answer.ts';
import type { Amount, BALANCED, Balance } from '../wire/balance.ts';
import { amountsOf, isWet, type Noted, was } from './amounts.ts';
import { ratio, standing, sum } from './standing.ts';

type Missing = Balance['missing'];

const TO_BE_NOTED: Record<(typeof BALANCED)[number], string> = {
  oil: 'how much oil went in',
  methanol: 'how much methanol went in',
  catalyst: 'how much lye went in',
  'sulphuric-acid': 'how much sulphuric acid went in',
  'water-in': 'how much water it was washed with',
  fuel: 'how much fuel came out',
  glycerol: 'how much glycerol came off: its kg, where there is no plan to tell its density',
  'water-out': 'how much wash water came off',
  'methanol-recovered': 'how much methanol was recovered',
};

/** What is called otherwise where people read it. */
const WORDS: Partial<Record<string, string>> = { catalyst: 'lye', 'sulphuric-acid': 'sulphuric acid' };

/**
 * What went into a batch and what came out, kg. Bookkeeping by what stands in its entries, draws and moves; where
 * nobody noted what went in, as planned. Null where something is missing, which is named; test samples are not counted.
 */
export function balanceOf(batch: Noted): Balance {
  const amounts = amountsOf(batch);
  const { oil, methanol, catalyst, sulphuricAcid, water } = amounts.in;
  const named: Record<(typeof BALANCED)[number], Amount> = {
    oil,
    methanol,
    catalyst,
    'sulphuric-acid': sulphuricAcid,
    'water-in': water,
    fuel: amounts.out.fuel,
    glycerol: amounts.out.glycerol,
    'water-out': amounts.out.water,
    'methanol-recovered': amounts.out.methanolRecovered,
  };
  const missing: Missing = (Object.keys(named) as (typeof BALANCED)[number][])
    .filter((what) => named[what].kg === null)
    .map((what) => ({ what, says: TO_BE_NOTED[what] }));
  const inKg = total(amounts.in);
  const outKg = total(amounts.out);
  const unaccountedKg = inKg === null || outKg === null ? null : toMilligram(inKg - outKg);
  return {
    ...amounts,
    inKg,
    outKg,
    unaccountedKg,
    unaccountedPercent: ratio(unaccountedKg && 100 * unaccountedKg, inKg),
    missing,
    notes: notesOf(batch, named),
    methanol: methanolOf(batch.computed, amounts),
  };
}

function total(amounts: Readonly<Record<string, Amount>>): number | null {
  const kgs = Object.values(amounts).map(({ kg }) => kg);
  return kgs.every((kg) => kg !== null) ? toMilligram(sum(kgs)) : null;
}

/** Sums of decimal fractions are not exact in binary ones: without this, what adds up would not. */
const toMilligram = (kg: number): number => Math.round(kg * 1e6) / 1e6 + 0;

/** Of the methanol that reacts the plan has an estimate: by as much as there was oil, and no more than went in. */
function methanolOf(
  plan: PlanNumbers | null,
  { in: { oil, methanol }, out }: Pick<Balance, 'in' | 'out'>,
): Balance['methanol'] {
  const recoveredKg = out.methanolRecovered.kg;
  const reacted = (leftKg: number | undefined): number | null =>
    plan === null || leftKg === undefined || oil.kg === null || methanol.kg === null
      ? null
      : Math.min(methanol.kg, ((plan.methanolKg - leftKg) * oil.kg) / plan.oilKg);
  const reactedKg = reacted(plan?.methanolLeftKg);
  return {
    inKg: methanol.kg,
    reactedKg,
    reactedKgLow: reacted(plan?.methanolLeftKgHigh),
    reactedKgHigh: reacted(plan?.methanolLeftKgLow),
    recoveredKg,
    notRecoveredKg:
      methanol.kg === null || reactedKg === null || recoveredKg === null
        ? null
        : toMilligram(methanol.kg - reactedKg - recoveredKg),
  };
}

function notesOf(batch: Noted, named: Readonly<Record<string, Amount>>): string[] {
  const { entries, stages } = batch;
  const notes = Object.entries(named)
    .filter(([, { from }]) => from === 'planned')
    .map(([what]) => `${WORDS[what] ?? what}: nobody noted it, taken as planned`);
  const doses = stages.filter(({ stage }) => stage === 'dose').length;
  for (const what of ['methanol', 'catalyst'] as const) {
    const times = standing(entries, 'weighing').filter((entry) => entry.what.what === what).length;
    if (times > 0 && times < doses)
      notes.push(`${WORDS[what] ?? what}: weighed ${times}×, and dosed ${doses}×`);
  }
  if (named['methanol-recovered']!.from === 'measured') {
    notes.push('methanol-recovered: counted as pure; water in it makes it heavier');
  }
  if (was(batch, 'dry-oil') && named['water-out']!.from === 'none') {
    notes.push('water-out: what the oil lost as it was dried is in what does not add up');
  }
  if (standing(entries, 'wash').some((entry) => !isWet(entry))) {
    notes.push('what a dry bed takes up is in what does not add up');
  }
  return notes;
}
