import type { ComponentChildren } from 'preact';

/** One line to type into, with what stands for it when it is empty, and what is wrong with it. */

interface EntryProps {
  /** Name of the entry, from which its id is made. */
  name: string;
  label: string;
  unit?: string;
  value: string;
  onValue: (value: string) => void;
  numeric?: boolean;
  help?: string | undefined;
  wrong?: string | undefined;
  /** What stands beside it, such as its cautions. */
  children?: ComponentChildren;
}

export const entryId = (name: string): string => `entry-${name.replaceAll('.', '-')}`;

export function Entry({
  name,
  label,
  unit,
  value,
  onValue,
  numeric = true,
  help,
  wrong,
  children,
}: EntryProps) {
  const id = entryId(name);
  return (
    <div class={`entry ${wrong === undefined ? '' : 'is-wrong'}`}>
      <label for={id}>
        {label}
        {unit !== undefined && unit !== '' && <span class="quiet">, {unit}</span>}
      </label>
      <input
        id={id}
        value={value}
        autocomplete="off"
        inputMode={numeric ? 'decimal' : undefined}
        aria-invalid={wrong !== undefined}
        aria-describedby={`${id}-help ${id}-wrong`}
        onInput={(event) => onValue(event.currentTarget.value)}
      />
      <small id={`${id}-help`} class="quiet">
        {help}
      </small>
      <p id={`${id}-wrong`} class="problem" role="status">
        {wrong}
      </p>
      {children}
    </div>
  );
}

/** One of a few, as a row of large buttons. */
export function OneOf<T extends string>({
  name,
  legend,
  options,
  value,
  onValue,
  help,
  wrong,
}: {
  name: string;
  legend: string;
  options: Readonly<Record<T, string>>;
  value: T | '';
  onValue: (value: T) => void;
  help?: string | undefined;
  wrong?: string | undefined;
}) {
  const id = entryId(name);
  return (
    <fieldset class="one-of" aria-describedby={`${id}-help ${id}-wrong`}>
      <legend>{legend}</legend>
      <div class="row">
        {(Object.entries(options) as [T, string][]).map(([option, label], i) => (
          <label key={option} class="check">
            <input
              id={i === 0 ? id : undefined}
              type="radio"
              name={name}
              checked={value === option}
              onChange={() => onValue(option)}
            />
            {label}
          </label>
        ))}
      </div>
      <small id={`${id}-help`} class="quiet">
        {help}
      </small>
      <p id={`${id}-wrong`} class="problem" role="status">
        {wrong}
      </p>
    </fieldset>
  );
}
