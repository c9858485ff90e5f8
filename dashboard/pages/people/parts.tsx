import type { Signal } from '@preact/signals';
import type { ComponentChildren } from 'preact';
import { useEffect, useId, useRef } from 'preact/hooks';
import { RIGHTS, type Right } from '../../../shared/wire/session.ts';
import { ApiProblem } from '../../api.ts';
import { PEOPLE, RIGHT_WORDS } from '../../texts/people.ts';
import { CopyLine } from '../../views/copy-line.tsx';
import { Dialog, Problem, useAction } from '../../views/form.tsx';

/** Small parts that the sections of this page share. */

/** A refusal in the words of this page, where it has any. */
export const inOwnWords = (problem: ApiProblem | undefined): ApiProblem | undefined => {
  const said = problem && PEOPLE.problems[problem.code];
  return said === undefined ? problem : new ApiProblem(problem!.status, problem!.code, said);
};

/** Rights to tick besides `look`, which everybody has; `fixed` ones are theirs in any case. */
export function RightBoxes({
  rights,
  offered = RIGHTS,
  fixed = [],
  note,
}: {
  rights: Signal<readonly Right[]>;
  offered?: readonly Right[];
  fixed?: readonly Right[];
  note?: string | undefined;
}) {
  const boxes = offered.filter((right) => right !== 'look' && !fixed.includes(right));
  return (
    <fieldset class="rights">
      <legend>{PEOPLE.rightsLegend}</legend>
      {(['look', ...fixed] as const).map((right) => (
        <p key={right} class="given">
          <span aria-hidden="true">✓</span> {RIGHT_WORDS[right]}
        </p>
      ))}
      {boxes.map((right) => (
        <label key={right} class="check">
          <input
            type="checkbox"
            checked={rights.value.includes(right)}
            onChange={(event) => {
              const others = rights.value.filter((one) => one !== right);
              rights.value = event.currentTarget.checked ? [...others, right] : others;
            }}
          />
          {RIGHT_WORDS[right]}
        </label>
      ))}
      {note !== undefined && <small class="quiet">{note}</small>}
    </fieldset>
  );
}

/** A secret that is seen once, with lines to copy; it has the focus, since it is gone afterwards. */
export function ShownOnce({
  title,
  lines,
  onDone,
}: {
  title: string;
  lines: readonly { name: string; line: string }[];
  onDone: () => void;
}) {
  const heading = useRef<HTMLHeadingElement>(null);
  const id = useId();
  // After the form has let go of the focus.
  useEffect(() => {
    const timer = setTimeout(() => heading.current?.focus());
    return () => clearTimeout(timer);
  }, []);
  return (
    <section class="shown-once" aria-labelledby={id}>
      <h3 id={id} ref={heading} tabIndex={-1}>
        {title}
      </h3>
      <p class="strong">{PEOPLE.secret.once}</p>
      {lines.map(({ name, line }) => (
        <div key={name} class="secret-line">
          <p>{name}</p>
          <CopyLine line={line} name={name} />
        </div>
      ))}
      <button type="button" onClick={onDone}>
        {PEOPLE.secret.done}
      </button>
    </section>
  );
}

/** Asks before something ends that cannot be had back. */
export function Ask({
  title,
  submit,
  action,
  onDone,
  onClose,
  children,
}: {
  title: string;
  submit: string;
  action: () => Promise<unknown>;
  onDone: () => unknown;
  onClose: () => void;
  children: ComponentChildren;
}) {
  const { busy, problem, run } = useAction();
  return (
    <Dialog
      title={title}
      onClose={onClose}
      onSubmit={async () => {
        if (!(await run(action))) return;
        onClose();
        await onDone();
      }}
    >
      {children}
      <Problem problem={inOwnWords(problem)} />
      <div class="actions">
        <button type="button" class="plain" onClick={onClose}>
          {PEOPLE.cancel}
        </button>
        <button type="submit" disabled={busy}>
          {submit}
        </button>
      </div>
    </Dialog>
  );
}

/** The buttons at the end of a form. */
export function FormEnd({
  submit,
  busy,
  onCancel,
}: {
  submit: string;
  busy: boolean;
  onCancel?: (() => void) | undefined;
}) {
  return (
    <div class="actions">
      <button type="submit" disabled={busy}>
        {submit}
      </button>
      {onCancel !== undefined && (
        <button type="button" class="plain" onClick={onCancel}>
          {PEOPLE.cancel}
        </button>
      )}
    </div>
  );
}
