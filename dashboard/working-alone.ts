import { computed, signal } from '@preact/signals';
import { z } from 'zod';
import { type Alone, aloneSchema } from '../shared/wire/reach.ts';
import { call } from './api.ts';
import { now } from './store.ts';

/** Who works alone, as the daemon last said, for whatever of the page goes by it; fetched late. */

const listSchema = z.object({ alone: z.array(aloneSchema) });

/** Undefined before the first answer. */
export const alone = signal<readonly Alone[] | undefined>(undefined);

/** Throws ApiProblem. */
export async function fetchAlone(): Promise<void> {
  alone.value = (await call(listSchema, 'alone')).alone;
}

export const isAsked = ({ asks }: Alone, nowMs: number): boolean => nowMs >= Date.parse(asks);

/** Whose question waits for an answer, or was told because none came. */
export const asked = computed(() => (alone.value ?? []).filter((one) => isAsked(one, now.value)));
