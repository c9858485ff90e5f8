import { useSignal } from '@preact/signals';
import type { AccessNote } from '../../../shared/wire/access.ts';
import { PEOPLE } from '../../texts/people.ts';
import { useNewest } from '../../views/answer.ts';
import { Problem } from '../../views/form.tsx';
import { when } from '../../views/words.ts';
import { getNotes } from './calls.ts';
import { noteSaid } from './rights.ts';

const texts = PEOPLE.noted;
const MOST_SHOWN = 50;

/** Who signed in, was refused, and changed who is let in; fetched when it is unfolded. */
export function Noted() {
  const notes = useSignal<AccessNote[] | undefined>(undefined);
  const { problem, ask } = useNewest();
  return (
    <details
      onToggle={(event) => {
        if (!event.currentTarget.open) return;
        void ask(getNotes, (found) => {
          notes.value = found;
        });
      }}
    >
      <summary>{texts.open}</summary>
      <Problem problem={problem} />
      {notes.value === undefined ? (
        problem === undefined && <p class="quiet">{PEOPLE.loading}</p>
      ) : notes.value.length === 0 ? (
        <p>{texts.none}</p>
      ) : (
        <ul class="noted">
          {notes.value.slice(0, MOST_SHOWN).map((note) => (
            <li key={JSON.stringify(note)}>
              <span class="quiet">{when(note.at, 'second')}</span> {noteSaid(note)}
            </li>
          ))}
        </ul>
      )}
    </details>
  );
}
