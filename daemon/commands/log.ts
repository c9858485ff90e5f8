import pino, { type Logger } from 'pino';

/** Lines that a person can read on a terminal, and JSON a line elsewhere; on stderr either way. */
export async function openLog(): Promise<Logger> {
  if (!process.stderr.isTTY) return pino(pino.destination({ fd: 2, sync: true }));
  const { default: pretty } = await import('pino-pretty');
  return pino(pretty({ destination: 2, sync: true, ignore: 'pid,hostname', translateTime: 'SYS:HH:MM:ss' }));
}
