import { effect, signal } from '@preact/signals';
import { synced } from './store.ts';

/** What a browser offers where it would install the page; not in every one. */
interface InstallPrompt extends Event {
  prompt(): Promise<unknown>;
}

/**
 * Whether this browser keeps the frame of the page, so that it can be installed and opens without the daemon:
 * `insecure` where the address is neither https nor this machine's own.
 */
export const shellState = signal<'starting' | 'kept' | 'insecure' | 'unsupported' | 'failed'>('starting');
export const installPrompt = signal<InstallPrompt | undefined>(undefined);

export function keepShell(): void {
  if (!isSecureContext) shellState.value = 'insecure';
  else if (!('serviceWorker' in navigator)) shellState.value = 'unsupported';
  else {
    navigator.serviceWorker.register('./service-worker.js').then(
      (registration) => {
        shellState.value = 'kept';
        // After every connection: the daemon may have come back with another build. Where it cannot be asked
        // the frame stays as it is.
        effect(() => {
          void synced.value;
          registration.update().catch(() => {});
        });
      },
      () => {
        shellState.value = 'failed';
      },
    );
  }
  addEventListener('beforeinstallprompt', (event) => {
    // Asked for in the set-up, not thrown over the page.
    event.preventDefault();
    installPrompt.value = event as InstallPrompt;
  });
  addEventListener('appinstalled', () => {
    installPrompt.value = undefined;
  });
}
