import type { Signal } from '@preact/signals';
import { nameFrom } from '../../../shared/wire/name-from.ts';
import { SET_UP } from '../../texts/set-up.ts';
import { Field } from '../../views/form.tsx';

/** A name as a person says it, and what it goes by on the wire where that differs. */
export function NameOf({ label, text }: { label: string; text: Signal<string> }) {
  const name = nameFrom(text.value);
  const differs = name !== undefined && name !== text.value.trim();
  return (
    <Field
      label={label}
      value={text.value}
      required
      help={differs ? SET_UP.name.becomes(name) : SET_UP.name.help}
      onValue={(typed) => {
        text.value = typed;
      }}
    />
  );
}
