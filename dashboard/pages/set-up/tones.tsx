import { PRIORITIES, type Priority } from '../../../shared/wire/names.ts';
import { soundState } from '../../sound/keep.ts';
import { PRIORITY_WORDS } from '../../texts/live.ts';
import { SET_UP } from '../../texts/set-up.ts';
import { SHELL_TEXTS } from '../../texts/shell.ts';

const sound = async (priority: Priority): Promise<void> => {
  (await import('../../sound/player.ts')).play(priority);
};

/** The tone of each priority, to be tried out. */
export function Tones() {
  const texts = SET_UP.own;
  const state = soundState.value;
  return (
    <div class="tones">
      <p id="tones">
        {state === 'none' ? SHELL_TEXTS.sound.unavailable : state === 'off' ? texts.soundOff : texts.tones}
      </p>
      {(state === 'ready' || state === 'blocked') && (
        <fieldset class="actions" aria-labelledby="tones">
          {[...PRIORITIES].reverse().map((priority) => (
            <button key={priority} type="button" class="plain" onClick={() => void sound(priority)}>
              {PRIORITY_WORDS[priority]}
            </button>
          ))}
        </fieldset>
      )}
    </div>
  );
}
