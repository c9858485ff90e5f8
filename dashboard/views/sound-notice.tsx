import { chooseSound, soundState } from '../sound/keep.ts';
import { SHELL_TEXTS } from '../texts/shell.ts';

/** On every page, for as long as no alarm can be heard: why, and the way to change it. */
export function SoundNotice() {
  const texts = SHELL_TEXTS.sound;
  if (soundState.value === 'ready') return null;
  if (soundState.value === 'off') {
    return (
      <p class="sound-notice">
        <button type="button" class="in-line" onClick={() => chooseSound('on')}>
          {texts.offNotice}: <u>{texts.turnOn}</u>
        </button>
      </p>
    );
  }
  return (
    <p class="sound-notice sentence" role="status">
      {soundState.value === 'blocked' ? texts.blocked : texts.unavailable}
    </p>
  );
}
