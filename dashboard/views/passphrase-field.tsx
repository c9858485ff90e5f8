import { type Signal, useSignal } from '@preact/signals';
import { useId } from 'preact/hooks';
import { MOST_PASSPHRASE } from '../../shared/wire/access.ts';
import { PASSPHRASE } from '../texts/people.ts';
import './passphrase-field.css';

/** A passphrase, hidden until it is to be seen; a new one is told what it has to be. */
export function PassphraseField({
  label,
  text,
  isNew = false,
}: {
  label: string;
  text: Signal<string>;
  isNew?: boolean;
}) {
  const shown = useSignal(false);
  const id = useId();
  return (
    <div class="field passphrase">
      <label for={id}>{label}</label>
      <div>
        <input
          id={id}
          // Either takes the same, which the types do not know.
          type={(shown.value ? 'text' : 'password') as 'password'}
          autocomplete={isNew ? 'new-password' : 'current-password'}
          autocapitalize="none"
          spellcheck={false}
          required
          maxLength={MOST_PASSPHRASE}
          value={text.value}
          aria-describedby={isNew ? `${id}-help` : undefined}
          onInput={(event) => {
            text.value = event.currentTarget.value;
          }}
        />
        <button
          type="button"
          class="plain"
          aria-pressed={shown.value}
          aria-controls={id}
          onClick={() => {
            shown.value = !shown.value;
          }}
        >
          {PASSPHRASE.show}
        </button>
      </div>
      {isNew && (
        <small id={`${id}-help`} class="quiet">
          {PASSPHRASE.help}
        </small>
      )}
    </div>
  );
}
