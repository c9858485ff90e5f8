import type { Signal } from '@preact/signals';
import { useId } from 'preact/hooks';
import type { FieldSpec, Typed, Units } from '../forms.ts';
import { unit, volumeUnit } from '../settings.ts';
import { BATCH } from '../texts/batch.ts';
import { degree } from '../units.ts';
import { inTheirWords } from './words.ts';

/** Fields of a form that is written as a table. */

export const theirUnits = (): Units => ({ temperature: unit.value, volume: volumeUnit.value });

export const theirVolumeUnit = (): string => (volumeUnit.value === 'L' ? 'L' : 'US gal');

const unitOf = ({ is, unit: stated }: FieldSpec): string | undefined =>
  is === 'volume' ? theirVolumeUnit() : is === 'temperature' ? degree(unit.value) : stated;

export function TableFields({ fields, typed }: { fields: readonly FieldSpec[]; typed: Signal<Typed> }) {
  return (
    <>
      {fields.map((field) => (
        <TableField
          key={field.name}
          field={field}
          value={typed.value[field.name] ?? ''}
          onValue={(value) => {
            typed.value = { ...typed.peek(), [field.name]: value };
          }}
        />
      ))}
    </>
  );
}

function TableField({
  field,
  value,
  onValue,
}: {
  field: FieldSpec;
  value: string;
  onValue: (value: string) => void;
}) {
  const id = useId();
  const { is, help, optional } = field;
  const unitName = unitOf(field);
  const label = inTheirWords(unitName === undefined ? field.label : `${field.label}, ${unitName}`);
  const choices = is === 'yes-no' ? { yes: BATCH.note.yes, no: BATCH.note.no } : field.options;
  const common = {
    id,
    value,
    required: optional !== true,
    'aria-describedby': help === undefined ? undefined : `${id}-help`,
  };
  return (
    <div class="field">
      <label for={id}>
        {label}
        {optional && <span class="quiet"> {BATCH.note.optional}</span>}
      </label>
      {choices !== undefined ? (
        <select {...common} onChange={(event) => onValue(event.currentTarget.value)}>
          <option value="">{BATCH.note.choose}</option>
          {Object.entries(choices).map(([key, text]) => (
            <option key={key} value={key}>
              {inTheirWords(text)}
            </option>
          ))}
        </select>
      ) : is === 'date' ? (
        <input {...common} type="date" onInput={(event) => onValue(event.currentTarget.value)} />
      ) : is === 'secret' ? (
        <input
          {...common}
          type="password"
          autocomplete="new-password"
          onInput={(event) => onValue(event.currentTarget.value)}
        />
      ) : (
        <input
          {...common}
          autocomplete="off"
          inputMode={is === 'text' || is === 'numbers' ? undefined : 'decimal'}
          class={is === 'text' ? undefined : 'number'}
          onInput={(event) => onValue(event.currentTarget.value)}
        />
      )}
      {help !== undefined && (
        <small id={`${id}-help`} class="quiet">
          {help}
        </small>
      )}
    </div>
  );
}
