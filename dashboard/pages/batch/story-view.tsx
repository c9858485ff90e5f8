import { useSignal } from '@preact/signals';
import type { Batch } from '../../../shared/wire/batch.ts';
import type { BatchEntry } from '../../../shared/wire/entries.ts';
import { mayAt } from '../../forwarded.ts';
import { idHref } from '../../route.ts';
import { BATCH } from '../../texts/batch.ts';
import { isToSee, missingName, STAGE_NAMES, toSee } from '../../texts/live.ts';
import { duration } from '../../units.ts';
import { Cautions } from '../../views/cautions.tsx';
import { Part } from '../../views/part.tsx';
import { amount, capital, degrees, inTheirWords, litres, when } from '../../views/words.ts';
import { pictureHref } from './calls.ts';
import { entryLine } from './entry-forms.ts';
import { missingSaid } from './missing-said.ts';
import { CorrectDialog } from './note.tsx';
import { type Chapter, type Item, storyOf } from './story.ts';

export const saying = { litres, degrees };

/** All that happened, stage by stage. */
export function Story({ batch }: { batch: Batch }) {
  const correcting = useSignal<BatchEntry | undefined>(undefined);
  const chapters = storyOf(batch);
  return (
    <Part title={BATCH.story.title} class="story">
      {chapters.length === 0 && <p>{BATCH.story.none}</p>}
      <ol>
        {chapters.map((chapter) => (
          <ChapterView
            key={`${chapter.at} ${chapter.stage?.stage} ${chapter.stage?.vessel}`}
            batch={batch}
            chapter={chapter}
            onCorrect={(entry) => {
              correcting.value = entry;
            }}
          />
        ))}
      </ol>
      {correcting.value !== undefined && (
        <CorrectDialog
          batch={batch}
          entry={correcting.value}
          onClose={() => {
            correcting.value = undefined;
          }}
        />
      )}
    </Part>
  );
}

interface ChapterProps {
  batch: Batch;
  chapter: Chapter;
  onCorrect: (entry: BatchEntry) => void;
}

function ChapterView({ batch, chapter, onCorrect }: ChapterProps) {
  const texts = BATCH.story;
  const { stage, at, until, items } = chapter;
  return (
    <li class="chapter">
      <h3>
        {stage === undefined ? texts.before : capital(inTheirWords(STAGE_NAMES[stage.stage]))}
        {stage !== undefined && stage.vessel !== batch.vessel && <span class="quiet"> ({stage.vessel})</span>}
      </h3>
      {stage !== undefined && (
        <p class="quiet">
          {when(at)} {texts.by(stage.by)}
          {until !== undefined && `, ${texts.lasted(duration(Date.parse(until) - Date.parse(at)))}`}
        </p>
      )}
      {stage?.reason != null && <p>‘{stage.reason}’</p>}
      {stage?.deviation != null && (
        <p class="deviation">
          <b>{texts.deviation}</b>: {texts.deviationBecause(stage.deviation.reason)}
          {stage.deviation.missing.length > 0 && (
            <>
              . {capital(texts.deviationMissing)}: {stage.deviation.missing.map(missingSaid).join('; ')}
            </>
          )}
        </p>
      )}
      {stage !== undefined && <Ticked seen={stage.seen} unseen={stage.unseen} />}
      {items.length > 0 && (
        <ul class="items">
          {items.map((item) => (
            <ItemView key={keyOfItem(item)} batch={batch} item={item} onCorrect={onCorrect} />
          ))}
        </ul>
      )}
      {stage !== undefined && <Cautions stages={[stage.stage]} withMethanol={false} />}
    </li>
  );
}

function Ticked({ seen, unseen }: { seen: readonly string[]; unseen: readonly string[] }) {
  if (seen.length + unseen.length === 0) return null;
  const texts = BATCH.story;
  const counts = [
    ...(seen.length > 0 ? [texts.ticked(seen.length)] : []),
    ...(unseen.length > 0 ? [texts.unticked(unseen.length)] : []),
  ];
  return (
    <details class="ticked">
      <summary>{counts.join(', ')}</summary>
      <ul>
        {seen.map((what) => (
          <li key={what}>
            <span aria-hidden="true">✓ </span>
            {toSee(what)}
          </li>
        ))}
        {unseen.map((what) => (
          <li key={what} class="quiet">
            <span aria-hidden="true">? </span>
            {isToSee(what) ? toSee(what) : capital(missingName(what).name)}: {texts.notConfirmed}
          </li>
        ))}
      </ul>
    </details>
  );
}

