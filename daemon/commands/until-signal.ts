import type { Logger } from 'pino';

/** A stop that takes longer than this is given up, ms. */
const STOP_WITHIN_MS = 10_000;

/** Waits for SIGINT or SIGTERM, then stops; a second signal ends at once. */
export async function untilSignal(
  log: Logger,
  died: Promise<Error>,
  stop: () => Promise<void>,
): Promise<void> {
  const signal = new Promise<string>((resolve) => {
    for (const name of ['SIGINT', 'SIGTERM'] as const) process.once(name, () => resolve(name));
  });
  const why = await Promise.race([signal, died]);
  // Whoever started it starts it again, and it goes on from what is stored.
  if (why instanceof Error) throw new Error(`the store has ended: ${why.message}`);
  log.info(`${why}: stopping`);
  for (const name of ['SIGINT', 'SIGTERM'] as const) process.once(name, () => process.exit(1));
  setTimeout(() => {
    log.error('the stop takes too long; what was acknowledged is stored');
    process.exit(1);
  }, STOP_WITHIN_MS).unref();
  await stop();
  log.info('stopped; everything acknowledged is stored');
}
