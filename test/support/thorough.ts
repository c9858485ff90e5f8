import { SCENARIO_NAMES, SCENARIOS, type ScenarioName } from '../../simulator/scenarios/index.ts';

/**
 * `npm run test:hard` goes through everything; an ordinary run takes a share of what repeats itself, so that it
 * ends within minutes on a small machine.
 */
export const isThorough = process.env.ESTERWATCH_TESTS === 'hard';

/** So many of `all` tries: each in a thorough run, one in `oneIn` in an ordinary one. */
export const share = (all: number, oneIn = 5): number => (isThorough ? all : Math.ceil(all / oneIn));

/** All scenarios in a thorough run; in an ordinary one as few as have every alarm, and one in twelve of the rest. */
export function scenariosToRun(): readonly ScenarioName[] {
  if (isThorough) return SCENARIO_NAMES;
  const met = new Set<string>();
  return SCENARIO_NAMES.filter((name, i) => {
    const fresh = SCENARIOS[name].truth.expects.filter(({ alarm }) => !met.has(alarm));
    for (const { alarm } of fresh) met.add(alarm);
    return fresh.length > 0 || i % 12 === 0;
  });
}
