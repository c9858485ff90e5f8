import { signal } from '@preact/signals';
import { isName } from '../shared/wire/names.ts';

export type Route = { page: 'overview' } | { page: 'refused' } | { page: 'vessel'; key: string };

/** The page that a hash names; what it does not name is the overview. */
export function routeOf(hash: string): Route {
  const [page, site, vessel] = hash.replace(/^#\/?/, '').split('/');
  if (page === 'refused') return { page };
  if (page === 'vessel' && site !== undefined && vessel !== undefined && isName(site) && isName(vessel)) {
    return { page, key: `${site}:${vessel}` };
  }
  return { page: 'overview' };
}

export const vesselHref = (at: { site: string; vessel: string }): string =>
  `#/vessel/${at.site}/${at.vessel}`;

export const route = signal<Route>({ page: 'overview' });

export function followHash(): void {
  const follow = (): void => {
    route.value = routeOf(location.hash);
  };
  follow();
  addEventListener('hashchange', () => {
    follow();
    scrollTo(0, 0);
    document.querySelector<HTMLElement>('main')?.focus({ preventScroll: true });
  });
}
