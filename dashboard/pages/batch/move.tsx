import { useSignal } from '@preact/signals';
import type { Batch } from '../../../shared/wire/batch.ts';
import { MOVED, type Moved } from '../../../shared/wire/names.ts';
import { volumeUnit } from '../../settings.ts';
import { fetchBatch, refetch, vessels } from '../../store.ts';
import { BATCH } from '../../texts/batch.ts';
import { parseNumber, volumeFromUnit } from '../../units.ts';
import { by, Field, NameField, Problem, useAction } from '../../views/form.tsx';
import { Part } from '../../views/part.tsx';
import { theirVolumeUnit } from '../../views/table-form.tsx';
import { inTheirWords } from '../../views/words.ts';
import { moveLiquid } from './calls.ts';

/** Liquid goes to another vessel, and what is known of it goes along. */
export function MoveOn({ batch }: { batch: Batch }) {
  const texts = BATCH.move;
  const what = useSignal<Moved>('ester');
  const from = useSignal(batch.vessel);
  const to = useSignal('');
  const typed = useSignal('');
  const said = useSignal('');
  const { busy, problem, run, complain } = useAction();
  const here = [...(vessels.value?.values() ?? [])].filter(({ site }) => site === batch.site);
  const members = here.filter((vessel) => vessel.batch === batch.id);
  const takers = here.filter(
    ({ vessel, batch: of }) =>
      vessel !== from.value &&
      (of === null || (what.value === 'glycerol' && batch.glycerolIn.includes(vessel))),
  );
  if (!members.some(({ vessel }) => vessel === from.value) && members[0] !== undefined)
    from.value = members[0].vessel;

  const send = async (event: Event): Promise<void> => {
    event.preventDefault();
    said.value = '';
    const number = parseNumber(typed.value);
    if (number === undefined) {
      complain(texts.wrong);
      return;
    }
    const done = await run(async () => {
      await moveLiquid(batch.id, {
        what: what.value,
        from: from.value,
        to: to.value,
        litres: volumeFromUnit(number, volumeUnit.value),
        ...by(),
      });
      await Promise.all([fetchBatch(batch.id), refetch(batch.id)]);
    });
    if (!done) return;
    typed.value = '';
    to.value = '';
    said.value = texts.saved;
  };
  return (
    <Part title={texts.title} class="move">
      <p class="quiet">{texts.help}</p>
      {takers.length === 0 ? (
        <p>{texts.noneFree}</p>
      ) : (
        <form onSubmit={send}>
          <div class="grid">
            <div class="field">
              <label for="move-what">{texts.what}</label>
              <select
                id="move-what"
                value={what.value}
                onChange={(event) => {
                  what.value = event.currentTarget.value as Moved;
                }}
              >
                {MOVED.map((one) => (
                  <option key={one} value={one}>
                    {inTheirWords(texts.whats[one])}
                  </option>
                ))}
              </select>
            </div>
            <Choice id="move-from" label={texts.from} value={from} names={members.map(nameOf)} />
            <Choice id="move-to" label={texts.to} value={to} names={takers.map(nameOf)} empty />
            <Field
              label={texts.litres(theirVolumeUnit())}
              value={typed.value}
              numeric
              required
              onValue={(text) => {
                typed.value = text;
              }}
            />
            <NameField label={BATCH.name} />
          </div>
          <Problem problem={problem} />
          <button type="submit" disabled={busy}>
            {texts.save}
          </button>
        </form>
      )}
      <p role="status">{said.value}</p>
    </Part>
  );
}

const nameOf = ({ vessel }: { vessel: string }): string => vessel;

function Choice({
  id,
  label,
  value,
  names,
  empty,
}: {
  id: string;
  label: string;
  value: { value: string };
  names: readonly string[];
  empty?: boolean;
}) {
  return (
    <div class="field">
      <label for={id}>{label}</label>
      <select
        id={id}
        required
        value={value.value}
        onChange={(event) => {
          value.value = event.currentTarget.value;
        }}
      >
        {empty && <option value="">{BATCH.note.choose}</option>}
        {names.map((name) => (
          <option key={name} value={name}>
            {name}
          </option>
        ))}
      </select>
    </div>
  );
}
