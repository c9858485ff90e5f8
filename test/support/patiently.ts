import { vi } from 'vitest';

/** Until what is checked holds: at once on an idle machine, and long enough on a loaded one. */
export const patiently = <T>(check: () => T | Promise<T>): Promise<T> =>
  vi.waitFor(check, { timeout: 15_000, interval: 30 });
