import { Access } from '../access/access.ts';
import { AccessError } from '../access/access-file.ts';
import { ArrivalClock, machineClock } from '../clock.ts';
import { UsageError } from './usage.ts';

/** A daemon, or another command, that changes the list is waited for so long, ms. */
const WAITS_MS = 5000;

/**
 * Who is let in to a data folder, also beside a running daemon.
 * @throws UsageError where that cannot be read.
 */
export function openAccess(dataFolder: string): Access {
  const clock = machineClock();
  const access = new Access({ dataFolder, clock, arrivals: new ArrivalClock(clock), waitsMs: WAITS_MS });
  try {
    access.people();
  } catch (error) {
    if (error instanceof AccessError) throw new UsageError(error.message);
    throw error;
  }
  return access;
}
