import { hrefOf } from '../route.ts';
import { alarms } from '../store.ts';
import { SHELL_TEXTS } from '../texts/shell.ts';

/** On top of the vessels for as long as nobody has said that they know of the time that nobody watched. */
export function PowerCutNotice() {
  const unseen = alarms.value.filter(
    ({ alarm, standing, acknowledged }) => alarm === 'not-watching' && standing && acknowledged === null,
  );
  if (unseen.length === 0) return null;
  const texts = SHELL_TEXTS.powerCut;
  return (
    <section class="notice power-cut-notice">
      <p>
        <b>{texts.notice(unseen.map(({ vessel }) => vessel).join(', '))}</b>
      </p>
      <a class="button" href={hrefOf('power-cut')}>
        {texts.link}
      </a>
    </section>
  );
}
