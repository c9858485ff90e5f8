import type { ComponentType } from 'preact';
import type { Route } from '../route.ts';

/** A page's props: its own route. */
export type PageOf<P extends Route['page']> = ComponentType<{ route: Route & { page: P } }>;

/** Pages that are fetched when they are first opened: who only looks at the vessels does not load them. */
export type LatePageName = Exclude<Route['page'], 'overview' | 'vessel'>;

export const PAGES: { readonly [P in LatePageName]: () => Promise<PageOf<P>> } = {
  wall: async () => (await import('./wall/wall-page.tsx')).WallPage,
  alarms: async () => (await import('./alarms/alarms-page.tsx')).AlarmsPage,
  alarm: async () => (await import('./alarm/alarm-page.tsx')).AlarmPage,
  answer: async () => (await import('./answer/answer-page.tsx')).AnswerPage,
  history: async () => (await import('./history/history-page.tsx')).HistoryPage,
  batch: async () => (await import('./batch/batch-page.tsx')).BatchPage,
  batches: async () => (await import('./batches/batches-page.tsx')).BatchesPage,
  beside: async () => (await import('./beside/beside-page.tsx')).BesidePage,
  stock: async () => (await import('./stock/stock-page.tsx')).StockPage,
  refused: async () => (await import('./refused/refused-page.tsx')).RefusedPage,
  recipe: async () => (await import('./recipe/recipe-page.tsx')).RecipePage,
  oil: async () => (await import('./oil/oil-page.tsx')).OilPage,
  'set-up': async () => (await import('./set-up/set-up-page.tsx')).SetUpPage,
  people: async () => (await import('./people/people-page.tsx')).PeoplePage,
  'power-cut': async () => (await import('./power-cut/power-cut-page.tsx')).PowerCutPage,
};
