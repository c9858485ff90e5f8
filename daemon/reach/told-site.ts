import { isTold } from '../../shared/engine/told.ts';
import { isRestingCool } from '../../shared/rules/resting.ts';
import type { Alarm, Vessel } from '../../shared/wire/api.ts';
import type { SiteWatch } from '../watch/site-watch.ts';
import type { DutyAlarm, Sight } from './duty.ts';
import type { Ledger } from './ledger.ts';

/** A site of which people are told: watched here, or forwarded. */
export interface ToldSite {
  site: string;
  /** In whose chain it stands what was told. */
  chain: string;
  ledger: Ledger;
  /** Nothing can be done to it here, so no message has a link to answer by. */
  isForwarded: boolean;
  vesselNames(): string[];
  vessel(name: string, nowMs: number): Vessel | undefined;
  alarmsOf(vessel: string, nowMs: number): readonly Alarm[];
  duty(nowMs: number): Pick<Sight, 'alarms' | 'settling' | 'alone'>;
}

export function watchedSite(watched: SiteWatch): ToldSite {
  const { site, ledger } = watched;
  return {
    site,
    chain: site,
    ledger,
    isForwarded: false,
    vesselNames: () => Object.keys(watched.state.vessels),
    vessel: (name, nowMs) => watched.vessel(name, nowMs),
    alarmsOf: (name, nowMs) => watched.vessel(name, nowMs)?.alarms ?? [],
    duty: () => {
      const vessels = Object.values(watched.state.vessels);
      return {
        alarms: vessels.flatMap((vessel) => {
          const resting = isRestingCool(vessel);
          return Object.entries(vessel.alarms).map(
            ([alarm, { number, priority, atMs, late, explainedBy, shelved, acknowledged }]): DutyAlarm => ({
              vessel: vessel.name,
              number,
              alarm,
              priority,
              atMs,
              told: isTold({ explainedBy, shelved, late, standing: true }),
              acknowledged: acknowledged !== null,
              resting,
            }),
          );
        }),
        settling: vessels
          .filter((vessel) => vessel.stage === 'settle' && isRestingCool(vessel))
          .map(({ name }) => name),
        alone: ledger.alone(),
      };
    },
  };
}