const keyOfItem = (item: Item): string =>
  item.kind === 'entry'
    ? item.entry.id
    : item.kind === 'draw'
      ? item.draw.id
      : `${item.at} ${item.move.from} ${item.move.to}`;

function ItemView({
  batch,
  item,
  onCorrect,
}: {
  batch: Batch;
  item: Item;
  onCorrect: (entry: BatchEntry) => void;
}) {
  const texts = BATCH.story;
  if (item.kind === 'move') {
    const { what, from, to, litres: volume, by } = item.move;
    return (
      <li>
        <Line at={item.at} by={by} />
        {inTheirWords(texts.moved(texts.movedWhat[what], litres(volume), from, to))}
      </li>
    );
  }
  if (item.kind === 'draw') {
    const { draw } = item;
    return (
      <li class={draw.undone === null ? undefined : 'gone'}>
        <Line at={item.at} by={draw.by} />
        {drawLine(draw)}
        {draw.undone !== null && (
          <span class="quiet"> ({texts.takenBack(draw.undone.by, draw.undone.reason)})</span>
        )}
      </li>
    );
  }
  const { entry } = item;
  const line = inTheirWords(entryLine(entry.what, saying));
  return (
    <li class={entry.correctedBy === null ? undefined : 'gone'}>
      <Line at={item.at} by={entry.by} noted={entry.noted} />
      {line}
      {entry.result !== null && (
        <span class="says">
          {' – '}
          {entry.result.passed === false && <b>! </b>}
          {inTheirWords(entry.result.says)}
        </span>
      )}
      {entry.corrects !== null && <span class="quiet"> ({texts.corrects(entry.corrects.reason)})</span>}
      {entry.correctedBy !== null ? (
        <span class="quiet"> ({texts.corrected})</span>
      ) : (
        entry.what.kind !== 'photograph' &&
        mayAt('work', batch.site) && (
          <>
            {' '}
            <button
              type="button"
              class="plain small"
              aria-label={texts.correctLabel(line)}
              onClick={() => onCorrect(entry)}
            >
              {texts.correct}
            </button>
          </>
        )
      )}
      {entry.what.kind === 'photograph' && (
        <a class="picture" href={pictureHref(batch.id, entry.id)} target="_blank" rel="noreferrer">
          <img
            src={pictureHref(batch.id, entry.id)}
            alt={entry.what.text === '' ? texts.photograph(when(entry.at), entry.by) : entry.what.text}
            width={entry.what.width}
            height={entry.what.height}
            loading="lazy"
          />
        </a>
      )}
    </li>
  );
}

/** Two times so far apart are told both, ms. */
const LATER_MS = 60_000;

function Line({ at, by, noted }: { at: string; by: string; noted?: string }) {
  const later = noted !== undefined && Date.parse(noted) - Date.parse(at) > LATER_MS;
  return (
    <span class="quiet who">
      {when(at)}, <bdi>{by}</bdi>
      {later && `, ${BATCH.story.notedLater(when(noted))}`}:{' '}
    </span>
  );
}

export function drawLine(draw: Batch['draws'][number]) {
  const amountDrawn = draw.litres !== null ? litres(draw.litres) : `${amount(draw.kg ?? 0)} kg`;
  const say = draw.kind === 'dry-bed' ? BATCH.story.bed : BATCH.story.drew;
  const said = say(amountDrawn, draw.name);
  return (
    <>
      {draw.fromBatch === null ? (
        <a href={`#/stock?lot=${encodeURIComponent(draw.lot ?? '')}`}>{said}</a>
      ) : (
        <a href={idHref('batch', draw.fromBatch)}>{said}</a>
      )}
      {draw.deviation !== null && <>. {BATCH.story.deviationBecause(draw.deviation.reason)}</>}
      {draw.caution !== undefined && (
        <>
          . <b>{draw.caution}</b>
        </>
      )}
    </>
  );
}
