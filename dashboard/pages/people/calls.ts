import { z } from 'zod';
import {
  type AccessNote,
  accessNoteSchema,
  type Publisher,
  peopleSchema,
  publisherSchema,
  secretSchema,
  type Token,
  tokenSchema,
} from '../../../shared/wire/access.ts';
import type { KnownPerson, Right } from '../../../shared/wire/session.ts';
import { call, segment } from '../../api.ts';

/** A change answers nothing. */
const nothing = z.unknown();
/** A passphrase takes its time, and a daemon on a small computer takes one after the other, ms. */
const PATIENCE = { patienceMs: 60_000 };

export const getPeople = async (): Promise<KnownPerson[]> => (await call(peopleSchema, 'people')).people;

export const putPerson = (
  name: string,
  body: { rights?: readonly Right[]; passphrase?: string },
): Promise<unknown> => call(nothing, `people/${segment(name)}`, 'PUT', body, PATIENCE);

export const removePerson = (name: string): Promise<unknown> =>
  call(nothing, `people/${segment(name)}`, 'DELETE');

export const changePassphrase = (old: string, passphrase: string): Promise<unknown> =>
  call(nothing, 'session/passphrase', 'PUT', { old, passphrase }, PATIENCE);

export const getTokens = async (): Promise<Token[]> =>
  (await call(z.object({ tokens: z.array(tokenSchema) }), 'tokens')).tokens;

export const makeToken = async (body: {
  name: string;
  rights: readonly Right[];
  days: number;
}): Promise<string> => (await call(secretSchema, 'tokens', 'POST', body)).secret;

export const removeToken = (person: string, name: string): Promise<unknown> =>
  call(nothing, `tokens/${segment(person)}/${segment(name)}`, 'DELETE');

export const getPublishers = async (): Promise<Publisher[]> =>
  (await call(z.object({ publishers: z.array(publisherSchema) }), 'publishers')).publishers;

export const putPublisher = async (name: string, site: string | null): Promise<string> =>
  (await call(secretSchema, `publishers/${segment(name)}`, 'PUT', { site })).secret;

export const removePublisher = (name: string): Promise<unknown> =>
  call(nothing, `publishers/${segment(name)}`, 'DELETE');

export const getNotes = async (): Promise<AccessNote[]> =>
  (await call(z.object({ history: z.array(accessNoteSchema) }), 'access/history')).history;
