import { type Clock, every } from '../clock.ts';
import type { StillWatchingConfig } from '../config.ts';
import { send } from './ways/outgoing.ts';

/**
 * Calls an address of a person's choice at an interval, for a service that raises the alarm when the calls stay away:
 * only while all is well, since a daemon that cannot store or cannot warn must be looked after as well.
 */
export function startStillWatching(
  { url, everySeconds }: StillWatchingConfig,
  { clock, isWell, warn }: { clock: Clock; isWell: () => boolean; warn: (message: string) => void },
): { close(): void } {
  let isCalling = false;
  const call = async (): Promise<void> => {
    if (isCalling || !isWell()) return;
    isCalling = true;
    // The address may hold a secret: it is not said.
    await send(url, { method: 'GET' }).catch((error: Error) => warn(`still watching: ${error.message}`));
    isCalling = false;
  };
  void call();
  const calling = every(clock, everySeconds * 1000, () => void call());
  return { close: () => calling.cancel() };
}
