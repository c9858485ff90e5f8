import { useSignal } from '@preact/signals';
import type { Batch } from '../../../shared/wire/batch.ts';
import { mayAt } from '../../forwarded.ts';
import { idHref } from '../../route.ts';
import { fetchBatch, later } from '../../store.ts';
import { BATCH } from '../../texts/batch.ts';
import { by, Dialog, Field, NameField, Problem, useAction } from '../../views/form.tsx';
import { Part } from '../../views/part.tsx';
import { amount, litres, when } from '../../views/words.ts';
import { undoDraw } from './calls.ts';
import { DrawForm } from './draw-form.tsx';
import { drawLine } from './story-view.tsx';

type Draw = Batch['draws'][number];

/** What went into a batch from stock, and what others drew from it. */
export function Draws({ batch }: { batch: Batch }) {
  const texts = BATCH.draws;
  const undoing = useSignal<Draw | undefined>(undefined);
  const standing = batch.draws.filter(({ undone }) => undone === null);
  return (
    <Part title={texts.title} class="draws">
      {standing.length === 0 ? (
        <p>{texts.none}</p>
      ) : (
        <ul class="items">
          {standing.map((draw) => (
            <li key={draw.id}>
              {drawLine(draw)}{' '}
              <span class="quiet">
                {when(draw.at)}, <bdi>{draw.by}</bdi>
              </span>{' '}
              {mayAt('work', batch.site) && (
                <button
                  type="button"
                  class="plain small"
                  aria-label={texts.undoLabel(draw.name)}
                  onClick={() => {
                    undoing.value = draw;
                  }}
                >
                  {texts.undo}
                </button>
              )}
            </li>
          ))}
        </ul>
      )}
      {mayAt('work', batch.site) && batch.stage !== 'void' && <DrawForm site={batch.site} batch={batch} />}
      {batch.wentInto.length > 0 && (
        <>
          <h3>{texts.wentInto}</h3>
          <ul class="items">
            {batch.wentInto.map(({ batch: id, name, draw, litres: volume, kg, at, by: who, undone }) => (
              <li key={draw} class={undone === null ? undefined : 'gone'}>
                <a href={idHref('batch', id)}>
                  <bdi>{name}</bdi>
                </a>
                : {volume !== null ? litres(volume) : `${amount(kg ?? 0)} kg`}{' '}
                <span class="quiet">
                  {when(at)}, {who}
                </span>
              </li>
            ))}
          </ul>
        </>
      )}
      {undoing.value !== undefined && (
        <UndoDialog
          batch={batch}
          draw={undoing.value}
          onClose={() => {
            undoing.value = undefined;
          }}
        />
      )}
    </Part>
  );
}

function UndoDialog({ batch, draw, onClose }: { batch: Batch; draw: Draw; onClose: () => void }) {
  const texts = BATCH.draws;
  const reason = useSignal('');
  const { busy, problem, run } = useAction();
  const send = async (): Promise<void> => {
    const done = await run(async () => {
      await undoDraw(batch.id, draw.id, { reason: reason.value.trim(), ...by() });
      await fetchBatch(batch.id).catch(later);
    });
    if (done) onClose();
  };
  return (
    <Dialog title={texts.undoTitle} onClose={onClose} onSubmit={send}>
      <p>{drawLine(draw)}</p>
      <Field
        label={texts.undoReason}
        value={reason.value}
        required
        onValue={(text) => {
          reason.value = text;
        }}
      />
      <NameField label={BATCH.name} />
      <Problem problem={problem} />
      <div class="actions">
        <button type="button" class="plain" onClick={onClose}>
          {texts.cancel}
        </button>
        <button type="submit" disabled={busy || reason.value.trim() === ''}>
          {texts.undoSend}
        </button>
      </div>
    </Dialog>
  );
}
