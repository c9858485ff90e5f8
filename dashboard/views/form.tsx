import { useSignal, useSignalEffect } from '@preact/signals';
import type { ComponentChildren } from 'preact';
import { useEffect, useId, useLayoutEffect, useRef } from 'preact/hooks';
import { ApiProblem } from '../api.ts';
import { ownName, person } from '../session.ts';
import { personName } from '../settings.ts';
import { synced } from '../store.ts';
import { focusAgain, type Trail, trail, useFocusBack } from './focus.ts';

/** Small parts that all forms share. */

interface FieldProps {
  label: string;
  value: string;
  onValue: (value: string) => void;
  numeric?: boolean;
  required?: boolean;
  help?: string;
  /** What deserves a second look in what was typed. */
  caution?: string | undefined;
  /** Id of a `datalist` of what may be meant. */
  list?: string | undefined;
}

export function Field({ label, value, onValue, numeric, required, help, caution, list }: FieldProps) {
  const id = useId();
  return (
    <div class="field">
      <label for={id}>{label}</label>
      <input
        id={id}
        value={value}
        required={required}
        list={list}
        autocomplete="off"
        inputMode={numeric ? 'decimal' : undefined}
        class={numeric ? 'number' : undefined}
        aria-describedby={help === undefined ? `${id}-caution` : `${id}-help ${id}-caution`}
        onInput={(event) => onValue(event.currentTarget.value)}
      />
      {help !== undefined && (
        <small id={`${id}-help`} class="quiet">
          {help}
        </small>
      )}
      <p id={`${id}-caution`} class="caution" role="status">
        {caution}
      </p>
    </div>
  );
}

/** The reader's name where it is not known yet: asked once, kept for later; nobody is asked who is signed in. */
export function NameField({ label }: { label: string }) {
  const asked = useRef(ownName.peek() === '');
  if (!asked.current || person.value !== undefined) return null;
  return (
    <Field
      label={label}
      value={personName.value}
      required
      onValue={(name) => {
        personName.value = name;
      }}
    />
  );
}

/** The name as a body carries it; of somebody who is signed in the daemon knows it. */
export const by = (): { by?: string } =>
  person.peek() !== undefined || ownName.peek() === '' ? {} : { by: ownName.peek() };

/** What an action answered: nothing yet, busy, or a problem in words. */
export function useAction(): {
  busy: boolean;
  problem: ApiProblem | undefined;
  run: (action: () => Promise<unknown>) => Promise<boolean>;
  complain: (message: string) => void;
} {
  const busy = useSignal(false);
  const problem = useSignal<ApiProblem | undefined>(undefined);
  /** Where the focus was when it was asked for. */
  const from = useRef<Trail>([]);
  // What waits for an answer cannot be pressed meanwhile, and may be gone afterwards: either loses the focus.
  useLayoutEffect(() => {
    if (busy.value) return;
    focusAgain(from.current);
    from.current = [];
  }, [busy.value]);
  useEffect(() => () => queueMicrotask(() => focusAgain(from.current)), []);
  useSignalEffect(() => {
    // With the link back it is no longer true.
    if (synced.value > 0 && problem.peek()?.code === 'offline') problem.value = undefined;
  });
  return {
    busy: busy.value,
    problem: problem.value,
    complain: (message) => {
      problem.value = new ApiProblem(0, 'input', message);
    },
    run: async (action) => {
      if (busy.peek()) return false;
      from.current = trail();
      busy.value = true;
      problem.value = undefined;
      try {
        await action();
        return true;
      } catch (error) {
        if (!(error instanceof ApiProblem)) throw error;
        problem.value = error;
        return false;
      } finally {
        busy.value = false;
      }
    },
  };
}

export function Problem({ problem }: { problem: ApiProblem | undefined }) {
  return (
    <p class="problem" role="alert">
      {problem?.message}
    </p>
  );
}

interface DialogProps {
  title: string;
  onClose: () => void;
  onSubmit: () => unknown;
  children: ComponentChildren;
}

/** A question over the page; Escape and its own buttons leave it. */
export function Dialog({ title, onClose, onSubmit, children }: DialogProps) {
  const dialog = useRef<HTMLDialogElement>(null);
  const id = useId();
  useEffect(() => dialog.current?.showModal(), []);
  useFocusBack();
  return (
    <dialog ref={dialog} aria-labelledby={id} onClose={onClose}>
      <form
        onSubmit={(event) => {
          event.preventDefault();
          onSubmit();
        }}
      >
        <h2 id={id}>{title}</h2>
        {children}
      </form>
    </dialog>
  );
}
