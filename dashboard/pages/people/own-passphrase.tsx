import { useSignal } from '@preact/signals';
import { ApiProblem } from '../../api.ts';
import { askSession } from '../../session.ts';
import { later } from '../../store.ts';
import { PEOPLE } from '../../texts/people.ts';
import { focusFirst } from '../../views/focus.ts';
import { Problem, useAction } from '../../views/form.tsx';
import { PassphraseField } from '../../views/passphrase-field.tsx';
import { TryAgain, useTryAgain } from '../../views/try-again.tsx';
import { bring } from '../sign-in/brought.ts';
import { changePassphrase } from './calls.ts';
import { FormEnd, inOwnWords } from './parts.tsx';

const texts = PEOPLE.own;

/** Whoever is signed in takes another passphrase, and signs in with it. */
export function OwnPassphrase({ name }: { name: string }) {
  const open = useSignal(false);
  if (open.value)
    return (
      <Change
        name={name}
        onCancel={() => {
          open.value = false;
        }}
      />
    );
  return (
    <button
      type="button"
      class="plain"
      onClick={() => {
        open.value = true;
      }}
    >
      {texts.open}
    </button>
  );
}

function Change({ name, onCancel }: { name: string; onCancel: () => void }) {
  const old = useSignal('');
  const next = useSignal('');
  const { busy, problem, run } = useAction();
  const { waits, wasWaiting, heed } = useTryAgain();
  const send = (): void => {
    if (waits > 0) return;
    void run(async () => {
      try {
        await heed(changePassphrase(old.value, next.value));
      } catch (error) {
        if (error instanceof ApiProblem && error.code === 'sign-in-refused')
          throw new ApiProblem(error.status, error.code, texts.wrong);
        throw error;
      }
      bring({ name, why: 'changed' });
      await askSession().catch(later);
    });
  };
  return (
    <form
      class="stack"
      ref={focusFirst}
      onSubmit={(event) => {
        event.preventDefault();
        send();
      }}
    >
      {/* For what keeps passphrases: whose it is. */}
      <input hidden readOnly autocomplete="username" value={name} />
      <PassphraseField label={texts.old} text={old} />
      <PassphraseField label={texts.next} text={next} isNew />
      <p class="quiet">{texts.help}</p>
      <Problem problem={wasWaiting ? undefined : inOwnWords(problem)} />
      <TryAgain waits={waits} wasWaiting={wasWaiting} />
      <FormEnd submit={PEOPLE.save} busy={busy} onCancel={onCancel} />
    </form>
  );
}
