import type { ComponentType } from 'preact';
import { PAGES } from '../pages/pages.ts';
import type { Route } from '../route.ts';
import { Late } from './late.tsx';
import { Overview } from './overview.tsx';

/** A page that is fetched when it is first opened. */
export function LatePage({ route }: { route: Route }) {
  const { page } = route;
  const load = PAGES[page as keyof typeof PAGES] as
    | (() => Promise<ComponentType<{ route: Route }>>)
    | undefined;
  if (load === undefined) return <Overview />;
  // A page of another thing is another page: nothing of the one before stays in it.
  const { query: _, ...address } = route;
  return <Late key={JSON.stringify(address)} name={page} load={load} props={{ route }} />;
}
