import { hrefOf } from '../route.ts';
import { person, signOut } from '../session.ts';
import { TEXTS } from '../texts/live.ts';
import { Problem, useAction } from './form.tsx';

/** Who is signed in, at the foot of every page, and the way out. */
export function SignedIn() {
  const { busy, problem, run } = useAction();
  if (person.value === undefined) return null;
  return (
    <div class="actions">
      <span>
        {TEXTS.signedIn.as} <a href={hrefOf('people')}>{person.value.name}</a>
      </span>
      <button type="button" class="plain" disabled={busy} onClick={() => void run(signOut)}>
        {TEXTS.signedIn.out}
      </button>
      <Problem problem={problem} />
    </div>
  );
}
