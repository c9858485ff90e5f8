import { effect, signal } from '@preact/signals';
import { soundOn } from '../settings.ts';

/** `blocked`: the browser wants a touch or a key first; `none`: it makes no sound. */
export const soundState = signal<'off' | 'blocked' | 'ready' | 'none'>('off');

/** Follows the reader's choice; what makes the tones is fetched when it is first wanted. */
export function keepSound(): void {
  effect(() => {
    if (soundOn.value === 'off') {
      soundState.value = 'off';
      return;
    }
    let over = false;
    let end = (): void => {};
    import('./player.ts').then(
      ({ followAlarms }) => {
        if (!over) end = followAlarms();
      },
      () => {
        if (!over) soundState.value = 'none';
      },
    );
    return () => {
      over = true;
      end();
    };
  });
}

export function chooseSound(choice: 'off' | 'on'): void {
  soundOn.value = choice;
}
