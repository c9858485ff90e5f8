import { testWarning } from '../store.ts';
import { SHELL_TEXTS } from '../texts/shell.ts';
import { PriorityMark } from './alarms.tsx';
import { when } from './words.ts';

/** A warning that somebody sent to see that it arrives: it looks like one, and says that it is none. */
export function TestWarning() {
  const test = testWarning.value;
  const texts = SHELL_TEXTS.testWarning;
  return (
    <div role="status">
      {test !== undefined && (
        <div class="alarm alarm-medium test-warning">
          <PriorityMark priority="medium" />
          <div class="what">
            <p class="because">{texts.title}</p>
            <p>{texts.sent(test.site, test.by, when(test.at, 'second'))}</p>
          </div>
          <button
            type="button"
            class="plain"
            onClick={() => {
              testWarning.value = undefined;
            }}
          >
            {texts.close}
          </button>
        </div>
      )}
    </div>
  );
}
