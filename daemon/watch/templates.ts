import type { Template } from '../../shared/wire/templates.ts';
import { isoTime } from '../../shared/wire/time.ts';
import type { NewAction } from '../store/store.ts';
import type { Action } from './actions.ts';

/** The usual plans of a site: made from its actions alone, in order, and so re-made at every start. */
export class Templates {
  readonly #site: string;
  readonly #templates = new Map<string, Template>();

  constructor(site: string) {
    this.#site = site;
  }

  apply(stored: NewAction): void {
    const { action, body } = stored as unknown as Action;
    const done = { at: isoTime(stored.atMs), by: stored.by };
    if (action === 'template-kept')
      this.#templates.set(body.id, { ...body, site: this.#site, ...done, retired: null });
    if (action !== 'template-retired') return;
    const template = this.#templates.get(body.template);
    if (template !== undefined) template.retired = done;
  }

  get(id: string): Template | undefined {
    return this.#templates.get(id);
  }

  /** The newest first. */
  list(): Template[] {
    return [...this.#templates.values()].reverse();
  }
}
