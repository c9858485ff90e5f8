import type { ComponentType } from 'preact';
import type { Route } from '../route.ts';

/** A page's props: its own route. */
export type PageOf<P extends Route['page']> = ComponentType<{ route: Extract<Route, { page: P }> }>;

/** Pages that are fetched when they are first opened: who only looks at the vessels does not load them. */
export type LatePage = Exclude<Route['page'], 'overview' | 'vessel'>;

export const PAGES: { readonly [P in LatePage]?: () => Promise<PageOf<P>> } = {
  history: async () => (await import('./history/history-page.tsx')).HistoryPage,
  refused: async () => (await import('./refused/refused-page.tsx')).RefusedPage,
};
