import { useSignal } from '@preact/signals';
import { drainedSo, drainingOf } from '../../../shared/batch/draining.ts';
import { sum } from '../../../shared/batch/standing.ts';
import type { Batch } from '../../../shared/wire/batch.ts';
import { type BatchEntry, DRAINED } from '../../../shared/wire/entries.ts';
import type { Stage } from '../../../shared/wire/names.ts';
import { plain } from '../../forms.ts';
import { kept, volumeUnit } from '../../settings.ts';
import { fetchBatch, later } from '../../store.ts';
import { BATCH, BATCHES, DRAINING } from '../../texts/batch.ts';
import { STAGE_NAMES } from '../../texts/live.ts';
import { decimal, parseNumber, volumeFromUnit, volumeToUnit } from '../../units.ts';
import { by, Field, NameField, Problem, useAction } from '../../views/form.tsx';
import { FullScreen } from '../../views/full-screen.tsx';
import { theirVolumeUnit } from '../../views/table-form.tsx';
import { inTheirWords, litres } from '../../views/words.ts';
import { noteEntry } from './calls.ts';

type Drained = (typeof DRAINED)[number];

/** What is usually drained in a stage, where it is not glycerol. */
const USUAL: Partial<Record<Stage, Drained>> = {
  idle: 'water',
  warm: 'water',
  'dry-oil': 'water',
  wash: 'wash-water',
};

/** Stages in which glycerol is there to be drained. */
const HAS_SUNK: readonly Stage[] = ['settle', 'drain'];

/** One tap adds so much, in the reader's unit. */
const STEPS = { L: [1, 5], gal: [0.25, 1] } as const;

/** The size of one's own jug, in the reader's unit as it was typed. */
const jug = kept<string>('esterwatch.jug', '');

/** What was tapped and not noted yet, L, outlasts a reload. */
const tapsKey = (batch: string, what: Drained): string => `esterwatch.draining.${batch}.${what}`;

function readTaps(batch: string, what: Drained): number[] {
  try {
    const found: unknown = JSON.parse(localStorage.getItem(tapsKey(batch, what)) ?? '[]');
    return Array.isArray(found) && found.every((one) => typeof one === 'number' && one > 0) ? found : [];
  } catch {
    return [];
  }
}

function keepTaps(batch: string, what: Drained, taps: readonly number[]): void {
  try {
    if (taps.length === 0) localStorage.removeItem(tapsKey(batch, what));
    else localStorage.setItem(tapsKey(batch, what), JSON.stringify(taps));
  } catch {
    // Storage can be forbidden; the taps then last as long as the page.
  }
}

/** Glycerol that was noted, as long as the batch at hand is from before it. */
const litresNotTold = (noted: readonly BatchEntry[], { entries }: Batch): number =>
  sum(
    noted
      .filter(({ id }) => !entries.some((entry) => entry.id === id))
      .map(({ what }) => (what.kind === 'drained' && what.what === 'glycerol' ? what.litres : 0)),
  );

