import type { ComponentChildren } from 'preact';
import type { refused } from '../../store.ts';
import { mendOf } from '../../texts/mends.ts';
import { REFUSED } from '../../texts/refused.ts';
import { SET_UP } from '../../texts/set-up.ts';
import { when } from '../../views/words.ts';
import './refused.css';

/** A topic that breaks between its levels, not within a name. */
const breakable = (topic: string): ComponentChildren =>
  topic.split('/').map((level, place) => (
    <>
      {place > 0 && (
        <>
          /<wbr />
        </>
      )}
      {level}
    </>
  ));

/** What could not be taken in, why, and what to change so that it is. */
export function RefusedTable({ found }: { found: NonNullable<(typeof refused)['value']> }) {
  const texts = REFUSED;
  if (found.refused.length === 0) return <p>{texts.none}</p>;
  return (
    <>
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
          {found.refused.map(({ topic, code, because, count, first, last, from }) => (
            <tr key={`${topic} ${code}`}>
              <td class="code">{breakable(topic)}</td>
              <td>
                <p>
                  {because} <span class="quiet code">{code}</span>
                </p>
                {from !== null && <p>{texts.from(from)}</p>}
                <p class="mend">
                  <b>{SET_UP.refused.mend}:</b> {mendOf(code) ?? SET_UP.refused.noMend}
                </p>
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
      {found.others > 0 && <p>{texts.others(found.others)}</p>}
    </>
  );
}
