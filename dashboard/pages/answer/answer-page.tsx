import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import { type Answer, answerSchema } from '../../../shared/wire/reach.ts';
import { call, segment } from '../../api.ts';
import { alarmTitle } from '../../texts/alarm-titles.ts';
import { ANSWER } from '../../texts/reach.ts';
import { PriorityMark } from '../../views/alarms.tsx';
import { Problem, useAction } from '../../views/form.tsx';
import { when } from '../../views/words.ts';
import type { PageOf } from '../pages.ts';
import './answer.css';

/** What the link of a message leads to: what it is about, and the question once more. Needs no sign-in. */
export const AnswerPage: PageOf<'answer'> = ({ route }) => {
  const answer = useSignal<Answer | undefined>(undefined);
  const { busy, problem, run } = useAction();
  const path = `answers/${segment(route.id)}`;
  const ask = (method: 'GET' | 'POST'): void =>
    void run(async () => {
      answer.value = await call(answerSchema, path, method, method === 'POST' ? {} : undefined);
    });
  useEffect(() => ask('GET'), []);
  const found = answer.value;
  return (
    <section class="answer">
      <h1>{ANSWER.title}</h1>
      <Problem problem={problem} />
      {found === undefined ? (
        problem === undefined && <p>{ANSWER.fetching}</p>
      ) : (
        <>
          {found.state === 'open' ? (
            <Open answer={found} />
          ) : (
            <p role="status">{ANSWER.states[found.state]}</p>
          )}
          {found.state === 'open' && (
            <button type="button" disabled={busy} onClick={() => ask('POST')}>
              {ANSWER.yes(found.to)}
            </button>
          )}
        </>
      )}
      <p>
        <a class="button plain" href="#/">
          {ANSWER.look}
        </a>
      </p>
    </section>
  );
};

function Open({ answer }: { answer: Answer }) {
  return (
    <>
      <p>{ANSWER.to(answer.to)}</p>
      {answer.about === 'alone' && <p>{ANSWER.alone(answer.vessels.join(', '))}</p>}
      {answer.alarms.map(({ id, vessel, alarm, priority, at, because, todo }) => (
        <article key={id}>
          <h2>
            <PriorityMark priority={priority} /> {vessel}: {alarmTitle(alarm)}
          </h2>
          <p>
            {because} {ANSWER.since(when(at))}
          </p>
          <p>
            <b>{ANSWER.todo}</b> {todo}
          </p>
        </article>
      ))}
      <p>
        <b>{ANSWER.ask}</b>
      </p>
    </>
  );
}
