import { useEffect } from 'preact/hooks';
import { fetchRefused, refused } from '../../store.ts';
import { TEXTS } from '../../texts/live.ts';
import { Problem, useAction } from '../../views/form.tsx';
import { when } from '../../views/words.ts';

/** Readings that could not be taken in, and why. */
export function RefusedPage() {
  const { busy, problem, run } = useAction();
  const fetchAgain = (): void => {
    void run(fetchRefused);
  };
  useEffect(fetchAgain, []);

  const texts = TEXTS.refused;
  const found = refused.value;
  return (
    <section class="refused">
      <h1>{texts.title}</h1>
      <p>{texts.lead}</p>
      <Problem problem={problem} />
      {found?.refused.length === 0 && <p>{texts.none}</p>}
      {found !== undefined && found.refused.length > 0 && (
        <table>
          <thead>
            <tr>
              <th scope="col">{texts.columns.topic}</th>
              <th scope="col">{texts.columns.because}</th>
              <th scope="col">{texts.columns.count}</th>
              <th scope="col">{texts.columns.first}</th>
              <th scope="col">{texts.columns.last}</th>
            </tr>
          </thead>
          <tbody>
            {found.refused.map(({ topic, code, because, count, first, last }) => (
              <tr key={`${topic} ${code}`}>
                <td class="code">{topic}</td>
                <td>
                  {because} <span class="quiet code">{code}</span>
                </td>
                <td data-name={texts.columns.count} class="count">
                  {count}
                </td>
                <td data-name={texts.columns.first} class="time">
                  {when(first, 'second')}
                </td>
                <td data-name={texts.columns.last} class="time">
                  {when(last, 'second')}
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      )}
      {found !== undefined && found.others > 0 && <p>{texts.others(found.others)}</p>}
      <button type="button" class="plain" disabled={busy} onClick={fetchAgain}>
        {texts.again}
      </button>
    </section>
  );
}
