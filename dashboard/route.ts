import { signal } from '@preact/signals';
import { isName } from '../shared/wire/names.ts';
import { keyOf } from './vessels.ts';

/** Pages that stand alone. */
const PLAIN_PAGES = [
  'refused',
  'oil',
  'recipe',
  'batches',
  'stock',
  'alarms',
  'power-cut',
  'set-up',
  'people',
] as const;
/** Pages of one vessel: `#/PAGE/SITE/VESSEL`. */
const VESSEL_PAGES = ['vessel', 'wall', 'history'] as const;
/** Pages of one thing with an id: `#/PAGE/ID`. */
const ID_PAGES = ['batch', 'alarm', 'answer'] as const;

type Plain = (typeof PLAIN_PAGES)[number];
type OfVessel = (typeof VESSEL_PAGES)[number];
type OfId = (typeof ID_PAGES)[number];

/** `query` is what stands after a `?` in the hash: what a page remembers of how it was left. */
export type Route = { query: URLSearchParams } & (
  | { page: 'overview' | Plain }
  | { page: OfVessel; key: string }
  | { page: OfId; id: string }
  /** Two batches, one laid over the other. */
  | { page: 'beside'; ids: readonly [string, string] }
);

const isOneOf = <T extends string>(pages: readonly T[], page: string): page is T =>
  (pages as readonly string[]).includes(page);

/** The page that a hash names; what it does not name is the overview. */
export function routeOf(hash: string): Route {
  const [path = '', search = ''] = hash.replace(/^#\/?/, '').split('?', 2);
  const query = new URLSearchParams(search);
  const [page = '', first, second] = path.split('/').map(decoded);
  if (isOneOf(PLAIN_PAGES, page)) return { page, query };
  if (first !== undefined && first !== '') {
    if (isOneOf(ID_PAGES, page)) return { page, id: first, query };
    if (second !== undefined && second !== '') {
      if (page === 'beside') return { page, ids: [first, second], query };
      if (isOneOf(VESSEL_PAGES, page) && isName(first) && isName(second)) {
        return { page, key: keyOf({ site: first, vessel: second }), query };
      }
    }
  }
  return { page: 'overview', query };
}

function decoded(segment: string): string {
  try {
    return decodeURIComponent(segment);
  } catch {
    return '';
  }
}

const withQuery = (path: string, query: Readonly<Record<string, string>>): string => {
  const search = new URLSearchParams(query).toString();
  return search === '' ? path : `${path}?${search}`;
};

/** The address of a page, as a link takes it. */
export const hrefOf = (page: 'overview' | Plain, query: Readonly<Record<string, string>> = {}): string =>
  withQuery(page === 'overview' ? '#/' : `#/${page}`, query);

export const vesselHref = (
  at: { site: string; vessel: string },
  page: OfVessel = 'vessel',
  query: Readonly<Record<string, string>> = {},
): string => withQuery(`#/${page}/${at.site}/${at.vessel}`, query);

export const idHref = (page: OfId, id: string, query: Readonly<Record<string, string>> = {}): string =>
  withQuery(`#/${page}/${encodeURIComponent(id)}`, query);

export const besideHref = (one: string, other: string): string =>
  `#/beside/${encodeURIComponent(one)}/${encodeURIComponent(other)}`;

/** A page of the help, by its document under `docs/guide/` and a section of it. It opens beside this page, which has to go on watching. */
export const helpLink = (document: string, section?: string) =>
  ({
    href: `./help/docs/guide/${document}.html${section === undefined ? '' : `#${section}`}`,
    target: '_blank',
    rel: 'noreferrer',
  }) as const;

/** What a page is of, without what it remembers of how it was left. */
export const pathOf = (at: Route): string =>
  [at.page, 'key' in at ? at.key : '', 'id' in at ? at.id : '', 'ids' in at ? at.ids.join('/') : ''].join(
    '/',
  );

export const route = signal<Route>({ page: 'overview', query: new URLSearchParams() });

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
