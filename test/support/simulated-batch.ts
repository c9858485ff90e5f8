import { readingTopic } from '../../shared/wire/topics.ts';
import { dueMs, type RunSettings, run, type StageItem } from '../../simulator/run.ts';
import type { Scenario } from '../../simulator/scenario.ts';
import { truthOf } from '../../simulator/truth.ts';
import type { RunningDaemon } from '../daemon/running-daemon.ts';
import type { ManualClock } from './manual-clock.ts';

/** A reading that a simulated instrument published. */
export interface Published {
  vessel: string;
  channel: string;
  atMs: number;
  value: number;
}

/**
 * Plays a scenario against a daemon, at the pace of its clock: instruments publish at a site, and `act` does what
 * the operator does where a stage begins. Each moment's readings are acknowledged before time goes on.
 * @returns everything that was published, in its order; the scenario may have no network that fails
 */
export async function play(
  { daemon, clock, site }: { daemon: RunningDaemon; clock: ManualClock; site: string },
  scenario: Scenario,
  settings: RunSettings,
  act: (item: StageItem) => Promise<void>,
): Promise<Published[]> {
  const published: Published[] = [];
  let underWay: Promise<void>[] = [];
  const acknowledged = async () => {
    await Promise.all(underWay);
    underWay = [];
  };
  for (const item of run(scenario, settings)) {
    const aheadMs = dueMs(item) - clock.wallMs();
    if (aheadMs > 0) {
      await acknowledged();
      clock.advance(aheadMs);
    }
    if (item.kind === 'reading') {
      const { vessel, channel, atMs, value, seq } = item;
      published.push({ vessel, channel, atMs, value });
      const payload = JSON.stringify({ value, at: atMs, seq });
      underWay.push(daemon.publish(readingTopic(site, vessel, channel), payload));
    } else if (item.kind === 'presence')
      underWay.push(daemon.publish(`esterwatch/v1/presence/${site}/${item.device}`, item.presence));
    else if (item.kind === 'stage') {
      await acknowledged();
      await act(item);
    } else throw new Error('a device that kept readings is not played here');
  }
  await acknowledged();
  return published;
}

/** What was told of a run that its truth does not allow, and what it expects and was not told in its time. */
export function againstTruth(
  alarms: readonly { alarm: string; vessel: string; at: string }[],
  scenario: Scenario,
  settings: RunSettings,
): { uncalledFor: string[]; missed: string[] } {
  const { expects, allows } = truthOf(scenario, settings);
  const fair = new Set<string>([...allows, ...expects.map(({ alarm }) => alarm)]);
  const isInTime = ({ alarm, vessel, from, withinSeconds }: (typeof expects)[number]) =>
    alarms.some((told) => {
      const delayS = (Date.parse(told.at) - settings.startMs) / 1000 - 60 * from;
      return told.alarm === alarm && told.vessel === vessel && delayS >= -1 && delayS <= withinSeconds;
    });
  return {
    uncalledFor: alarms.filter(({ alarm }) => !fair.has(alarm)).map(({ alarm }) => alarm),
    missed: expects.filter((one) => !isInTime(one)).map(({ alarm }) => alarm),
  };
}
