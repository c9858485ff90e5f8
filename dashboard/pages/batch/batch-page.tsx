import { useComputed, useSignalEffect } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { Batch } from '../../../shared/wire/batch.ts';
import { mayAt } from '../../forwarded.ts';
import { hrefOf, idHref, type Route, vesselHref } from '../../route.ts';
import { may } from '../../session.ts';
import { isEnded } from '../../stages.ts';
import { batches, fetchBatch, synced, vessels } from '../../store.ts';
import { BATCH, DRAINING, SCALES } from '../../texts/batch.ts';
import { STAGE_NAMES } from '../../texts/live.ts';
import { useNewest } from '../../views/answer.ts';
import { Problem } from '../../views/form.tsx';
import { Lacks } from '../../views/lacks.tsx';
import { inTheirWords, when } from '../../views/words.ts';
import { Draining } from './draining.tsx';
import { Draws } from './draws.tsx';
import { End } from './end.tsx';
import { Figures } from './figures.tsx';
import { MoveOn } from './move.tsx';
import { Next } from './next.tsx';
import { NoteForm } from './note.tsx';
import { Papers } from './papers.tsx';
import { Pictures } from './pictures.tsx';
import { Plan } from './plan.tsx';
import { Scales } from './scales.tsx';
import { Story } from './story-view.tsx';
import '../../views/parts.css';
import './batch.css';

/** How often a batch under way is fetched anew, ms: what others noted of it is not told live. */
const AGAIN_MS = 30_000;

/** One batch: how it stands, what happened, what can be noted, and its papers. */
export function BatchPage({ route }: { route: Route & { page: 'batch' } }) {
  const { id, query } = route;
  const { problem, ask } = useNewest();
  /** Which of its vessels are in which stage: whoever changes that changes the batch. */
  const standing = useComputed(() =>
    [...(vessels.value?.values() ?? [])]
      .filter(({ batch }) => batch === id)
      .map(({ vessel, stage, stageSince }) => `${vessel} ${stage} ${stageSince}`)
      .join(),
  );
  useSignalEffect(() => {
    void synced.value;
    void standing.value;
    void ask(() => fetchBatch(id));
  });
  useEffect(() => {
    const timer = setInterval(() => {
      if (batches.peek().get(id)?.open && document.visibilityState === 'visible')
        fetchBatch(id).catch(() => {});
    }, AGAIN_MS);
    return () => clearInterval(timer);
  }, [id]);

  const batch = batches.value.get(id);
  if (batch === undefined)
    return (
      <section class="batch-page">
        <h1>{BATCH.one}</h1>
        {problem === undefined ? (
          <p class="quiet">{BATCH.loading}</p>
        ) : problem.status === 404 ? (
          <p>{BATCH.unknown}</p>
        ) : (
          <Problem problem={problem} />
        )}
        <p>
          <a class="button plain" href={hrefOf('batches')}>
            {BATCH.all}
          </a>
        </p>
      </section>
    );

  const leave = (): void => {
    location.hash = idHref('batch', id);
  };
  const at = query.get('at');
  const works = mayAt('work', batch.site);
  return (
    <article class="batch-page" key={id}>
      <Head batch={batch} />
      {batch.open && <Next batch={batch} />}
      <Story batch={batch} />
      {works && <NoteForm batch={batch} />}
      {works && <Pictures batch={batch} />}
      <Draws batch={batch} />
      <Figures batch={batch} />
      <Plan batch={batch} />
      <Papers batch={batch} />
      {works && batch.open && <MoveOn batch={batch} />}
      {works && batch.open && <End batch={batch} />}
      {works && at === 'scales' && <Scales batch={batch} onClose={leave} />}
      {works && at === 'draining' && <Draining batch={batch} onClose={leave} />}
    </article>
  );
}

function Head({ batch }: { batch: Batch }) {
  const last = batch.stages.at(-1);
  const ended = isEnded(batch.stage);
  return (
    <header>
      <p class="back">
        <a class="button plain" href={hrefOf('batches')}>
          <span aria-hidden="true">← </span>
          {BATCH.all}
        </a>
      </p>
      <h1>
        <bdi>{batch.name}</bdi>
      </h1>
      <p class="quiet">
        <a href={vesselHref(batch)}>{BATCH.where(batch.vessel, batch.site)}</a>,{' '}
        {BATCH.opened(when(batch.opened))}
        {batch.madeLike !== null && (
          <>
            . {BATCH.madeLike} <a href={idHref('batch', batch.madeLike)}>{BATCH.thatBatch}</a>
          </>
        )}
      </p>
      <p class="standing-stage">
        <b>
          {ended
            ? BATCH.ended(STAGE_NAMES[batch.stage])
            : BATCH.now(batch.stages.length === 0 ? BATCH.story.none : STAGE_NAMES[batch.stage])}
        </b>
        {last !== undefined && (
          <span class="quiet">
            {' '}
            {when(last.at)}, <bdi>{last.by}</bdi>
          </span>
        )}
        {ended && last?.reason != null && <>, {BATCH.because(last.reason)}</>}
      </p>
      {batch.glycerolIn.length > 0 && <p>{inTheirWords(BATCH.glycerolIn(batch.glycerolIn.join(', ')))}</p>}
      {batch.open && !may('work') && <Lacks right="work" />}
      {batch.open && mayAt('work', batch.site) && (
        <p class="actions">
          <a class="button" href={idHref('batch', batch.id, { at: 'scales' })}>
            {SCALES.title}
          </a>
          <a class="button" href={idHref('batch', batch.id, { at: 'draining' })}>
            {DRAINING.title}
          </a>
        </p>
      )}
    </header>
  );
}
