import { useSignal } from '@preact/signals';
import type { Batch } from '../../../shared/wire/batch.ts';
import { goOn } from '../../api.ts';
import { fetchBatch, refetch } from '../../store.ts';
import { BATCH } from '../../texts/batch.ts';
import { by, Dialog, Field, NameField, Problem, useAction } from '../../views/form.tsx';
import { Part } from '../../views/part.tsx';

type Kind = keyof typeof BATCH.end.kinds;

/** Ends a batch that is no good or never was one: with a name and a reason, and it stays in the history. */
export function End({ batch }: { batch: Batch }) {
  const texts = BATCH.end;
  const open = useSignal(false);
  const close = (): void => {
    open.value = false;
  };
  return (
    <Part title={texts.title} class="end">
      <p class="quiet">{texts.help}</p>
      <button
        type="button"
        class="plain"
        onClick={() => {
          open.value = true;
        }}
      >
        {texts.open}
      </button>
      {open.value && <EndDialog batch={batch} onClose={close} />}
    </Part>
  );
}

function EndDialog({ batch, onClose }: { batch: Batch; onClose: () => void }) {
  const texts = BATCH.end;
  const kind = useSignal<Kind>('rejected');
  const reason = useSignal('');
  const sure = useSignal(false);
  // What the batch had come to for who decides this.
  const known = useSignal(batch.stages.length);
  const { busy, problem, run } = useAction();
  const send = async (): Promise<void> => {
    const done = await run(async () => {
      await goOn(batch.id, {
        stage: kind.value,
        vessel: `${batch.site}:${batch.vessel}`,
        reason: reason.value.trim(),
        stagesKnown: known.value,
        ...by(),
      });
      await Promise.all([fetchBatch(batch.id), refetch()]);
    });
    if (done) onClose();
  };
  return (
    <Dialog title={texts.title} onClose={onClose} onSubmit={send}>
      <fieldset>
        <legend>{texts.as}</legend>
        {(Object.entries(texts.kinds) as [Kind, string][]).map(([one, label]) => (
          <label key={one} class="check">
            <input
              type="radio"
              name="end-as"
              checked={kind.value === one}
              onChange={() => {
                kind.value = one;
              }}
            />
            {label}
          </label>
        ))}
      </fieldset>
      <Field
        label={texts.reason}
        value={reason.value}
        required
        onValue={(text) => {
          reason.value = text;
        }}
      />
      <NameField label={BATCH.name} />
      <label class="check">
        <input
          type="checkbox"
          checked={sure.value}
          onChange={(event) => {
            sure.value = event.currentTarget.checked;
          }}
        />
        {texts.sure}
      </label>
      <Problem problem={problem} />
      <div class="actions">
        <button type="button" class="plain" onClick={onClose}>
          {BATCH.draws.cancel}
        </button>
        <button type="submit" disabled={busy || !sure.value || reason.value.trim() === ''}>
          {texts.send}
        </button>
      </div>
    </Dialog>
  );
}
