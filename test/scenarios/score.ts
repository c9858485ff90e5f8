import { Replay } from '../../shared/engine/replay.ts';
import { PRIORITIES, type Priority } from '../../shared/wire/names.ts';
import { recordedRun } from '../../simulator/recording.ts';
import { type ScenarioName, variant } from '../../simulator/scenarios/index.ts';
import { truthOf } from '../../simulator/truth.ts';

/** What the rules said, as a recorded run's lines have it. */
interface Told {
  at: string;
  vessel: string;
  alarm: string;
  priority: Priority;
  because: string;
}

export interface Score {
  hits: {
    alarm: string;
    /** From the moment that the hazard began, s; negative: before it. */
    delayS: number;
    withinS: number;
  }[];
  misses: { alarm: string; vessel: string; withinS: number; seen: string }[];
  falseAlarms: { alarm: string; vessel: string; minutes: number; because: string }[];
}

const START_MS = Date.UTC(2026, 2, 2, 8);
/** A reading's own time is whole milliseconds, and a hazard begins between two readings. */
const BEFORE_MS = 1000;

/** One run of a scenario through the rules, against what somebody who saw everything would say. */
export function scoreOf(name: ScenarioName, seed: number): Score {
  const scenario = variant(name, seed);
  const settings = { seed, startMs: START_MS };
  const truth = truthOf(scenario, settings);
  const raised = raisedBy(recordedRun(scenario, settings));
  const score: Score = { hits: [], misses: [], falseAlarms: [] };
  for (const { alarm, vessel, from, withinSeconds, atLeast = 'low' } of truth.expects) {
    const fromMs = START_MS + from * 60_000;
    const delays = raised
      .filter((told) => told.alarm === alarm && told.vessel === vessel)
      .filter((told) => PRIORITIES.indexOf(told.priority) >= PRIORITIES.indexOf(atLeast))
      .map((told) => Date.parse(told.at) - fromMs);
    // What has to be said before a hazard may come as early as it likes.
    const least = withinSeconds < 0 ? Number.NEGATIVE_INFINITY : -BEFORE_MS;
    const delayMs = delays.find((ms) => ms >= least && ms <= withinSeconds * 1000);
    if (delayMs !== undefined) score.hits.push({ alarm, delayS: delayMs / 1000, withinS: withinSeconds });
    else {
      const seen = delays.map((ms) => `${(ms / 1000).toFixed(0)} s`).join(', ') || 'never';
      score.misses.push({ alarm, vessel, withinS: withinSeconds, seen });
    }
  }
  const fair = new Set<string>([...truth.allows, ...truth.expects.map(({ alarm }) => alarm)]);
  for (const { at, alarm, vessel, because } of raised) {
    if (fair.has(alarm)) continue;
    score.falseAlarms.push({ alarm, vessel, minutes: (Date.parse(at) - START_MS) / 60_000, because });
  }
  return score;
}

/** Every alarm that the rules raise over the lines of a recorded run. */
export function raisedBy(lines: Iterable<string>): Told[] {
  const replay = new Replay();
  const raised: Told[] = [];
  const keep = (said: readonly object[]) => {
    for (const one of said as ({ type: string; event?: string } & Told)[]) {
      if (one.type === 'refused') throw new Error(`a recorded run has a line that is refused`);
      if (one.type === 'alarm' && one.event === 'raised') raised.push(one);
    }
  };
  for (const line of lines) keep(replay.push(line));
  keep(replay.end());
  return raised;
}
