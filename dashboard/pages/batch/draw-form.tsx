import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import { conversionTestOf } from '../../../shared/batch/conditions.ts';
import type { Missing } from '../../../shared/wire/api.ts';
import type { Batch } from '../../../shared/wire/batch.ts';
import type { Lot } from '../../../shared/wire/lots.ts';
import { volumeUnit } from '../../settings.ts';
import { fetchBatch, later } from '../../store.ts';
import { BATCH } from '../../texts/batch.ts';
import { missingName } from '../../texts/live.ts';
import { parseNumber, volumeFromUnit } from '../../units.ts';
import { by, Field, NameField, Problem, useAction } from '../../views/form.tsx';
import { theirVolumeUnit } from '../../views/table-form.tsx';
import { litres } from '../../views/words.ts';
import { getLots } from '../stock/calls.ts';
import { drawFrom, getBatches } from './calls.ts';

/** What a draw is from. */
interface Source {
  key: string;
  label: string;
  from: { lot: string } | { batch: string };
  kind: Lot['kind'];
}

const kgSaid = (kg: number): string => `${Number(kg.toFixed(3))} kg`;

export const leftOf = (lot: Lot): string =>
  lot.litresLeft !== null ? litres(lot.litresLeft) : kgSaid(lot.kgLeft ?? 0);

/** A batch draws from a lot, or from a batch that failed. `lot`: from that one alone. */
export function DrawForm({
  site,
  batch,
  lot,
  onDrawn,
}: {
  site: string;
  batch: Batch;
  lot?: Lot;
  onDrawn?: () => void;
}) {
  const texts = BATCH.draws;
  const lots = useSignal<Lot[]>(lot === undefined ? [] : [lot]);
  const failed = useSignal<Batch[]>([]);
  const chosen = useSignal(lot === undefined ? '' : `lot ${lot.id}`);
  const typed = useSignal('');
  const reason = useSignal('');
  const said = useSignal('');
  const { busy, problem, run, complain } = useAction();
  const drawn = batch.draws.length;
  useEffect(() => {
    if (lot !== undefined) return;
    // Without them nothing can be chosen, which shows.
    getLots(site).then(
      (found) => {
        lots.value = found;
      },
      () => {},
    );
    getBatches({ site, open: 'false' }).then(
      ({ batches }) => {
        failed.value = batches.filter(
          (one) =>
            one.id !== batch.id &&
            (one.stage === 'rejected' || (one.stage === 'finished' && conversionTestOf(one) === false)),
        );
      },
      () => {},
    );
  }, [site, batch.id, drawn]);

  const fromLots = lots.value.filter((one) => !one.closed).map(sourceOf);
  const fromBatches = failed.value.map(
    (one): Source => ({ key: `batch ${one.id}`, label: one.name, from: { batch: one.id }, kind: 'oil' }),
  );
  const source = [...fromLots, ...fromBatches].find(({ key }) => key === chosen.value);
  const missing = problem?.missing ?? [];
  const short = missing.length > 0;
  const byWeight = source?.kind === 'catalyst';

  const send = async (event: Event): Promise<void> => {
    event.preventDefault();
    said.value = '';
    const number = parseNumber(typed.value);
    if (number === undefined || source === undefined) {
      complain(texts.wrong);
      return;
    }
    const done = await run(async () => {
      await drawFrom(batch.id, {
        ...source.from,
        ...(byWeight ? { kg: number } : { litres: volumeFromUnit(number, volumeUnit.value) }),
        ...by(),
        ...(short ? { anyway: { reason: reason.value.trim() } } : {}),
      });
      await fetchBatch(batch.id).catch(later);
    });
    if (!done) return;
    typed.value = '';
    reason.value = '';
    said.value = texts.saved;
    onDrawn?.();
  };

  return (
    <form onSubmit={send} class="draw-form">
      <div class="grid">
        {lot === undefined && (
          <div class="field">
            <label for="draw-from">{texts.from}</label>
            <select
              id="draw-from"
              required
              value={chosen.value}
              onChange={(event) => {
                chosen.value = event.currentTarget.value;
              }}
            >
              <option value="">{BATCH.note.choose}</option>
              {fromLots.length > 0 && (
                <optgroup label={texts.lots}>
                  {fromLots.map(({ key, label }) => (
                    <option key={key} value={key}>
                      {label}
                    </option>
                  ))}
                </optgroup>
              )}
              {fromBatches.length > 0 && (
                <optgroup label={texts.failedBatches}>
                  {fromBatches.map(({ key, label }) => (
                    <option key={key} value={key}>
                      {label}
                    </option>
                  ))}
                </optgroup>
              )}
            </select>
          </div>
        )}
        <Field
          label={
            byWeight
              ? texts.kg
              : source?.kind === 'dry-bed'
                ? texts.bedLitres(theirVolumeUnit())
                : texts.litres(theirVolumeUnit())
          }
          value={typed.value}
          numeric
          required
          onValue={(text) => {
            typed.value = text;
          }}
        />
        <NameField label={BATCH.name} />
      </div>
      {short ? (
        <>
          <MissingStock missing={missing} byWeight={byWeight} />
          <Field
            label={texts.anyway}
            value={reason.value}
            required
            onValue={(text) => {
              reason.value = text;
            }}
          />
        </>
      ) : (
        <Problem problem={problem} />
      )}
      <p role="status">{said.value}</p>
      <button type="submit" disabled={busy || (short && reason.value.trim() === '')}>
        {short ? texts.drawAnyway : texts.save}
      </button>
    </form>
  );
}

function sourceOf(lot: Lot): Source {
  const { draws } = BATCH;
  const label =
    lot.kind === 'dry-bed'
      ? draws.through(lot.name, litres(lot.litresThrough ?? 0))
      : draws.left(lot.name, leftOf(lot));
  return { key: `lot ${lot.id}`, label, from: { lot: lot.id }, kind: lot.kind };
}

function MissingStock({ missing, byWeight }: { missing: Missing; byWeight: boolean }) {
  const texts = BATCH.draws.short;
  const say = byWeight ? kgSaid : litres;
  return (
    <div class="missing" role="alert">
      <ul>
        {missing.map(({ what, has, needs }) => (
          <li key={what}>
            {what === 'stock'
              ? texts.stock(say(has), say(needs))
              : what === 'open-lot' || what === 'base-as-planned'
                ? texts[what]
                : missingName(what).name}
          </li>
        ))}
      </ul>
    </div>
  );
}
