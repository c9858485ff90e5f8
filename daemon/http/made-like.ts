import { forAnotherVessel, laidOver } from '../../shared/plan/laid-over.ts';
import { readPlanRequest } from '../../shared/plan/read-request.ts';
import type { PlanRequest } from '../../shared/plan/request.ts';
import type { SiteWatch } from '../watch/site-watch.ts';
import { Problem, planned } from './problem.ts';

/** The plan request of a new batch, and where it is from. */
export interface Asked {
  request: PlanRequest;
  madeLike: string | null;
  template: string | null;
}

/**
 * What a new batch asks a plan for: what it says itself, laid over the request of a template or of an earlier
 * batch of its site where it names one.
 */
export function askedFor(
  site: SiteWatch,
  vessel: string,
  {
    plan = {},
    template,
    like,
  }: { plan?: PlanRequest | undefined; template?: string | undefined; like?: string | undefined },
): Asked {
  if (template !== undefined && like !== undefined)
    throw new Problem('body-invalid', 'template or like, not both');
  const from = { madeLike: like ?? null, template: template ?? null };
  if (template !== undefined) return { request: over(templatePlan(site, template), plan), ...from };
  if (like === undefined) return { request: plan, ...from };
  const earlier = site.batches.get(like);
  if (earlier === undefined) throw new Problem('batch-unknown', `there is no batch ${like} at ${site.site}`);
  // It may have moved on to another one since.
  const wasThere = earlier.vessel === vessel || earlier.stages.some((stage) => stage.vessel === vessel);
  const request = wasThere ? earlier.request : forAnotherVessel(earlier.request);
  return { request: over(request, plan), ...from };
}

/** Scaled up, it may be out of range. */
const over = (earlier: PlanRequest, plan: PlanRequest): PlanRequest =>
  planned(() => readPlanRequest(laidOver(earlier, plan)));

function templatePlan(site: SiteWatch, id: string): PlanRequest {
  const template = site.templates.get(id);
  if (template === undefined)
    throw new Problem('template-unknown', `there is no template ${id} at ${site.site}`);
  if (template.retired !== null) throw new Problem('template-retired', `${template.name} is retired`);
  return template.plan;
}
