import { useSignal } from '@preact/signals';
import type { Batch } from '../../../shared/wire/batch.ts';
import type { BatchEntry } from '../../../shared/wire/entries.ts';
import { bodyOf, startOf, type Typed, typedFrom } from '../../forms.ts';
import { fetchBatch, later, vessels } from '../../store.ts';
import { BATCH, ENTRIES } from '../../texts/batch.ts';
import { by, Dialog, Field, NameField, Problem, useAction } from '../../views/form.tsx';
import { Part } from '../../views/part.tsx';
import { TableFields, theirUnits } from '../../views/table-form.tsx';
import { inTheirWords } from '../../views/words.ts';
import { noteEntry } from './calls.ts';
import { ENTRY_FORMS, type EntryKind, entryKindOf } from './entry-forms.ts';

const KINDS = Object.keys(ENTRY_FORMS) as EntryKind[];

/** Anything that is noted by hand: the kind is chosen, its fields follow. */
export function NoteForm({ batch }: { batch: Batch }) {
  const texts = BATCH.note;
  const kind = useSignal<EntryKind>('note');
  const typed = useSignal<Typed>(startOf(ENTRY_FORMS.note.fields));
  const at = useSignal('');
  const vessel = useSignal('');
  const saved = useSignal('');
  const { busy, problem, run, complain } = useAction();
  const form = ENTRY_FORMS[kind.value];

  const choose = (next: EntryKind): void => {
    kind.value = next;
    typed.value = startOf(ENTRY_FORMS[next].fields);
    saved.value = '';
  };
  const send = async (event: Event): Promise<void> => {
    event.preventDefault();
    saved.value = '';
    const made = bodyOf(form.fields, typed.value, theirUnits());
    if ('wrong' in made) {
      complain(texts.wrong(made.wrong.label));
      return;
    }
    const done = await run(async () => {
      const entry = await noteEntry(batch.id, {
        what: { ...form.fixed, ...made.body },
        ...by(),
        ...(at.value === '' ? {} : { at: new Date(at.value).toISOString() }),
        ...(vessel.value === '' ? {} : { vessel: vessel.value }),
      });
      saved.value = texts.saved(inTheirWords(entry.result?.says ?? ''));
      await fetchBatch(batch.id).catch(later);
    });
    if (done) {
      typed.value = startOf(form.fields);
      at.value = '';
    }
  };

  const others = [...(vessels.value?.values() ?? [])].filter(
    ({ site, vessel: name, batch: of }) =>
      site === batch.site && name !== batch.vessel && (of === batch.id || wasIn(batch, name)),
  );
  return (
    <Part title={texts.title} class="note">
      <form onSubmit={send}>
        <div class="grid">
          <div class="field">
            <label for="note-kind">{texts.kind}</label>
            <select
              id="note-kind"
              value={kind.value}
              onChange={(event) => choose(event.currentTarget.value as EntryKind)}
            >
              {(Object.entries(ENTRIES.groups) as [keyof typeof ENTRIES.groups, string][]).map(
                ([group, label]) => (
                  <optgroup key={group} label={label}>
                    {KINDS.filter((one) => ENTRY_FORMS[one].group === group).map((one) => (
                      <option key={one} value={one}>
                        {ENTRIES.kinds[one]}
                      </option>
                    ))}
                  </optgroup>
                ),
              )}
            </select>
          </div>
          <TableFields fields={form.fields} typed={typed} />
          <AtField value={at.value} onValue={(text) => (at.value = text)} />
          {others.length > 0 && (
            <div class="field">
              <label for="note-vessel">{texts.vessel}</label>
              <select
                id="note-vessel"
                value={vessel.value}
                onChange={(event) => {
                  vessel.value = event.currentTarget.value;
                }}
              >
                <option value="">{texts.ownVessel}</option>
                {others.map(({ vessel: name }) => (
                  <option key={name} value={name}>
                    {name}
                  </option>
                ))}
              </select>
            </div>
          )}
          <NameField label={BATCH.name} />
        </div>
        <Problem problem={problem} />
        <p role="status">{saved.value}</p>
        <button type="submit" disabled={busy}>
          {texts.save}
        </button>
      </form>
    </Part>
  );
}

const wasIn = (batch: Batch, vessel: string): boolean => batch.stages.some((one) => one.vessel === vessel);

/** When it was so, where that was earlier: by the reader's own clock and place. */
export function AtField({ value, onValue }: { value: string; onValue: (text: string) => void }) {
  return (
    <div class="field">
      <label for="note-at">{BATCH.note.at}</label>
      <input
        id="note-at"
        type="datetime-local"
        value={value}
        onInput={(event) => onValue(event.currentTarget.value)}
      />
    </div>
  );
}

/** What stands for an earlier entry: both stay. */
export function CorrectDialog({
  batch,
  entry,
  onClose,
}: {
  batch: Batch;
  entry: BatchEntry;
  onClose: () => void;
}) {
  const texts = BATCH.note;
  const kind = entryKindOf(entry.what) as EntryKind;
  const form = ENTRY_FORMS[kind];
  const typed = useSignal<Typed>(typedFrom(form.fields, entry.what, theirUnits()));
  const reason = useSignal('');
  const { busy, problem, run, complain } = useAction();
  const send = async (): Promise<void> => {
    const made = bodyOf(form.fields, typed.value, theirUnits());
    if ('wrong' in made) {
      complain(texts.wrong(made.wrong.label));
      return;
    }
    const done = await run(async () => {
      await noteEntry(batch.id, {
        what: { ...form.fixed, ...made.body },
        ...by(),
        vessel: entry.vessel,
        corrects: { entry: entry.id, reason: reason.value.trim() },
      });
      await fetchBatch(batch.id).catch(later);
    });
    if (done) onClose();
  };
  return (
    <Dialog title={texts.correct(ENTRIES.kinds[kind])} onClose={onClose} onSubmit={send}>
      <TableFields fields={form.fields} typed={typed} />
      <Field
        label={texts.reason}
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
        <button type="submit" disabled={busy}>
          {texts.save}
        </button>
      </div>
    </Dialog>
  );
}
