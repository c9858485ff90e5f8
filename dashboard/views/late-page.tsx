import { useSignal } from '@preact/signals';
import type { ComponentType } from 'preact';
import { useEffect } from 'preact/hooks';
import { PAGES } from '../pages/pages.ts';
import type { Route } from '../route.ts';
import { TEXTS } from '../texts/live.ts';
import { Overview } from './overview.tsx';

type AnyPage = ComponentType<{ route: Route }>;
const loaded = new Map<string, AnyPage>();

/** A page that is fetched when it is first opened. */
export function LatePage({ route }: { route: Route }) {
  const { page } = route;
  const load = PAGES[page as keyof typeof PAGES] as (() => Promise<AnyPage>) | undefined;
  const failed = useSignal(false);
  const arrived = useSignal(0);
  useEffect(() => {
    failed.value = false;
    if (load === undefined || loaded.has(page)) return;
    let gone = false;
    load().then(
      (Page) => {
        loaded.set(page, Page);
        if (!gone) arrived.value += 1;
      },
      () => {
        if (!gone) failed.value = true;
      },
    );
    return () => {
      gone = true;
    };
  }, [page]);
  void arrived.value;

  if (load === undefined) return <Overview />;
  const Page = loaded.get(page);
  if (Page !== undefined) return <Page route={route} />;
  if (!failed.value) return <p class="quiet">{TEXTS.latePage.loading}</p>;
  return (
    <div role="alert">
      <p>{TEXTS.latePage.failed}</p>
      {/* A page of an older build may be gone from the daemon: only a fresh start finds the new one. */}
      <button type="button" onClick={() => location.reload()}>
        {TEXTS.latePage.reload}
      </button>
    </div>
  );
}
