import { z } from 'zod';
import { siteBodySchema } from '../../shared/wire/api.ts';
import { isName, MOVED, ROLES, STAGES } from '../../shared/wire/names.ts';
import { DROP_ACTION, parseDrop } from '../store/drops.ts';
import type { ActionName } from './actions.ts';

/*
 * The form of what each action says, as far as somebody goes by it who did not write it: loose, since older versions
 * said less and newer ones may say more. What batches are made from is checked besides by making them.
 */

const text = z.string().max(4000);
const name = z.string().refine(isName);
const number = z.number();
const stated = siteBodySchema.nullable();
const deviation = z.looseObject({ reason: text, missing: z.array(z.looseObject({ what: text })) }).nullable();

const FORMS: Record<ActionName, z.ZodType> = {
  'vessel-added': z.looseObject({ vessel: name, role: z.enum(ROLES) }),
  'vessel-emptied': z.looseObject({ vessel: name }),
  'site-stated': z.looseObject({ site: siteBodySchema }),
  'batch-opened': z.looseObject({ id: text, name: text, vessel: name, site: stated }),
  'vessel-joined': z.looseObject({ batch: text, vessel: name, plan: z.looseObject({}), site: stated }),
  stage: z.looseObject({ batch: text, vessel: name, stage: z.enum(STAGES), deviation }),
  moved: z.looseObject({ batch: text, from: name, to: name, litres: number, what: z.enum(MOVED) }),
  entry: z.looseObject({
    batch: text,
    id: text,
    vessel: name,
    stage: z.enum(STAGES),
    what: z.looseObject({ kind: text }),
    result: z.looseObject({}).nullable(),
    corrects: z.looseObject({ entry: text, reason: text }).nullable(),
  }),
  'conversion-test': z.looseObject({ batch: text, passed: z.boolean() }),
  'lot-added': z.looseObject({ id: text, name: text, what: z.looseObject({ kind: text }) }),
  'lot-note': z.looseObject({ lot: text, id: text, what: z.looseObject({ kind: text }) }),
  draw: z.looseObject({ batch: text, id: text }),
  'draw-undone': z.looseObject({ batch: text, draw: text, reason: text }),
  'template-kept': z.looseObject({ id: text, name: text, plan: z.looseObject({}) }),
  'template-retired': z.looseObject({ template: text }),
  acknowledge: z.looseObject({ vessel: name, number, reason: text.nullable() }),
  shelve: z.looseObject({ vessel: name, number, reason: text, minutes: number }),
  presence: z.looseObject({ device: name, presence: z.enum(['here', 'gone']) }),
  'channel-shared': z.looseObject({ vessel: name, channel: name, senders: z.array(text) }),
  'warning-tested': z.looseObject({}),
  'thermometer-checked': z.looseObject({ vessel: name, channel: name, due: text, deviation }),
  'thermometer-check-withdrawn': z.looseObject({ vessel: name, channel: name, reason: text }),
  'access-changed': z.looseObject({ kind: text, name: text, may: text.nullable() }),
  'signed-in': z.looseObject({ from: text }),
  'signed-out': z.looseObject({}),
  'sign-in-refused': z.looseObject({ person: text.nullable(), from: text }),
  message: z.looseObject({ id: text, to: text, about: z.looseObject({ kind: text }) }),
  told: z.looseObject({ message: text, way: text, result: text, because: text.nullable() }),
  answered: z.looseObject({ message: text }),
  'reach-changed': z.looseObject({ person: text.nullable() }),
  'alone-begun': z.looseObject({ vessel: name, tell: text, everyMinutes: number, answerMinutes: number }),
  'alone-answered': z.looseObject({ vessel: name }),
  'alone-unanswered': z.looseObject({ vessel: name, question: number }),
  'alone-ended': z.looseObject({ vessel: name }),
  started: z.looseObject({ downSinceMs: number.nullable() }),
  'clock-step': z.looseObject({ stepMs: number }),
  [DROP_ACTION]: z.unknown().refine((body) => parseDrop(JSON.stringify(body)) !== null),
};

/** Whether an action that another daemon wrote is one, and says what such an action says. */
export const isOfForm = (action: string, body: unknown): boolean =>
  Object.hasOwn(FORMS, action) && FORMS[action as ActionName].safeParse(body).success;
