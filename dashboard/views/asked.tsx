import { useSignalEffect } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import { z } from 'zod';
import type { Alone } from '../../shared/wire/reach.ts';
import { call, segment } from '../api.ts';
import { vesselHref } from '../route.ts';
import { may, ownName, person } from '../session.ts';
import { later, question, synced } from '../store.ts';
import { ALONE } from '../texts/reach.ts';
import { keyOf } from '../vessels.ts';
import { alone, asked, fetchAlone } from '../working-alone.ts';
import './asked.css';
import { Problem, useAction } from './form.tsx';
import { clock } from './words.ts';

const EVERY_MS = 5000;

/** On top of every page: whoever works alone and is asked whether they are well, until they answer. */
export function Asked() {
  // A tab that nobody looks at asks on: its title says it, and it sounds.
  useEffect(() => {
    const timer = setInterval(() => void fetchAlone().catch(later), EVERY_MS);
    return () => {
      clearInterval(timer);
      alone.value = undefined;
    };
  }, []);
  const connection = synced.value;
  useEffect(() => {
    fetchAlone().catch(later);
  }, [connection]);
  useSignalEffect(() => {
    const first = asked.value.find(({ unanswered }) => !unanswered);
    question.value = first && ALONE.tab(first.by, first.vessel);
  });
  return (
    <div class="asked">
      {asked.value.map((one) => (
        <Question key={keyOf(one)} one={one} />
      ))}
    </div>
  );
}

/** As whom it can be answered here: nobody says of another that they are well. */
function answeringAs({ by: theirs }: Alone): { by?: string } | undefined {
  if (!may('work')) return undefined;
  if (person.value !== undefined) return theirs === person.value.name ? {} : undefined;
  // Where nobody signs in, on the screen of the shed too, it is theirs who says so by the button.
  return { by: theirs };
}

function Question({ one }: { one: Alone }) {
  const { busy, problem, run } = useAction();
  const as = answeringAs(one);
  const path = `vessels/${segment(keyOf(one))}/alone/answer`;
  return (
    <section aria-label={ALONE.title}>
      <p role="alert">
        {one.unanswered
          ? ALONE.unanswered(one.by, one.tell)
          : ALONE.askedBy(one.by, one.vessel, one.tell, clock(Date.parse(one.tells)))}
      </p>
      {as === undefined ? (
        <a href={vesselHref(one)}>{one.vessel}</a>
      ) : (
        <button
          type="button"
          disabled={busy}
          onClick={() => void run(() => call(z.unknown(), path, 'POST', as).finally(fetchAlone))}
        >
          {ownName.value === one.by ? ALONE.well : ALONE.wellAs(one.by)}
        </button>
      )}
      <Problem problem={problem} />
    </section>
  );
}
