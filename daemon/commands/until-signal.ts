import type { Logger } from 'pino';

/** A stop that takes longer than this is given up, ms. */
const STOP_WITHIN_MS = 10_000;

/**
 * Waits for SIGINT or SIGTERM, then stops; a second signal ends at once.
 * @param stop stops, and says what is true then, where it is something else than of a daemon
 * @param late what is true where the stop takes too long
 */
export async function untilSignal(
  log: Logger,
  died: Promise<Error>,
  stop: () => Promise<void> | Promise<string>,
  late = 'what was acknowledged is stored',
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
    log.error(`the stop takes too long; ${late}`);
    process.exit(1);
  }, STOP_WITHIN_MS).unref();
  const said = await stop();
  log.info(`stopped; ${said ?? 'everything acknowledged is stored'}`);
}
