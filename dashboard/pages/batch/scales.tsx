import { useSignal } from '@preact/signals';
import { useLayoutEffect, useRef } from 'preact/hooks';
import { isTooAcid, type ToWeigh, toWeigh } from '../../../shared/batch/scales.ts';
import type { Batch } from '../../../shared/wire/batch.ts';
import { fetchBatch, later } from '../../store.ts';
import { BATCH, SCALES } from '../../texts/batch.ts';
import { by, NameField, Problem, useAction } from '../../views/form.tsx';
import { FullScreen } from '../../views/full-screen.tsx';
import { noteEntry } from './calls.ts';
import { formatWeight, parseWeight, unitFor } from './weight.ts';

/** What goes into the batch, one after the other, in gloves: each weight is answered at once. */
export function Scales({ batch, onClose }: { batch: Batch; onClose: () => void }) {
  const things = toWeigh(batch);
  const key = ({ what, pass }: ToWeigh): string => `${what} ${pass}`;
  const chosen = useSignal(things.find(({ state }) => state !== 'right')?.what);
  const thing = things.find(({ what }) => what === chosen.value) ?? things[0];
  const after = things.slice(things.indexOf(thing!) + 1);
  const next = after.find(({ state }) => state !== 'right');
  return (
    <FullScreen title={SCALES.title} onClose={onClose}>
      {thing === undefined ? (
        <p class="full-said">{SCALES.none}</p>
      ) : (
        <>
          <Weigh
            key={key(thing)}
            batch={batch}
            thing={thing}
            next={next === undefined ? undefined : nameOf(next, batch)}
            onNext={() => {
              if (next === undefined) onClose();
              else chosen.value = next.what;
            }}
          />
          <nav class="to-weigh" aria-label={SCALES.list}>
            {things.map((one) => (
              <button
                key={key(one)}
                type="button"
                class="plain"
                aria-current={one === thing ? 'step' : undefined}
                onClick={() => {
                  chosen.value = one.what;
                }}
              >
                <span aria-hidden="true">{{ right: '✓', short: '·', over: '!' }[one.state]}</span>
                {nameOf(one, batch)}{' '}
                <small>
                  {SCALES.of(
                    formatWeight(one.weighedKg, unitFor(one.plannedKg)),
                    formatWeight(one.plannedKg),
                  )}
                  , {SCALES.listStates[one.state]}
                </small>
              </button>
            ))}
          </nav>
        </>
      )}
    </FullScreen>
  );
}

/** Lye by the name of what it is: as much KOH is not as much base as NaOH. */
const nameOf = ({ what }: ToWeigh, batch: Batch): string =>
  what === 'catalyst' ? (batch.computed?.catalyst ?? SCALES.names.catalyst) : SCALES.names[what];

/** The word stands large already. */
const STOP_BEFORE = /^STOP: /;

interface WeighProps {
  batch: Batch;
  thing: ToWeigh;
  next: string | undefined;
  onNext: () => void;
}

