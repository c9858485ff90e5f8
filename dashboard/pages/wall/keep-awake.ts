import { type Signal, signal } from '@preact/signals';

/**
 * Keeps the screen on while the page is looked at, where the browser allows it (Screen Wake Lock, W3C: a secure
 * context only); says whether it does.
 */
export function keepAwake(): { isAwake: Signal<boolean>; end: () => void } {
  const isAwake = signal(false);
  let lock: WakeLockSentinel | undefined;
  let gone = false;
  const ask = (): void => {
    // The browser takes it away whenever the page is hidden.
    if (document.visibilityState !== 'visible' || !('wakeLock' in navigator)) return;
    navigator.wakeLock.request('screen').then(
      (given) => {
        if (gone) {
          void given.release();
          return;
        }
        lock = given;
        isAwake.value = true;
        given.onrelease = () => {
          isAwake.value = false;
        };
      },
      () => {
        isAwake.value = false;
      },
    );
  };
  ask();
  document.addEventListener('visibilitychange', ask);
  return {
    isAwake,
    end: () => {
      gone = true;
      document.removeEventListener('visibilitychange', ask);
      void lock?.release();
    },
  };
}
