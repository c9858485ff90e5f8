import pino, { type Logger } from 'pino';
import pretty from 'pino-pretty';

/** Lines that a person can read on a terminal, and JSON a line elsewhere; on stderr either way. */
export function openLog(): Logger {
  if (!process.stderr.isTTY) return pino(pino.destination({ fd: 2, sync: true }));
  return pino(pretty({ destination: 2, sync: true, ignore: 'pid,hostname', translateTime: 'SYS:HH:MM:ss' }));
}