function Weigh({ batch, thing, next, onNext }: WeighProps) {
  const { what, pass, isDosed, plannedKg, weighedKg, state, entries } = thing;
  const typed = useSignal('');
  /** Why what was weighed last is to be typed anew; undefined where something new is weighed. */
  const instead = useSignal<string | undefined>(undefined);
  const field = useRef<HTMLInputElement>(null);
  const goOn = useRef<HTMLButtonElement>(null);
  const { busy, problem, run, complain } = useAction();
  const name = nameOf(thing, batch);
  const last = batch.entries.find(({ id }) => id === entries.at(-1));
  const lastKg = last?.what.kind === 'weighing' ? last.what.kg : 0;
  const barred = what === 'catalyst' && isTooAcid(batch);
  const isStop = barred || state === 'over';
  const leftKg = plannedKg - weighedKg;
  const expectedKg = instead.value === undefined && state === 'short' ? leftKg : plannedKg;
  const unit = unitFor(instead.value === undefined ? expectedKg : plannedKg);
  const asks = instead.value !== undefined || (state === 'short' && !barred);
  const understood = parseWeight(typed.value, unit, expectedKg);

  // Whoever has gloves on, or only keys, goes on where they are: with what is drawn, so that no key comes before it.
  useLayoutEffect(() => {
    (asks ? field.current : goOn.current)?.focus();
  }, [asks, entries.length, last?.id]);

  const send = async (event: Event): Promise<void> => {
    event.preventDefault();
    if (understood === undefined) {
      complain(SCALES.wrong);
      return;
    }
    const reason = instead.value;
    const sent = typed.value;
    // What is next may be typed as soon as this is taken, which the live link may say first.
    typed.value = '';
    const done = await run(() =>
      noteEntry(batch.id, {
        what: { kind: 'weighing', what, kg: Number(understood.toFixed(6)), ...(isDosed ? { pass } : {}) },
        ...by(),
        ...(reason === undefined || last === undefined ? {} : { corrects: { entry: last.id, reason } }),
      }),
    );
    if (!done) {
      if (typed.peek() === '') typed.value = sent;
      return;
    }
    await fetchBatch(batch.id).catch(later);
    instead.value = undefined;
  };
  const typeAnew = (reason: string): void => {
    instead.value = reason;
  };

  return (
    <>
      <p class="full-line">
        {instead.value !== undefined
          ? (instead.value === SCALES.tookOutReason ? SCALES.now : SCALES.instead)(name)
          : state === 'short' && weighedKg > 0
            ? SCALES.more(name, formatWeight(leftKg))
            : SCALES.weigh(name, formatWeight(plannedKg))}{' '}
        {instead.value === undefined && <span class="quiet">{SCALES.tare}</span>}
      </p>
      {(pass > 1 || pass === 0) && what !== 'oil' && (
        <p class="quiet">{pass === 0 ? SCALES.acid : SCALES.pass(pass)}</p>
      )}
      {isDosed && <p class="full-said">{SCALES.dosed}</p>}
      <div role="status" aria-live="assertive" class="verdict" data-verdict={isStop ? 'stop' : state}>
        {barred ? (
          <p class="full-line">{SCALES.tooAcid}</p>
        ) : (
          last !== undefined && (
            <>
              <p class="full-line">
                {state === 'right'
                  ? SCALES.right
                  : state === 'short'
                    ? SCALES.short(formatWeight(leftKg))
                    : what === 'oil'
                      ? SCALES.tooMuch
                      : SCALES.stop}
              </p>
              <p class="full-said">{last.result?.says.replace(STOP_BEFORE, '')}</p>
            </>
          )
        )}
      </div>
      {state === 'over' && instead.value === undefined && what !== 'oil' && (
        <p class="full-said">{SCALES.stopHelp}</p>
      )}
      {asks && (
        <form class="weigh-form" onSubmit={send}>
          <div class="field big-field">
            <label for="shown">{SCALES.shown(unit)}</label>
            <input
              id="shown"
              ref={field}
              data-first
              value={typed.value}
              inputMode="decimal"
              autocomplete="off"
              required
              aria-describedby="understood"
              onInput={(event) => {
                typed.value = event.currentTarget.value;
              }}
            />
            <small id="understood" role="status">
              {typed.value.trim() !== '' && understood !== undefined
                ? SCALES.understood(formatWeight(understood, unit))
                : ''}
            </small>
          </div>
          <button type="submit" class="main" disabled={busy}>
            {SCALES.enter}
          </button>
          <div class="whole">
            <NameField label={BATCH.name} />
          </div>
        </form>
      )}
      <Problem problem={problem} />
      <p class="actions">
        {state === 'right' && instead.value === undefined && (
          <button type="button" class="main" ref={goOn} data-first onClick={onNext}>
            {next === undefined ? SCALES.done : SCALES.next(next)}
          </button>
        )}
        {last !== undefined && instead.value === undefined && (
          <>
            {state === 'over' && (
              <button type="button" ref={goOn} onClick={() => typeAnew(SCALES.tookOutReason)}>
                {SCALES.tookOut}
              </button>
            )}
            <button type="button" class="plain" onClick={() => typeAnew(SCALES.typedWronglyReason)}>
              {SCALES.typedWrongly} ({formatWeight(lastKg, unitFor(plannedKg))})
            </button>
          </>
        )}
        {instead.value !== undefined && (
          <button
            type="button"
            class="plain"
            onClick={() => {
              instead.value = undefined;
            }}
          >
            {BATCH.note.cancel}
          </button>
        )}
      </p>
    </>
  );
}
