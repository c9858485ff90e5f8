import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { onTestFinished } from 'vitest';
import { openStore } from '../../../daemon/store/open.ts';
import type { ReadingsQuery, Store, StoredEntry } from '../../../daemon/store/store.ts';

/** A folder of its own, removed when the test (or the hook) is over. */
export function temporaryDir(remove: (cleanUp: () => void) => void = onTestFinished): string {
  const dir = mkdtempSync(join(tmpdir(), 'esterwatch-store-'));
  remove(() => rmSync(dir, { recursive: true, force: true }));
  return dir;
}

/** An open store for one test. */
export async function temporaryStore(): Promise<Store> {
  const store = await openStore(join(temporaryDir(), 'data'));
  onTestFinished(() => store.close());
  return store;
}

export const everyReadingOf = (site: string, vessel = 'r1'): ReadingsQuery => ({
  site,
  vessel,
  channel: 'liquid-temperature',
  fromMs: 0,
  toMs: 8.64e15,
});

/** Everything of a site, fetched page by page. */
export async function everyEntryOf(store: Store, site: string, page = 1000): Promise<StoredEntry[]> {
  const entries: StoredEntry[] = [];
  for (;;) {
    const next = await store.entriesAfter(site, entries.at(-1)?.position ?? 0, page);
    if (next.length === 0) return entries;
    entries.push(...next);
  }
}
