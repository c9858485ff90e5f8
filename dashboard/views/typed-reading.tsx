import { useSignal } from '@preact/signals';
import { formatTemperature } from '../../shared/units/temperature.ts';
import { typeInReading } from '../api.ts';
import { mayAt } from '../forwarded.ts';
import { unit } from '../settings.ts';
import { later, refetch, vesselAt } from '../store.ts';
import { TYPED } from '../texts/typed.ts';
import { doubtOf } from '../typed-doubt.ts';
import { degree, fromUnit, parseNumber } from '../units.ts';
import { by, Field, Problem, useAction } from './form.tsx';
import { degrees, when } from './words.ts';

/** What deserves a second look in what was typed of a vessel, in words. */
function doubtHere(vesselKey: string, text: string): string | undefined {
  const vessel = vesselAt(vesselKey);
  const typed = parseNumber(text);
  if (vessel === undefined || typed === undefined) return undefined;
  const { boilingC, stage, readings } = vessel;
  const last = readings[CHANNEL];
  const lastC = last?.sound ? last.value : undefined;
  const doubt = doubtOf(typed, unit.value, { boilingC, stage, lastC });
  if (doubt === undefined) return undefined;
  const read = degrees(fromUnit(typed, unit.value));
  return doubt === 'hot'
    ? TYPED.hot(read, degrees(boilingC))
    : TYPED.otherUnit(read, degree(unit.value === 'C' ? 'F' : 'C'), degrees(lastC!));
}

const CHANNEL = 'liquid-temperature';

/** A reading from a kitchen thermometer. */
export function TypedReading({ vesselKey }: { vesselKey: string }) {
  const text = useSignal('');
  const saved = useSignal('');
  /** What was typed and is asked about; another number is another question. */
  const asked = useSignal<string | undefined>(undefined);
  const { busy, problem, run, complain } = useAction();

  /** Whether it is what was typed that is asked about, and why. */
  const doubt = asked.value === `${text.value} ${unit.value}` ? doubtHere(vesselKey, text.value) : undefined;

  const send = (anyway: boolean): void => {
    saved.value = '';
    const typed = parseNumber(text.value);
    if (typed === undefined) {
      complain(TYPED.wrong);
      return;
    }
    if (!anyway && doubtHere(vesselKey, text.value) !== undefined) {
      asked.value = `${text.value} ${unit.value}`;
      return;
    }
    void run(async () => {
      const answer = await typeInReading(vesselKey, {
        channel: CHANNEL,
        value: fromUnit(typed, unit.value),
        ...by(),
      });
      text.value = '';
      asked.value = undefined;
      saved.value = TYPED.saved(formatTemperature(answer.value, unit.value), when(answer.at, 'second'));
      await refetch().catch(later);
    });
  };

  if (!mayAt('work', vesselKey.split(':')[0]!)) return null;
  return (
    <section class="typed">
      <h2>{TYPED.title}</h2>
      <p class="quiet">{TYPED.help}</p>
      <form
        class="inline"
        onSubmit={(event) => {
          event.preventDefault();
          send(false);
        }}
      >
        <Field
          label={TYPED.field(degree(unit.value))}
          value={text.value}
          numeric
          required
          caution={doubt}
          onValue={(value) => {
            text.value = value;
          }}
        />
        <button type="submit" disabled={busy}>
          {TYPED.save}
        </button>
        {doubt !== undefined && (
          <button type="button" class="plain" disabled={busy} onClick={() => send(true)}>
            {TYPED.anyway}
          </button>
        )}
      </form>
      <Problem problem={problem} />
      <p class="quiet" role="status">
        {saved.value}
      </p>
    </section>
  );
}
