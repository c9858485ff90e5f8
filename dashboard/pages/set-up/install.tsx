import { installPrompt, shellState } from '../../shell.ts';
import { SET_UP } from '../../texts/set-up.ts';

/** Whether the page can be installed here, or what it lacks. */
export function Install() {
  const texts = SET_UP.install;
  const state = shellState.value;
  const prompt = installPrompt.value;
  return (
    <>
      <p>{texts[state]}</p>
      {state === 'kept' &&
        (prompt === undefined ? (
          <p class="quiet">{texts.how}</p>
        ) : (
          <button type="button" class="plain" onClick={() => void prompt.prompt()}>
            {texts.install}
          </button>
        ))}
    </>
  );
}
