import { useSignal } from '@preact/signals';
import { formatTemperature } from '../../shared/units/temperature.ts';
import { typeInReading } from '../api.ts';
import { unit } from '../settings.ts';
import { later, refetch } from '../store.ts';
import { TEXTS } from '../texts/live.ts';
import { degree, fromUnit, parseNumber } from '../units.ts';
import { by, Field, Problem, useAction } from './form.tsx';
import { when } from './words.ts';

/** A reading from a kitchen thermometer. */
export function TypedReading({ vesselKey }: { vesselKey: string }) {
  const text = useSignal('');
  const saved = useSignal('');
  const { busy, problem, run, complain } = useAction();

  const send = (): void => {
    saved.value = '';
    const typed = parseNumber(text.value);
    if (typed === undefined) {
      complain(TEXTS.typed.wrong);
      return;
    }
    void run(async () => {
      const answer = await typeInReading(vesselKey, {
        channel: 'liquid-temperature',
        value: fromUnit(typed, unit.value),
        ...by(),
      });
      text.value = '';
      saved.value = TEXTS.typed.saved(formatTemperature(answer.value, unit.value), when(answer.at, 'second'));
      await refetch().catch(later);
    });
  };

  return (
    <section class="typed">
      <h2>{TEXTS.typed.title}</h2>
      <p class="quiet">{TEXTS.typed.help}</p>
      <form
        class="inline"
        onSubmit={(event) => {
          event.preventDefault();
          send();
        }}
      >
        <Field
          label={TEXTS.typed.field(degree(unit.value))}
          value={text.value}
          numeric
          required
          onValue={(value) => {
            text.value = value;
          }}
        />
        <button type="submit" disabled={busy}>
          {TEXTS.typed.save}
        </button>
      </form>
      <Problem problem={problem} />
      <p class="quiet" role="status">
        {saved.value}
      </p>
    </section>
  );
}
