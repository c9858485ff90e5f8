import type { StageFacts } from '../../shared/batch/conditions.ts';
import { creditedMs, passReactionTime } from '../../shared/engine/reaction-time.ts';
import { settlingMs } from '../../shared/engine/settling-time.ts';
import { chargeMixedMs } from '../../shared/rules/methoxide-short.ts';
import type { Batch } from '../../shared/wire/batch.ts';
import type { SiteWatch } from './site-watch.ts';

/** What a batch has come to at a time, in one of its vessels or one that is about to join. */
export function stageFacts(
  site: SiteWatch,
  batch: Batch,
  name: string,
  { atMs, arrivedMs }: { atMs: number; arrivedMs: number },
): StageFacts {
  const { state } = site;
  const known = state.batches[batch.id];
  const vessel = state.vessels[name]!;
  // What is done with its glycerol asks for no credit.
  const counts = known !== undefined && !batch.glycerolIn.includes(name);
  const mixedMs = vessel.batch === batch.id ? chargeMixedMs({ site: state, vessel }) : null;
  return {
    batch,
    reactionMinutes:
      counts && known.pass.reacting ? creditedMs(passReactionTime(state, known.pass, atMs)) / 60_000 : null,
    settleHours: counts && !known.settling.goneOn ? settlingMs(known.settling, atMs) / 3_600_000 : null,
    methoxideMinutes: mixedMs === null ? null : mixedMs / 60_000,
    vesselStage: vessel.stage,
    headroomC: site.vessel(name, arrivedMs)?.headroomC ?? null,
    methanolPresent: vessel.methanolPresent,
    soapLimitPpm: batch.soapLimitPpm,
  };
}
