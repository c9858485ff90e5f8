import { shellState } from '../../shell.ts';
import type { REACH } from '../../texts/reach.ts';

export type Lack = keyof typeof REACH.browser.lacks;

/** What Web Push lacks in this browser at this address; null where it can be asked for. */
export function pushLack(): Lack | null {
  const state = shellState.value;
  if (state === 'insecure') return 'insecure';
  if (state === 'unsupported' || !('PushManager' in globalThis) || !('Notification' in globalThis))
    return 'unsupported';
  // A page behind a certificate that was only clicked away gets no service worker.
  if (state === 'failed') return 'certificate';
  if (state === 'starting') return 'starting';
  return Notification.permission === 'denied' ? 'denied' : null;
}

/** Asks the browser for messages of this daemon; what it lacks where it gives none. */
export async function subscribe(pushKey: string): Promise<{ subscription: object } | { lack: Lack }> {
  if ((await Notification.requestPermission()) !== 'granted') return { lack: 'denied' };
  try {
    const { pushManager } = await navigator.serviceWorker.ready;
    const options = { userVisibleOnly: true, applicationServerKey: pushKey };
    // One for another daemon's key is no use here.
    const known = await pushManager.getSubscription();
    if (known !== null && !isFor(known, pushKey)) await known.unsubscribe();
    const { endpoint, keys } = (await pushManager.subscribe(options)).toJSON();
    return { subscription: { endpoint, keys, label: browserName() } };
  } catch {
    return { lack: 'service' };
  }
}

function isFor({ options }: PushSubscription, pushKey: string): boolean {
  if (options.applicationServerKey === null) return false;
  const bytes = String.fromCharCode(...new Uint8Array(options.applicationServerKey));
  return btoa(bytes).replaceAll('+', '-').replaceAll('/', '_').replaceAll('=', '') === pushKey;
}

/** So that people tell their browsers apart. */
function browserName(): string {
  const system = /\(([^;)]+)/.exec(navigator.userAgent)?.[1] ?? '';
  return `${system} ${screen.width} × ${screen.height}`.trim().slice(0, 80);
}
