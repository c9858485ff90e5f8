import type { z } from 'zod';
import { type Reach, reachSchema, testWaySchema, type Way } from '../../../shared/wire/reach.ts';
import { call, segment } from '../../api.ts';

const query = (by: { by?: string }): string => {
  const text = new URLSearchParams(by).toString();
  return text === '' ? '' : `?${text}`;
};

export const getReach = (): Promise<Reach> => call(reachSchema, 'reach');

export const putGeneral = (body: object): Promise<Reach> => call(reachSchema, 'reach', 'PUT', body);

export const putWishes = (name: string, body: object, by: { by?: string }): Promise<Reach> =>
  call(reachSchema, `reach/people/${segment(name)}${query(by)}`, 'PUT', body);

export const removePerson = (name: string, by: { by?: string }): Promise<Reach> =>
  call(reachSchema, `reach/people/${segment(name)}${query(by)}`, 'DELETE');

/** A way may hang for as long as the daemon waits for it, ms. */
const TEST_PATIENCE_MS = 40_000;

export const testWay = (name: string, way: Way): Promise<z.infer<typeof testWaySchema>> =>
  call(
    testWaySchema,
    `reach/people/${segment(name)}/test`,
    'POST',
    { way },
    { patienceMs: TEST_PATIENCE_MS },
  );

export const addBrowser = (name: string, subscription: object, by: { by?: string }): Promise<Reach> =>
  call(reachSchema, `reach/people/${segment(name)}/browsers${query(by)}`, 'POST', subscription);

export const removeBrowser = (name: string, id: string, by: { by?: string }): Promise<Reach> =>
  call(reachSchema, `reach/people/${segment(name)}/browsers/${segment(id)}${query(by)}`, 'DELETE');
