import { useSignal } from '@preact/signals';
import { useState } from 'preact/hooks';
import { LARGE_ERROR_C, LARGEST_ERROR_C } from '../../../shared/thermometer/correction.ts';
import type { Thermometer } from '../../../shared/wire/thermometers.ts';
import { bodyOf, type FieldSpec, startOf, type Typed } from '../../forms.ts';
import { unit } from '../../settings.ts';
import { vesselAt } from '../../store.ts';
import { THERMOMETERS } from '../../texts/thermometers.ts';
import { decimal, degree, toUnit } from '../../units.ts';
import { keyOf } from '../../vessels.ts';
import { focusFirst, useFocusBack } from '../../views/focus.ts';
import { by, NameField, Problem, useAction } from '../../views/form.tsx';
import { TableFields, theirUnits } from '../../views/table-form.tsx';
import { degrees, degreesApart } from '../../views/words.ts';
import { keepCheck } from './calls.ts';
import { errorWords } from './error-words.ts';
import { type Preview, previewOf } from './preview.ts';

const texts = THERMOMETERS;
const optional = true;
const ICE: FieldSpec = { name: 'ice.readC', label: texts.fields.ice, is: 'temperature', optional };
const BOILING: FieldSpec = {
  name: 'boiling.readC',
  label: texts.fields.boiling,
  is: 'temperature',
  optional,
};
const DUE: FieldSpec = {
  name: 'due',
  label: texts.fields.due,
  is: 'date',
  optional,
  help: texts.fields.dueHelp,
};
const ANYWAY: FieldSpec = { name: 'anyway.reason', label: texts.fields.anyway, is: 'text' };

/** What was shown in the baths, and what is made of it, before it is kept. */
export function CheckForm({
  thermometer,
  onKept,
  onCancel,
}: {
  thermometer: Thermometer;
  onKept: () => unknown;
  onCancel: () => void;
}) {
  const { channel, water, check } = thermometer;
  const baths = water === null ? [ICE] : [ICE, BOILING];
  /** By which the numbers to be typed in are shown; where it is replaced meanwhile, they have to be read again. */
  const [readUnder] = useState(check?.noted ?? null);
  const typed = useSignal<Typed>(startOf([...baths, DUE, ANYWAY]));
  const { busy, problem, run, complain } = useAction();
  useFocusBack();
  const inBaths = bodyOf(baths, typed.value, theirUnits());
  const preview = 'wrong' in inBaths ? undefined : previewOf(inBaths.body, check, water?.boilingC ?? null);
  const fields = [...baths, DUE, ...(preview?.size === 'large' ? [ANYWAY] : [])];
  const reading = vesselAt(keyOf(thermometer))?.readings[channel];

  const send = (): void => {
    const said = bodyOf(fields, typed.value, theirUnits());
    if ('wrong' in said) {
      const { is, label } = said.wrong;
      complain(is === 'date' ? texts.wrongDay : texts.wrong(label));
      return;
    }
    if (preview === undefined) {
      complain(texts.wants);
      return;
    }
    void run(async () => {
      await keepCheck(thermometer, { ...said.body, readUnder, ...by() });
      await onKept();
    });
  };

  return (
    <form
      ref={focusFirst}
      class="stack"
      onSubmit={(event) => {
        event.preventDefault();
        send();
      }}
    >
      <p class="quiet">{texts.how}</p>
      {reading !== undefined && <p>{texts.shows(inHundredths(reading.value))}</p>}
      <p>
        {water === null
          ? texts.boilsUnknown
          : texts.boilsAt(degrees(water.boilingC), water.pressureHPa.toFixed(0))}
      </p>
      <TableFields fields={fields} typed={typed} />
      <NameField label={texts.name} />
      <p role="status">{preview === undefined ? texts.nothing : previewWords(preview)}</p>
      <Problem problem={problem} />
      <div class="actions">
        <button type="submit" disabled={busy}>
          {texts.keep}
        </button>
        <button type="button" class="plain" onClick={onCancel}>
          {texts.cancel}
        </button>
      </div>
    </form>
  );
}

/** Finer than elsewhere: what is read here every later reading goes by. */
const inHundredths = (c: number): string => `${decimal(toUnit(c, unit.value), 2)} ${degree(unit.value)}`;

function previewWords({ errors, exampleC, becomesC, size }: Preview): string {
  const found = errors.map(({ bath, errorC }) => errorWords(bath, errorC));
  const then =
    size === 'too-large'
      ? texts.tooLarge(degreesApart(LARGEST_ERROR_C))
      : texts.becomes(degrees(exampleC), degrees(becomesC));
  return [...found, then, ...(size === 'large' ? [texts.large(degreesApart(LARGE_ERROR_C))] : [])].join(' ');
}
