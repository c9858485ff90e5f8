import { useComputed, useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import { type Draw, LOT_KINDS, type Lot, type LotKind, type WentInto } from '../../../shared/wire/lots.ts';
import { bodyOf, startOf, type Typed } from '../../forms.ts';
import { hrefOf, idHref, type Route } from '../../route.ts';
import { may } from '../../session.ts';
import { batches, synced, vessels } from '../../store.ts';
import { BATCH } from '../../texts/batch.ts';
import { STOCK } from '../../texts/stock.ts';
import { useNewest } from '../../views/answer.ts';
import { by, Field, NameField, Problem, useAction } from '../../views/form.tsx';
import { Lacks } from '../../views/lacks.tsx';
import { Part } from '../../views/part.tsx';
import { TableFields, theirUnits } from '../../views/table-form.tsx';
import { amount, degrees, litres, when } from '../../views/words.ts';
import { DrawForm, leftOf } from '../batch/draw-form.tsx';
import { linesOf } from '../batch/entry-forms.ts';
import { getLots, noteOfLot, takeIn } from './calls.ts';
import { LOT_FORMS, noteFields, noteKindsOf } from './lot-forms.ts';
import '../../views/parts.css';
import './stock.css';

const saying = { litres, degrees };

/** Lots of what goes into batches: all of them, or the one that the address names. */
export function StockPage({ route }: { route: Route & { page: 'stock' } }) {
  const found = useSignal<Lot[] | undefined>(undefined);
  const { problem, ask } = useNewest();
  const fetchAll = (): Promise<boolean> =>
    ask(getLots, (lots) => {
      found.value = lots;
    });
  const again = synced.value;
  useEffect(() => {
    void fetchAll();
  }, [again]);

  const wanted = route.query.get('lot');
  const lot = found.value?.find(({ id }) => id === wanted);
  return (
    <section class="stock-page">
      {wanted !== null && (
        <p class="back">
          <a class="button plain" href={hrefOf('stock')}>
            <span aria-hidden="true">← </span>
            {STOCK.all}
          </a>
        </p>
      )}
      {lot === undefined && <h1>{STOCK.title}</h1>}
      <Problem problem={problem} />
      {found.value === undefined ? (
        problem === undefined && <p class="quiet">{STOCK.loading}</p>
      ) : wanted === null ? (
        <AllLots lots={found.value} onChanged={fetchAll} />
      ) : lot === undefined ? (
        <p>{STOCK.unknown}</p>
      ) : (
        <OneLot key={lot.id} lot={lot} onChanged={fetchAll} />
      )}
    </section>
  );
}

function AllLots({ lots, onChanged }: { lots: readonly Lot[]; onChanged: () => Promise<boolean> }) {
  const withClosed = useSignal(false);
  const shown = lots.filter(({ closed }) => withClosed.value || !closed);
  return (
    <>
      <p>{STOCK.lead}</p>
      {lots.some(({ closed }) => closed) && (
        <label class="check">
          <input
            type="checkbox"
            checked={withClosed.value}
            onChange={(event) => {
              withClosed.value = event.currentTarget.checked;
            }}
          />
          {STOCK.showClosed}
        </label>
      )}
      <div class="kinds">
        {LOT_KINDS.map((kind) => (
          <LotsOf key={kind} kind={kind} lots={shown.filter((lot) => lot.kind === kind)} />
        ))}
      </div>
      {may('work') ? <TakeIn onTaken={onChanged} /> : <Lacks right="work" />}
    </>
  );
}

function LotsOf({ kind, lots }: { kind: LotKind; lots: readonly Lot[] }) {
  return (
    <Part title={STOCK.kinds[kind]}>
      {lots.length === 0 ? (
        <p class="quiet">{STOCK.none}</p>
      ) : (
        <ul>
          {lots.map((lot) => (
            <li key={lot.id} class="lot">
              <a class="name" href={hrefOf('stock', { lot: lot.id })}>
                <bdi>{lot.name}</bdi>
              </a>
              <span class="quiet">{lot.site}</span>
              <LeftOver lot={lot} />
              <span class="quiet">{knownSaid(lot)}</span>
            </li>
          ))}
        </ul>
      )}
    </Part>
  );
}

/** What is left; that there is less than nothing, or that a bed is due, is said. */
function LeftOver({ lot }: { lot: Lot }) {
  if (lot.what.kind === 'dry-bed')
    return (
      <span>
        {STOCK.through(litres(lot.litresThrough ?? 0), litres(lot.what.dueAfterL))}
        {lot.due && <b class="look"> {STOCK.due}</b>}
      </span>
    );
  const left = lot.litresLeft ?? lot.kgLeft ?? 0;
  if (left < 0) {
    const lacking = lot.litresLeft !== null ? litres(-left) : `${amount(-left)} kg`;
    return <b class="look">{STOCK.overdrawn(lacking)}</b>;
  }
  return (
    <span>
      {STOCK.left(leftOf(lot))}
      {lot.closed && <span class="quiet">, {STOCK.closed}</span>}
    </span>
  );
}

/** What is known of it now, as it would be said when it is taken in. */
function knownSaid({ kind, known }: Lot): string {
  const body = Object.fromEntries(Object.entries(known).filter(([, value]) => value !== null));
  return linesOf(LOT_FORMS[kind], body, saying);
}

function TakeIn({ onTaken }: { onTaken: () => Promise<boolean> }) {
  const sites = useComputed(() => [
    ...new Set([...(vessels.value?.values() ?? [])].map(({ site }) => site)),
  ]).value;
  const kind = useSignal<LotKind>('oil');
  const site = useSignal('');
  const name = useSignal('');
  const typed = useSignal<Typed>(startOf(LOT_FORMS.oil));
  const said = useSignal('');
  const { busy, problem, run, complain } = useAction();
  const at = site.value === '' ? sites[0] : site.value;
  const fields = LOT_FORMS[kind.value];

  const send = async (event: Event): Promise<void> => {
    event.preventDefault();
    said.value = '';
    const made = bodyOf(fields, typed.value, theirUnits());
    if ('wrong' in made) {
      complain(STOCK.wrong(made.wrong.label));
      return;
    }
    const done = await run(async () => {
      const lot = await takeIn({
        site: at,
        kind: kind.value,
        name: name.value.trim(),
        ...by(),
        ...made.body,
      });
      said.value = STOCK.saved(lot.name);
    });
    if (!done) return;
    name.value = '';
    typed.value = startOf(fields);
    await onTaken();
  };
  return (
    <Part title={STOCK.takeIn}>
      {sites.length === 0 ? (
        <p>{STOCK.noSite}</p>
      ) : (
        <form onSubmit={send}>
          <div class="grid">
            <div class="field">
              <label for="lot-kind">{STOCK.takeInKind}</label>
              <select
                id="lot-kind"
                value={kind.value}
                onChange={(event) => {
                  kind.value = event.currentTarget.value as LotKind;
                  typed.value = startOf(LOT_FORMS[kind.value]);
                }}
              >
                {LOT_KINDS.map((one) => (
                  <option key={one} value={one}>
                    {STOCK.oneKind[one]}
                  </option>
                ))}
              </select>
            </div>
            {sites.length > 1 && (
              <div class="field">
                <label for="lot-site">{STOCK.site}</label>
                <select
                  id="lot-site"
                  value={at}
                  onChange={(event) => {
                    site.value = event.currentTarget.value;
                  }}
                >
                  {sites.map((one) => (
                    <option key={one} value={one}>
                      {one}
                    </option>
                  ))}
                </select>
              </div>
            )}
            <Field
              label={STOCK.name}
              value={name.value}
              required
              onValue={(text) => {
                name.value = text;
              }}
            />
            <TableFields fields={fields} typed={typed} />
            <NameField label={BATCH.name} />
          </div>
          <Problem problem={problem} />
          <button type="submit" disabled={busy}>
            {STOCK.save}
          </button>
        </form>
      )}
      <p role="status">{said.value}</p>
    </Part>
  );
}

function OneLot({ lot, onChanged }: { lot: Lot; onChanged: () => Promise<boolean> }) {
  const inTime = lot.notes.toSorted((a, b) => a.at.localeCompare(b.at));
  return (
    <>
      <header>
        <h1>
          <bdi>{lot.name}</bdi>
        </h1>
        <p class="quiet">
          {STOCK.oneKind[lot.kind]}, {lot.site}, {STOCK.takenIn(when(lot.at), lot.by)}
        </p>
        <p class="large">
          <LeftOver lot={lot} />
        </p>
      </header>
      <Part title={STOCK.known}>
        <p>{knownSaid(lot) || STOCK.noNotes}</p>
        <h3>{STOCK.start}</h3>
        <p>{linesOf(LOT_FORMS[lot.kind], lot.what, saying)}</p>
        <h3>{STOCK.notes}</h3>
        {inTime.length === 0 ? (
          <p class="quiet">{STOCK.noNotes}</p>
        ) : (
          <ul>
            {inTime.map(({ id, at, by: who, what }) => (
              <li key={id}>
                <span class="quiet">
                  {when(at)}, {who}:
                </span>{' '}
                {STOCK.noteKinds[what.kind]}
                {colon(linesOf(noteFields(lot.kind, what.kind), what, saying))}
              </li>
            ))}
          </ul>
        )}
      </Part>
      <Into wentInto={lot.wentInto} />
      {lot.tried.length > 0 && (
        <Part title={STOCK.tried}>
          <ul>
            {lot.tried.map(({ batch, name, at, litres: volume, base, baseGPerL, passed, dropoutMl }) => (
              <li key={batch}>
                <a href={idHref('batch', batch)}>
                  <bdi>{name}</bdi>
                </a>
                :{' '}
                {STOCK.triedSaid(
                  litres(volume),
                  base === null || baseGPerL === null ? '' : STOCK.triedDose(baseGPerL.toFixed(1), base),
                )}
                , <b>{passed ? STOCK.triedPassed : STOCK.triedFailed(amount(dropoutMl))}</b>{' '}
                <span class="quiet">{when(at)}</span>
              </li>
            ))}
          </ul>
        </Part>
      )}
      {may('work') && !lot.closed && <DrawHere lot={lot} onDrawn={onChanged} />}
      {may('work') && <NoteOfLot lot={lot} onNoted={onChanged} />}
    </>
  );
}

const colon = (text: string): string => (text === '' ? '' : `: ${text}`);

function Into({ wentInto }: { wentInto: readonly WentInto[] }) {
  return (
    <Part title={STOCK.wentInto}>
      {wentInto.length === 0 ? (
        <p class="quiet">{STOCK.wentNowhere}</p>
      ) : (
        <ul>
          {wentInto.map(({ batch, name, draw, at, by: who, undone, ...drawn }) => (
            <li key={draw} class={undone === null ? undefined : 'gone'}>
              <a href={idHref('batch', batch)}>
                <bdi>{name}</bdi>
              </a>
              : {drawnSaid(drawn)}{' '}
              <span class="quiet">
                {when(at)}, {who}
              </span>
              {undone !== null && <span class="quiet"> ({STOCK.takenBack(undone.reason)})</span>}
            </li>
          ))}
        </ul>
      )}
    </Part>
  );
}

const drawnSaid = ({ litres: volume, kg }: Pick<Draw, 'litres' | 'kg'>): string =>
  volume !== null ? litres(volume) : `${amount(kg ?? 0)} kg`;

/** From this end: the batch is chosen, the lot is this one. */
function DrawHere({ lot, onDrawn }: { lot: Lot; onDrawn: () => Promise<boolean> }) {
  const open = [...batches.value.values()].filter((batch) => batch.open && batch.site === lot.site);
  const chosen = useSignal('');
  const batch = open.find(({ id }) => id === chosen.value) ?? open[0];
  return (
    <Part title={STOCK.draw}>
      {batch === undefined ? (
        <p class="quiet">{STOCK.drawNone}</p>
      ) : (
        <>
          <div class="field narrow-field">
            <label for="draw-batch">{STOCK.drawBatch}</label>
            <select
              id="draw-batch"
              value={batch.id}
              onChange={(event) => {
                chosen.value = event.currentTarget.value;
              }}
            >
              {open.map(({ id, name }) => (
                <option key={id} value={id}>
                  {name}
                </option>
              ))}
            </select>
          </div>
          <DrawForm key={batch.id} site={lot.site} batch={batch} lot={lot} onDrawn={onDrawn} />
        </>
      )}
    </Part>
  );
}

function NoteOfLot({ lot, onNoted }: { lot: Lot; onNoted: () => Promise<boolean> }) {
  const kinds = noteKindsOf(lot.kind);
  const kind = useSignal(kinds[0]!);
  const fields = noteFields(lot.kind, kind.value);
  const typed = useSignal<Typed>(startOf(fields));
  const said = useSignal('');
  const { busy, problem, run, complain } = useAction();
  const send = async (event: Event): Promise<void> => {
    event.preventDefault();
    said.value = '';
    const made = bodyOf(fields, typed.value, theirUnits());
    if ('wrong' in made) {
      complain(STOCK.wrong(made.wrong.label));
      return;
    }
    const done = await run(() => noteOfLot(lot.id, { what: { kind: kind.value, ...made.body }, ...by() }));
    if (!done) return;
    typed.value = startOf(fields);
    said.value = STOCK.noteSaved;
    await onNoted();
  };
  return (
    <Part title={STOCK.note}>
      <form onSubmit={send}>
        <div class="grid">
          <div class="field">
            <label for="lot-note">{STOCK.noteKind}</label>
            <select
              id="lot-note"
              value={kind.value}
              onChange={(event) => {
                kind.value = event.currentTarget.value as (typeof kinds)[number];
                typed.value = startOf(noteFields(lot.kind, kind.value));
              }}
            >
              {kinds.map((one) => (
                <option key={one} value={one}>
                  {STOCK.noteKinds[one]}
                </option>
              ))}
            </select>
          </div>
          <TableFields fields={fields} typed={typed} />
          <NameField label={BATCH.name} />
        </div>
        <Problem problem={problem} />
        <p role="status">{said.value}</p>
        <button type="submit" disabled={busy}>
          {STOCK.noteSave}
        </button>
      </form>
    </Part>
  );
}
