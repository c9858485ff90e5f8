import { computed, effect, signal } from '@preact/signals';
import { type Right, type Session, sessionSchema } from '../shared/wire/session.ts';
import { call, shutOut } from './api.ts';
import { LOST_AFTER_MS } from './link.ts';
import { personName } from './settings.ts';

/** Who is signed in, as the daemon last said; undefined while it has not. */
export const session = signal<Session | undefined>(undefined);
/** Whether the daemon was asked once, be it that it did not answer: a page can then go by what it is. */
export const isAsked = signal(false);
/** As it was before somebody had to sign in: who was signed in then, if anybody. */
export const lastOpen = signal<Session | undefined>(undefined);

export const person = computed(() => session.value?.person ?? undefined);
/** Whether somebody has to sign in before anything is shown. */
export const isShut = computed(() => session.value?.wanted === true && person.value === undefined);

/** Whether whoever is here has a right; as long as that is not known the daemon decides. */
export const may = (right: Right): boolean =>
  session.value?.wanted !== true || person.value?.rights.includes(right) === true;

/** The name that is noted beside what is done here: theirs who is signed in, else what they say; empty where neither is known. */
export const ownName = computed(() => person.value?.name ?? personName.value.trim().slice(0, 80));

/** An answer counts as long as nothing was asked or done since. */
let newest = 0;

const take = (next: Session): void => {
  const before = session.peek();
  isAsked.value = true;
  if (JSON.stringify(before) === JSON.stringify(next)) return;
  if (before !== undefined && !isShut.peek()) lastOpen.value = before;
  session.value = next;
};

async function taken(answer: Promise<Session>): Promise<void> {
  newest += 1;
  const own = newest;
  try {
    const next = await answer;
    if (own === newest) take(next);
  } finally {
    isAsked.value = true;
  }
}

/** Throws ApiProblem. */
export const askSession = (): Promise<void> =>
  taken(call(sessionSchema, 'session', 'GET', undefined, { patienceMs: LOST_AFTER_MS }));

/** Throws ApiProblem; `sign-in-refused`, and `too-many-tries` with how long to wait. */
export const signIn = (name: string, passphrase: string): Promise<void> =>
  taken(call(sessionSchema, 'session', 'POST', { name, passphrase }));

/** Throws ApiProblem. */
export const signOut = (): Promise<void> =>
  taken(call(sessionSchema.optional(), 'session', 'DELETE').then(() => ({ wanted: true, person: null })));

/** Whoever is refused may be signed out, or may less than before. */
export function followRefusals(): void {
  effect(() => {
    if (shutOut.value > 0) askSession().catch(() => {});
  });
}
