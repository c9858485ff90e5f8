import { effect, signal } from '@preact/signals';
import { synced } from './store.ts';

/**
 * Whether the daemon has another build of this page by now. The files that this one fetches late are gone then: only
 * loading it anew goes on.
 */
export const isOutdated = signal(false);

/** The file that a page begins with, whose name changes with every build. */
const beginsWith = (page: Document): string | undefined =>
  page.querySelector('script[type="module"][src]')?.getAttribute('src') ?? undefined;

/** Asks the daemon for the page as it is now; where it does not answer nothing changes. */
export async function lookWhetherOutdated(): Promise<void> {
  try {
    const answer = await fetch('./index.html', { cache: 'no-store' });
    if (!answer.ok) return;
    const now = beginsWith(new DOMParser().parseFromString(await answer.text(), 'text/html'));
    if (now !== undefined && now !== beginsWith(document)) isOutdated.value = true;
  } catch {
    // Said elsewhere: the link is lost.
  }
}

/** After every connection but the first: the daemon may have come back with another build. */
export function noticeNewBuilds(): void {
  effect(() => {
    if (synced.value > 1) void lookWhetherOutdated();
  });
}
