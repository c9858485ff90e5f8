import { signal } from '@preact/signals';
import { z } from 'zod';
import type { PlanRequest } from '../shared/plan/request.ts';
import {
  type Alarm,
  alarmSchema,
  conditionsSchema,
  type Missing,
  missingSchema,
  problemSchema,
  refusedSchema,
  type SiteBody,
  typedReadingAnswerSchema,
  type Vessel,
  vesselSchema,
} from '../shared/wire/api.ts';
import type { Batch } from '../shared/wire/batch.ts';
import type { Stage } from '../shared/wire/names.ts';
import { TEXTS } from './texts/live.ts';

/** An answer that is not a success, with what the daemon says about it. */
export class ApiProblem extends Error {
  override name = 'ApiProblem';
  readonly status: number;
  readonly code: string;
  readonly missing: Missing;
  /** How long to wait before it is tried again, s, where the daemon says so. */
  readonly waitS: number | undefined;

  constructor(status: number, code: string, message: string, missing: Missing = [], waitS?: number) {
    super(message);
    this.status = status;
    this.code = code;
    this.missing = missing;
    this.waitS = waitS;
  }
}

/** Counts answers by which somebody is not signed in any more, or may less than this page takes them to. */
export const shutOut = signal(0);

/** Longest wait for an answer where none is given, ms; for a picture over a slow link longer. */
const PATIENCE_MS = 15_000;
const PICTURE_PATIENCE_MS = 180_000;

/**
 * Throws ApiProblem. A picture goes as it is, anything else as JSON; `fine` are statuses as good as a success,
 * `patienceMs` is the longest wait.
 */
export async function call<T>(
  schema: z.ZodType<T>,
  path: string,
  method = 'GET',
  body?: unknown,
  { fine = [], patienceMs }: { fine?: readonly number[]; patienceMs?: number } = {},
): Promise<T> {
  let response: Response;
  let answer: unknown;
  try {
    response = await fetch(`/api/v1/${path}`, {
      method,
      signal: AbortSignal.timeout(patienceMs ?? (body instanceof Blob ? PICTURE_PATIENCE_MS : PATIENCE_MS)),
      ...(body === undefined
        ? {}
        : body instanceof Blob
          ? { headers: { 'content-type': body.type }, body }
          : { headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) }),
    });
    answer = await response.json().catch(() => undefined);
  } catch {
    throw new ApiProblem(0, 'offline', method === 'GET' ? TEXTS.problem.offline : TEXTS.problem.notKnown);
  }
  if (!response.ok && !fine.includes(response.status)) {
    const problem = problemSchema.safeParse(answer);
    if (!problem.success) throw new ApiProblem(response.status, 'unexpected', TEXTS.problem.unexpected);
    const missing = missingSchema.safeParse(problem.data.missing);
    const { code } = problem.data;
    const isRightMissing = code === 'right-missing';
    if (isRightMissing || code === 'sign-in-wanted') shutOut.value += 1;
    throw new ApiProblem(
      response.status,
      code,
      isRightMissing ? TEXTS.problem.rightMissing : (problem.data.detail ?? problem.data.title),
      missing.success ? missing.data : [],
      Number(response.headers.get('retry-after')) || undefined,
    );
  }
  const parsed = schema.safeParse(answer);
  if (!parsed.success) throw new ApiProblem(response.status, 'unexpected', TEXTS.problem.unexpected);
  return parsed.data;
}

const anything = z.unknown();
export const segment = encodeURIComponent;

export const getVessels = async (): Promise<Vessel[]> =>
  (await call(z.object({ vessels: z.array(vesselSchema) }), 'vessels')).vessels;

export const getPastAlarms = async (vessel: string): Promise<Alarm[]> =>
  (await call(z.object({ alarms: z.array(alarmSchema) }), `alarms?vessel=${segment(vessel)}&limit=50`))
    .alarms;

export const getRefused = (): Promise<z.infer<typeof refusedSchema>> => call(refusedSchema, 'refused');

/** All that a batch can hold is much to know: that is fetched after the first page is drawn. */
export const getBatch = async (id: string): Promise<Batch> => {
  const { batchSchema } = await import('../shared/wire/batch.ts');
  return call(batchSchema, `batches/${segment(id)}`);
};

/** What must be true before a batch goes on to a stage in a vessel. */
export const getConditions = (
  batch: string,
  stage: Stage,
  vessel: string,
): Promise<z.infer<typeof conditionsSchema>> =>
  call(conditionsSchema, `batches/${segment(batch)}/conditions?${new URLSearchParams({ stage, vessel })}`);

export const typeInReading = (
  vessel: string,
  reading: { channel: string; value: number; by?: string },
): Promise<z.infer<typeof typedReadingAnswerSchema>> =>
  call(typedReadingAnswerSchema, `vessels/${segment(vessel)}/readings`, 'POST', reading);

export const acknowledge = (id: string, body: { by?: string; reason?: string }): Promise<unknown> =>
  call(anything, `alarms/${segment(id)}/acknowledge`, 'POST', body);

export const shelve = (
  id: string,
  body: { by?: string; reason: string; minutes: number },
): Promise<unknown> => call(anything, `alarms/${segment(id)}/shelve`, 'POST', body);

export const putSite = (site: string, body: SiteBody): Promise<unknown> =>
  call(anything, `sites/${segment(site)}`, 'PUT', body);

export const startBatch = (body: {
  vessel: string;
  name?: string;
  by?: string;
  plan: PlanRequest;
}): Promise<unknown> => call(anything, 'batches', 'POST', body);

export const goOn = (
  batch: string,
  body: {
    stage: Stage;
    vessel: string;
    by?: string;
    again?: boolean;
    seen?: readonly string[];
    anyway?: { reason: string };
    reason?: string;
    stagesKnown?: number;
  },
): Promise<unknown> => call(anything, `batches/${segment(batch)}/stage`, 'POST', body);
