import { oldAfterMs } from '../../link.ts';
import { ifFahrenheitC } from '../../sent-doubt.ts';
import { isLive, now, speed, vessels } from '../../store.ts';
import { channelWord, SET_UP } from '../../texts/set-up.ts';
import { duration } from '../../units.ts';
import { keyOf } from '../../vessels.ts';
import { UnitDoubt } from '../../views/unit-doubt.tsx';
import { readingWords } from './reading-words.ts';
import { byName } from './vessels.tsx';

const texts = SET_UP.channels;

/** Every channel with its newest reading, and how old that is. */
export function Channels() {
  const all = byName(vessels.value?.values() ?? []).filter(
    ({ readings }) => Object.keys(readings).length > 0,
  );
  if (all.length === 0) return <p>{texts.none}</p>;
  return (
    <>
      {all.map(({ site, vessel, batch, readings }) => (
        <table key={keyOf({ site, vessel })}>
          <caption>{texts.caption(vessel, site)}</caption>
          <thead>
            <tr>
              <th scope="col">{texts.columns.channel}</th>
              <th scope="col">{texts.columns.means}</th>
              <th scope="col">{texts.columns.value}</th>
              <th scope="col">{texts.columns.age}</th>
            </tr>
          </thead>
          <tbody>
            {Object.entries(readings).map(([channel, { at, value, sound, typed }]) => {
              const ageMs = now.value - Date.parse(at);
              const ifFahrenheit = batch === null ? ifFahrenheitC(channel, { value, typed }) : null;
              const isOld = !isLive.value || (!typed && ageMs > oldAfterMs(speed.value));
              return (
                <tr key={channel}>
                  <td class="code">{channel}</td>
                  <td data-name={texts.columns.means}>{channelWord(channel)}</td>
                  <td data-name={texts.columns.value} class={isOld ? 'stale' : ''}>
                    <span>{readingWords(channel, value)}</span>
                    {!sound && <b> ({texts.unsound})</b>}
                    {typed && <span class="quiet"> ({texts.typed})</span>}
                    {ifFahrenheit !== null && <UnitDoubt value={value} celsius={ifFahrenheit} />}
                  </td>
                  <td data-name={texts.columns.age} class={isOld ? 'strong' : ''}>
                    {duration(ageMs)}
                  </td>
                </tr>
              );
            })}
          </tbody>
        </table>
      ))}
    </>
  );
}
