import type { Device } from '../../../shared/wire/set-up.ts';
import { now } from '../../store.ts';
import { channelWord, SET_UP } from '../../texts/set-up.ts';
import { duration } from '../../units.ts';
import { when } from '../../views/words.ts';
import { readingWords } from './reading-words.ts';

const texts = SET_UP.devices;

/** A reading does not name its device: what came of a whole place may be another's. */
function newestSent({ vessel: served, newest }: Device): string {
  if (served === null) return texts.notKnown;
  if (newest === null) return texts.nothing;
  const { vessel, channel, at, value } = newest;
  return texts.newest(
    channelWord(channel),
    readingWords(channel, value),
    vessel,
    duration(now.value - Date.parse(at)),
  );
}

/** Devices: whether they are here, and what they sent last. */
export function Devices({ devices }: { devices: readonly Device[] }) {
  return (
    <>
      <p class="quiet">{texts.lead}</p>
      {devices.length === 0 ? (
        <p>{texts.none}</p>
      ) : (
        <table>
          <thead>
            <tr>
              <th scope="col">{texts.columns.device}</th>
              <th scope="col">{texts.columns.said}</th>
              <th scope="col">{texts.columns.serves}</th>
              <th scope="col">{texts.columns.newest}</th>
            </tr>
          </thead>
          <tbody>
            {devices.map((device) => (
              <tr key={`${device.site} ${device.device}`}>
                <td class="code">{device.device}</td>
                <td data-name={texts.columns.said}>
                  {device.presence === 'here' ? texts.here : <b>{texts.gone}</b>}{' '}
                  {texts.since(when(device.since))}
                </td>
                <td data-name={texts.columns.serves}>{device.vessel ?? texts.anyVessel(device.site)}</td>
                <td data-name={texts.columns.newest}>{newestSent(device)}</td>
              </tr>
            ))}
          </tbody>
        </table>
      )}
    </>
  );
}
