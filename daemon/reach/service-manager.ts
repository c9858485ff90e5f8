import { execFile } from 'node:child_process';

/** A program that does not end is not waited for, ms. */
const PATIENCE_MS = 5000;

/**
 * Tells systemd that the daemon is there, and from then on, twice in each `WatchdogSec`, that it still runs: said from
 * the loop that does all the work, so that one that hangs is started again. Through `systemd-notify`, since Node.js
 * has no datagram sockets of the local kind; the unit needs `NotifyAccess=all`. Nothing where no socket is named.
 */
export function tellServiceManager(
  environment: NodeJS.ProcessEnv,
  warn: (message: string) => void,
): { close(): void } {
  if (!environment.NOTIFY_SOCKET) return { close: () => {} };
  let warned = false;
  const notify = (word: string): void => {
    execFile('systemd-notify', [word], { timeout: PATIENCE_MS }, (error) => {
      if (error !== null && !warned) warn(`systemd-notify ${word}: ${error.message}`);
      warned = error !== null;
    });
  };
  notify('--ready');
  const watchdogMs = Number(environment.WATCHDOG_USEC) / 1000;
  if (!(watchdogMs > 0)) return { close: () => {} };
  const telling = setInterval(() => notify('WATCHDOG=1'), watchdogMs / 2);
  return { close: () => clearInterval(telling) };
}
