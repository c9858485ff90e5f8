import { useEffect } from 'preact/hooks';
import { z } from 'zod';
import { type Alarm, alarmSchema, type Vessel } from '../../../shared/wire/api.ts';
import { call } from '../../api.ts';
import type { Route } from '../../route.ts';
import { hrefOf, vesselHref } from '../../route.ts';
import { alarms, batches, fetchBatch, isLive, vessels } from '../../store.ts';
import { POWER_CUT } from '../../texts/power-cut.ts';
import { keyOf } from '../../vessels.ts';
import { useAnswer } from '../../views/answer.ts';
import { Cautions } from '../../views/cautions.tsx';
import { Problem } from '../../views/form.tsx';
import { stageNow, when } from '../../views/words.ts';
import { Blind, Counts, Heat } from './known.tsx';
import { newestOf, outageOf } from './outage.ts';
import './power-cut.css';
import { Stirring } from './stirring.tsx';
import { Todo } from './todo.tsx';

const AGAIN_MS = 10_000;
/** What was acknowledged is in the history with the next commit, ms. */
const KEPT_AFTER_MS = 1500;

const getAlarms = async (): Promise<Alarm[]> =>
  (await call(z.object({ alarms: z.array(alarmSchema) }), 'alarms?alarm=not-watching&limit=200')).alarms;

function OneVessel({ vessel, alarm }: { vessel: Vessel; alarm: Alarm }) {
  const outage = outageOf(alarm);
  const id = vessel.batch;
  const batch = id === null ? undefined : batches.value.get(id);
  // What decides about stirring is the batch's own: it is asked for until it is there.
  const fetched = useAnswer(async () => {
    if (id !== null && !batches.peek().has(id)) await fetchBatch(id);
  }, AGAIN_MS);
  return (
    <article class="after-cut">
      <header>
        <h2>
          <a href={vesselHref(vessel)}>{vessel.vessel}</a>{' '}
          <span class="quiet">
            <bdi>{vessel.batchName}</bdi>, {stageNow(vessel)}
          </span>
        </h2>
        {alarm.acknowledged !== null && (
          <p class="quiet">{POWER_CUT.seen(alarm.acknowledged.by, when(alarm.acknowledged.at))}</p>
        )}
      </header>
      {batch === undefined && <Problem problem={fetched.problem} />}
      <Blind outage={outage} />
      <Heat vessel={vessel} outage={outage} />
      <Stirring vessel={vessel} outage={outage} batch={batch} />
      <Counts vessel={vessel} outage={outage} />
      <Todo vessel={vessel} alarm={alarm} outage={outage} batch={batch} />
      <Cautions stages={[vessel.stage]} withMethanol={vessel.methanolPresent} />
    </article>
  );
}

/** What a time that nobody watched left, one vessel after the other. */
export function PowerCutPage({ route }: { route: Route }) {
  const past = useAnswer(getAlarms, AGAIN_MS);
  const known = vessels.value;
  const wanted = route.query.get('vessel');
  const standing = alarms.value.filter(({ alarm }) => alarm === 'not-watching');
  const live = new Set(standing.map(({ id }) => id));
  useEffect(() => {
    const timer = setTimeout(() => void past.again(), KEPT_AFTER_MS);
    return () => clearTimeout(timer);
  }, [[...live].join()]);
  if (known === undefined) return null;
  // What is live is newer than what was asked for: what is not there any more stands no longer.
  const over = (past.value.value ?? []).filter(({ id }) => !live.has(id));
  const all = [...standing, ...over.map((alarm) => ({ ...alarm, standing: false }))];
  const found = [...newestOf(all, [...known.values()])];
  const shown = wanted === null ? found : found.filter(([vessel]) => keyOf(vessel) === wanted);
  return (
    <div class="power-cut">
      <p class="back">
        <a class="button plain" href={hrefOf('overview')}>
          <span aria-hidden="true">← </span>
          {POWER_CUT.back}
        </a>
        {shown.length < found.length && (
          <a class="button plain" href={hrefOf('power-cut')}>
            {POWER_CUT.all}
          </a>
        )}
      </p>
      <h1>{POWER_CUT.title}</h1>
      {!isLive.value && <p class="strong">{POWER_CUT.notLive}</p>}
      <Problem problem={past.problem} />
      {shown.length === 0 &&
        (past.value.value === undefined && past.problem === undefined ? (
          <p class="quiet">{POWER_CUT.loading}</p>
        ) : (
          <>
            <p>{POWER_CUT.none}</p>
            <p class="quiet">{POWER_CUT.noneHelp}</p>
          </>
        ))}
      {shown.map(([vessel, alarm]) => (
        <OneVessel key={`${keyOf(vessel)} ${vessel.batch}`} vessel={vessel} alarm={alarm} />
      ))}
    </div>
  );
}
