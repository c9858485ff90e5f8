import { useComputed, useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { z } from 'zod';
import type { conditionsSchema, Vessel } from '../../../shared/wire/api.ts';
import type { Batch } from '../../../shared/wire/batch.ts';
import type { Stage } from '../../../shared/wire/names.ts';
import { getConditions } from '../../api.ts';
import { OTHER_STAGES, usualNext } from '../../stages.ts';
import { isLive, passedStages, vessels } from '../../store.ts';
import { BATCH } from '../../texts/batch.ts';
import { missingName, STAGE_NAMES, toSee } from '../../texts/live.ts';
import { keyOf } from '../../vessels.ts';
import { Cautions } from '../../views/cautions.tsx';
import { Part } from '../../views/part.tsx';
import { GoOn } from '../../views/stage-form.tsx';
import { amount, degreesApart, stageNow } from '../../views/words.ts';

type Conditions = z.infer<typeof conditionsSchema>['conditions'];
type Condition = Conditions[number];

/** How often it is asked anew what is true by now, ms. */
const AGAIN_MS = 15_000;

/** What must be true before the next stage, as far as it is; and the way on, for each vessel of the batch. */
export function Next({ batch }: { batch: Batch }) {
  const members = useComputed(() =>
    [...(vessels.value?.values() ?? [])]
      .filter((vessel) => vessel.batch === batch.id)
      .sort((a, b) => Number(b.vessel === batch.vessel) - Number(a.vessel === batch.vessel)),
  ).value;
  if (members.length === 0) return null;
  return (
    <Part title={BATCH.next.title} class="next">
      {members.map((vessel) => (
        <NextOf key={keyOf(vessel)} batch={batch} vessel={vessel} alone={members.length === 1} />
      ))}
      <Cautions
        stages={members.map(({ stage }) => stage)}
        withMethanol={members.some(({ methanolPresent }) => methanolPresent)}
        open
      />
    </Part>
  );
}

function NextOf({ batch, vessel, alone }: { batch: Batch; vessel: Vessel; alone: boolean }) {
  const texts = BATCH.next;
  const usual = usualNext(vessel.stage, passedStages(vessel));
  const chosen = useSignal<Stage | undefined>(undefined);
  const stage = chosen.value ?? usual ?? 'finished';
  const found = useSignal<Conditions | 'failed' | undefined>(undefined);
  const at = keyOf(vessel);
  useEffect(() => {
    let gone = false;
    const ask = (): void => {
      getConditions(batch.id, stage, at).then(
        ({ conditions }) => {
          if (!gone) found.value = conditions;
        },
        () => {
          if (!gone) found.value = 'failed';
        },
      );
    };
    ask();
    const timer = setInterval(() => {
      if (isLive.peek() && document.visibilityState === 'visible') ask();
    }, AGAIN_MS);
    return () => {
      gone = true;
      clearInterval(timer);
    };
    // What was noted or begun meanwhile may have changed what is true.
  }, [batch.id, stage, at, vessel.stage, batch.stages.length, batch.entries.length]);

  return (
    <div class="next-of">
      {!alone && <h3>{texts.of(vessel.vessel, stageNow(vessel))}</h3>}
      <div class="inline">
        <div class="field">
          <label for={`to-${vessel.vessel}`}>{texts.stage}</label>
          <select
            id={`to-${vessel.vessel}`}
            value={stage}
            onChange={(event) => {
              chosen.value = event.currentTarget.value as Stage;
              found.value = undefined;
            }}
          >
            {[...new Set([...(usual === undefined ? [] : [usual]), ...OTHER_STAGES])].map((one) => (
              <option key={one} value={one}>
                {STAGE_NAMES[one]}
              </option>
            ))}
          </select>
        </div>
      </div>
      {found.value === 'failed' ? (
        <p>{texts.failed}</p>
      ) : found.value === undefined ? null : found.value.length === 0 ? (
        <p>{texts.none}</p>
      ) : (
        <ul class="conditions">
          {found.value.map((condition) => (
            <li key={condition.what} class={`condition ${markOf(condition)}`}>
              <span class="mark-of" aria-hidden="true">
                {{ met: '✓', 'not-met': '×', open: '?' }[markOf(condition)]}
              </span>
              <span>{nameOf(condition)}</span>
              <span class="quiet">{stateOf(condition)}</span>
            </li>
          ))}
        </ul>
      )}
      <GoOn vessel={vessel} />
    </div>
  );
}

const markOf = ({ met }: Condition): 'met' | 'not-met' | 'open' =>
  met === null ? 'open' : met ? 'met' : 'not-met';

const nameOf = ({ what, kind }: Condition): string =>
  kind === 'seen' || toSee(what) !== what.replaceAll('-', ' ') ? toSee(what) : capitalName(what);

const capitalName = (what: string): string => {
  const { name } = missingName(what);
  return name.charAt(0).toUpperCase() + name.slice(1);
};

/** What a limit from above is counted against: the others are to be reached. */
const AT_MOST: readonly string[] = ['fuel-dry', 'wash-clear'];

function stateOf({ what, kind, met, has, needs }: Condition): string {
  const texts = BATCH.next;
  if (met === null) return kind === 'tested' ? texts.notTested : texts.notSeen;
  if (what === 'below-boiling' && needs !== 1)
    return texts.belowBoiling(degreesApart(has), degreesApart(needs));
  if (needs === 1) return met ? texts.met : texts.notMet;
  const say = AT_MOST.includes(what) ? texts.atMost : texts.counted;
  return say(amount(has), amount(needs), missingName(what).unit);
}
