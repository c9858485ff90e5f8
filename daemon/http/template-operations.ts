import { randomUUID } from 'node:crypto';
import { computePlan } from '../../shared/plan/compute.ts';
import type { NewTemplateBody, Template } from '../../shared/wire/templates.ts';
import { newAction } from '../watch/actions.ts';
import type { Watch } from '../watch/watch.ts';
import type { Acting } from './acting.ts';
import { Problem, planned } from './problem.ts';

/** Usual plans: kept, and retired. */
export class TemplateOperations {
  readonly #watch: Watch;
  readonly #acting: Acting;

  constructor(parts: { watch: Watch; acting: Acting }) {
    this.#watch = parts.watch;
    this.#acting = parts.acting;
  }

  keep({ site: siteName, name, plan, by }: NewTemplateBody): Promise<Template> {
    return this.#acting.oneAtATime(async () => {
      const site = this.#watch.site(siteName);
      if (site === undefined) throw new Problem('site-unknown', `there is no site ${siteName}`);
      // What no plan can be made of is no use later.
      planned(() => computePlan(plan));
      const id = randomUUID();
      await this.#acting.commit(siteName, [
        newAction('template-kept', { id, name, plan }, this.#acting.done({ by })),
      ]);
      return site.templates.get(id)!;
    });
  }

  list(): Template[] {
    return this.#watch.sites().flatMap(({ templates }) => templates.list());
  }

  retire(id: string, by: string | undefined): Promise<Template> {
    return this.#acting.oneAtATime(async () => {
      const template = this.list().find((one) => one.id === id);
      if (template === undefined) throw new Problem('template-unknown', `there is no template ${id}`);
      if (template.retired !== null) throw new Problem('template-retired', `${template.name} is retired`);
      await this.#acting.act(template.site, 'template-retired', { template: id }, by);
      return template;
    });
  }
}