/** Counts what comes by taps, says how much is to come and when to slow down, and notes it at the end. */
export function Draining({ batch, onClose }: { batch: Batch; onClose: () => void }) {
  const what = useSignal<Drained>(USUAL[batch.stage] ?? 'glycerol');
  const taps = useSignal<readonly number[]>(readTaps(batch.id, what.value));
  const noted = useSignal<BatchEntry | undefined>(undefined);
  const notedHere = useSignal<readonly BatchEntry[]>([]);
  const { busy, problem, run } = useAction();
  const expected = what.value === 'glycerol' ? drainingOf(batch) : null;
  const now = sum(taps.value);
  const earlierL = expected === null ? 0 : expected.earlierL + litresNotTold(notedHere.value, batch);
  const total = earlierL + now;
  const hasSunk = HAS_SUNK.includes(batch.stage);
  const state = expected === null || !hasSunk ? undefined : drainedSo(total, expected);

  const choose = (next: Drained): void => {
    what.value = next;
    taps.value = readTaps(batch.id, next);
    noted.value = undefined;
  };
  const set = (next: readonly number[]): void => {
    taps.value = next;
    noted.value = undefined;
    keepTaps(batch.id, what.value, next);
  };
  const note = (): Promise<boolean> =>
    run(async () => {
      const entry = await noteEntry(batch.id, {
        what: { kind: 'drained', what: what.value, litres: Number(now.toFixed(6)) },
        ...by(),
      });
      set([]);
      noted.value = entry;
      notedHere.value = [...notedHere.value, entry];
      await fetchBatch(batch.id).catch(later);
    });

  return (
    <FullScreen title={DRAINING.title} onClose={onClose}>
      <div class="draining-head">
        <div class="field">
          <label for="drained">{DRAINING.what}</label>
          <select
            id="drained"
            value={what.value}
            onChange={(event) => choose(event.currentTarget.value as Drained)}
          >
            {DRAINED.map((one) => (
              <option key={one} value={one}>
                {inTheirWords(DRAINING.whats[one])}
              </option>
            ))}
          </select>
        </div>
        {expected === null ? (
          what.value === 'glycerol' && <p>{DRAINING.noPlan}</p>
        ) : (
          <p>
            {DRAINING.toCome(litres(expected.expectedL), litres(expected.lowL), litres(expected.highL))}.{' '}
            {DRAINING.slowFrom(litres(expected.slowFromL))}.
          </p>
        )}
      </div>
      <div role="status" aria-live="polite" class="verdict" data-verdict={state}>
        <p class="full-line">{DRAINING.soFar(litres(total))}</p>
        {earlierL > 0 && now > 0 && <p class="quiet">{DRAINING.ofWhich(litres(earlierL))}</p>}
        {state !== undefined && <p class="full-said">{DRAINING.states[state]}</p>}
        {what.value === 'glycerol' && !hasSunk && (
          <p class="full-said">
            {inTheirWords(
              DRAINING.notNow(batch.stages.length === 0 ? BATCHES.notBegun : STAGE_NAMES[batch.stage]),
            )}
          </p>
        )}
      </div>
      {expected !== null && (
        <Measure total={total} low={expected.lowL} high={expected.highL} slow={expected.slowFromL} />
      )}
      <div class="taps">
        {STEPS[volumeUnit.value].map((step, i) => (
          <Tap key={step} amount={step} first={i === 0} onTap={(volume) => set([...taps.value, volume])} />
        ))}
        <OwnJug onTap={(volume) => set([...taps.value, volume])} />
      </div>
      <div class="narrow-field">
        <NameField label={BATCH.name} />
      </div>
      <Problem problem={problem} />
      {noted.value !== undefined && (
        <div role="status" class="full-said">
          <p>
            {DRAINING.noted} {inTheirWords(noted.value.result?.says ?? '')}
          </p>
          {expected !== null && total < expected.lowL && (
            <p>
              <b>{DRAINING.poor}</b>
            </p>
          )}
        </div>
      )}
      <p class="actions">
        <button type="button" class="main" disabled={busy || now === 0} onClick={note}>
          {DRAINING.note(litres(now))}
        </button>
        <button
          type="button"
          class="plain"
          aria-disabled={taps.value.length === 0}
          onClick={() => taps.value.length > 0 && set(taps.value.slice(0, -1))}
        >
          {DRAINING.undo}
        </button>
        {now > 0 && <span class="quiet">{DRAINING.kept}</span>}
      </p>
    </FullScreen>
  );
}

function Tap({
  amount,
  first,
  onTap,
}: {
  amount: number;
  first?: boolean;
  onTap: (volumeL: number) => void;
}) {
  return (
    <button
      type="button"
      class="tap"
      data-first={first ? '' : undefined}
      onClick={() => onTap(volumeFromUnit(amount, volumeUnit.value))}
    >
      {DRAINING.add(`${plain(amount)} ${theirVolumeUnit()}`)}
    </button>
  );
}

function OwnJug({ onTap }: { onTap: (volumeL: number) => void }) {
  const size = parseNumber(jug.value);
  const isOwn = size !== undefined && size > 0 && !STEPS[volumeUnit.value].some((step) => step === size);
  return (
    <div class="own-jug">
      {isOwn && <Tap amount={size} onTap={onTap} />}
      <Field
        label={DRAINING.jug(theirVolumeUnit())}
        value={jug.value}
        numeric
        onValue={(text) => {
          jug.value = text;
        }}
      />
    </div>
  );
}

/** How much is out, against what is to come: hatched where it should end. */
function Measure({ total, low, high, slow }: { total: number; low: number; high: number; slow: number }) {
  const most = Math.max(high, total) * 1.1;
  const at = (volume: number): number => (100 * volume) / most;
  const shown = (volume: number): string => decimal(volumeToUnit(volume, volumeUnit.value), 1);
  return (
    <figure class="out-of" aria-hidden="true">
      <svg viewBox="0 0 100 10" preserveAspectRatio="none" aria-hidden="true">
        <rect class="frame" x="0" y="0" width="100" height="10" />
        <rect class="between" x={at(low)} y="0" width={at(high) - at(low)} height="10" />
        <rect class="earned" x="0" y="2.5" width={at(total)} height="5" />
        <path class="slow" d={`M${at(slow)} 0V10`} />
      </svg>
      <figcaption>
        <span class="at" style={{ left: `${at(slow)}%` }}>
          {shown(slow)}
        </span>
        <span class="at" style={{ left: `${at(high)}%` }}>
          {shown(high)}
        </span>
      </figcaption>
    </figure>
  );
}
