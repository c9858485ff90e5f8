import type { ComponentType } from 'preact';
import { type LatePageName, PAGES } from '../pages/pages.ts';
import type { Route } from '../route.ts';
import { Late } from './late.tsx';

/** A page that is fetched when it is first opened. */
export function LatePage({ page, route }: { page: LatePageName; route: Route }) {
  const load = PAGES[page] as () => Promise<ComponentType<{ route: Route }>>;
  return <Late name={page} load={load} props={{ route }} />;
}
