import { useSignal } from '@preact/signals';
import { useEffect, useId, useRef } from 'preact/hooks';
import { ApiProblem } from '../../api.ts';
import { lastOpen, signIn } from '../../session.ts';
import { SIGN_IN } from '../../texts/people.ts';
import { Problem, useAction } from '../../views/form.tsx';
import { PassphraseField } from '../../views/passphrase-field.tsx';
import { TryAgain, useTryAgain } from '../../views/try-again.tsx';
import { takeBrought } from './brought.ts';
import './sign-in.css';

const texts = SIGN_IN;

/** Why the form is there, where the page showed something before, and whose it probably is. */
function whyHere(): { said: string; name: string } {
  const brought = takeBrought();
  if (brought?.why === 'first') return { said: texts.nowWantedBy(brought.name), name: brought.name };
  if (brought !== undefined) return { said: texts.changed, name: brought.name };
  const before = lastOpen.peek();
  if (before === undefined) return { said: '', name: '' };
  const name = before.person?.name;
  return name === undefined ? { said: texts.nowWanted, name: '' } : { said: texts.signedOut(name), name };
}

/** Stands in the place of every page while somebody has to sign in; that page opens then as it was asked for. */
export function SignIn() {
  const why = useRef<ReturnType<typeof whyHere> | undefined>(undefined);
  why.current ??= whyHere();
  const { said } = why.current;
  const name = useSignal(why.current.name);
  const passphrase = useSignal('');
  const { busy, problem, run } = useAction();
  const { waits, wasWaiting, heed } = useTryAgain();
  const form = useRef<HTMLFormElement>(null);
  const id = useId();
  useEffect(() => {
    const fields = [...form.current!.querySelectorAll('input')];
    (fields.find(({ value }) => value === '') ?? fields[0])?.focus();
  }, []);

  const send = (): void => {
    if (waits > 0) return;
    void run(async () => {
      try {
        await heed(signIn(name.value.trim(), passphrase.value));
      } catch (error) {
        if (error instanceof ApiProblem && error.code === 'sign-in-refused')
          throw new ApiProblem(error.status, error.code, texts.wrong);
        throw error;
      }
    });
  };

  return (
    <section class="sign-in">
      <h1>{texts.title}</h1>
      <p id={`${id}-said`} role="status" class="strong">
        {said}
      </p>
      <p class="quiet">{texts.lead}</p>
      <form
        ref={form}
        onSubmit={(event) => {
          event.preventDefault();
          send();
        }}
      >
        <div class="field">
          <label for={`${id}-name`}>{texts.name}</label>
          <input
            id={`${id}-name`}
            autocomplete="username"
            autocapitalize="none"
            spellcheck={false}
            required
            value={name.value}
            aria-describedby={`${id}-said`}
            onInput={(event) => {
              name.value = event.currentTarget.value;
            }}
          />
        </div>
        <PassphraseField label={texts.passphrase} text={passphrase} />
        <Problem problem={wasWaiting ? undefined : problem} />
        <TryAgain waits={waits} wasWaiting={wasWaiting} />
        <button type="submit" aria-disabled={busy || waits > 0}>
          {texts.submit}
        </button>
      </form>
      <details>
        <summary>{texts.forgotten}</summary>
        <p>{texts.forgottenHelp}</p>
        <pre>
          <code>{texts.forgottenLine}</code>
        </pre>
      </details>
    </section>
  );
}
