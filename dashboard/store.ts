import { batch as atOnce, computed, signal } from '@preact/signals';
import type { LiveMessage, Vessel } from '../shared/wire/api.ts';
import type { Batch } from '../shared/wire/batch.ts';
import type { Stage } from '../shared/wire/names.ts';
import { getBatch, getRefused, getVessels } from './api.ts';
import type { Reading } from './chart/series.ts';
import { type Beat, daemonNowMs, elapsedMs, LOST_AFTER_MS, type Moment } from './link.ts';
import { alarmsOf, applyMessage, byClockHere, keyOf, type Vessels } from './vessels.ts';

/** What the daemon last said: the one place where server state is held. */

export const vessels = signal<Vessels | undefined>(undefined);
export const batches = signal<ReadonlyMap<string, Batch>>(new Map());

/** Counts how often the whole state was fetched after a connection: what is shown must be filled in then. */
export const synced = signal(0);

const beat = signal<Beat | undefined>(undefined);
const lastHeard = signal<Moment | undefined>(undefined);
/** Whether the vessels shown were fetched since the present connection was made. */
const current = signal(false);
const here = signal<Moment>(moment());

export function moment(): Moment {
  return { monotonicMs: performance.now(), wallMs: Date.now() };
}

export const tick = (): void => {
  here.value = moment();
};

/** The daemon's clock, epoch ms, moving on with every tick. */
export const now = computed(() => daemonNowMs(beat.value, here.value));
/** The same at this very moment. */
const daemonNow = (): number => daemonNowMs(beat.value, moment());
export const speed = computed(() => beat.value?.speed ?? 1);
/** Why the daemon cannot store what comes now; undefined while it can. */
export const notKept = signal<string | undefined>(undefined);
/** Why nobody is told of anything but by pages like this one; undefined while somebody is, or nobody wants to be. */
export const unreached = signal<string | undefined>(undefined);
export const isLive = computed(
  () =>
    current.value && lastHeard.value !== undefined && elapsedMs(lastHeard.value, here.value) < LOST_AFTER_MS,
);
/** Whether the page has been open for so long without a word that it must say so. */
const opened = signal(moment());
export const isUnheard = computed(
  () => lastHeard.value === undefined && elapsedMs(opened.value, here.value) >= LOST_AFTER_MS,
);
/** When the link was last heard, by the daemon's clock; undefined before the first word. */
export const heardAt = computed(() =>
  lastHeard.value === undefined ? undefined : daemonNowMs(beat.value, lastHeard.value),
);
/** Up to when it is known what was: the present while the link is live, else when it was last heard. */
export const knownUntil = computed(() => (isLive.value ? now.value : (heardAt.value ?? now.value)));
export const silentForMs = (): number =>
  lastHeard.value === undefined ? 0 : elapsedMs(lastHeard.value, moment());

export const alarms = computed(() => alarmsOf(vessels.value?.values() ?? []));
/** Id of the last alarm that came live and is to be told, for those who hear the page. */
export const lastRaised = signal<string | undefined>(undefined);

export type LiveReading = Reading & { key: string; channel: string };
const readingListeners = new Set<(readings: LiveReading[]) => void>();

/** Live readings as they come; returns what ends it. */
export function onReadings(listener: (readings: LiveReading[]) => void): () => void {
  readingListeners.add(listener);
  return () => readingListeners.delete(listener);
}

export const vesselAt = (key: string): Vessel | undefined => vessels.value?.get(key);

/** Stages that a vessel has been through in its batch, the present one last. */
export const passedStages = (vessel: Vessel): Stage[] =>
  (vessel.batch === null ? undefined : batches.value.get(vessel.batch))?.stages
    .filter((each) => each.vessel === vessel.vessel)
    .map(({ stage }) => stage) ?? [];

/** What somebody has to answer at once, in words: before all else on the tab. */
export const question = signal<string | undefined>(undefined);

/** The last warning that somebody sent to see that it arrives. */
export const testWarning = signal<Extract<LiveMessage, { type: 'test-warning' }> | undefined>(undefined);

type Refused = Awaited<ReturnType<typeof getRefused>>;
export const refused = signal<Refused | undefined>(undefined);
/** How many readings could not be taken in. */
export const refusedCount = computed(() =>
  (refused.value?.refused ?? []).reduce((sum, { count }) => sum + count, refused.value?.others ?? 0),
);

/** Raised whenever nobody is signed in any more: what was asked for in an earlier one is answered too late. */
let epoch = 0;

/** Throws ApiProblem. */
export async function fetchRefused(): Promise<void> {
  const askedIn = epoch;
  const answer = await getRefused();
  if (askedIn === epoch) refused.value = answer;
}

let batchRequests = 0;
const batchAnswered = new Map<string, number>();

/** For what is fetched after something was saved: that it was saved stands, and what is shown follows later. */
export const later = (): void => {};

/** Fetches a batch anew, be it under way or not. Throws ApiProblem. */
export async function fetchBatch(id: string): Promise<void> {
  const request = ++batchRequests;
  const askedIn = epoch;
  const batch = await getBatch(id);
  // A later request may have been answered first.
  if (askedIn !== epoch || request < (batchAnswered.get(id) ?? 0)) return;
  batchAnswered.set(id, request);
  batches.value = new Map(batches.value).set(id, batch);
}

const fetchedBatches = new Set<string>();
/** Batches that changed while they were being fetched. */
const changedMeanwhile = new Set<string>();

/** Batches whose last fetch failed: what is known of them may be old. */
const failedBatches = new Set<string>();

const isLacking = (id: string): boolean => !batches.value.has(id) || failedBatches.has(id);

/** Fetches the batches that are under way and not known yet, and those that may have changed. */
async function fetchBatches(mayHaveChanged: (id: string) => boolean = () => false): Promise<void> {
  const underWay = [...(vessels.value?.values() ?? [])].flatMap(({ batch }) => batch ?? []);
  const wanted = new Set(underWay.filter((id) => mayHaveChanged(id) || isLacking(id)));
  for (const id of wanted) {
    if (fetchedBatches.has(id)) {
      if (mayHaveChanged(id)) changedMeanwhile.add(id);
      continue;
    }
    fetchedBatches.add(id);
    try {
      do {
        changedMeanwhile.delete(id);
        await fetchBatch(id);
      } while (changedMeanwhile.has(id));
      failedBatches.delete(id);
    } catch {
      // The line of stages does without what was done; the next estimate asks again.
      failedBatches.add(id);
    } finally {
      fetchedBatches.delete(id);
    }
  }
}

/** For every request under way, what was heard since it began: newer than its answer may be. */
const heardSince = new Set<LiveMessage[]>();
let requests = 0;
let answered = 0;

async function fetchVessels(): Promise<void> {
  const request = ++requests;
  const askedIn = epoch;
  const since: LiveMessage[] = [];
  heardSince.add(since);
  try {
    const fetched = new Map(
      (await getVessels()).map((vessel) => [keyOf(vessel), byClockHere(vessel, daemonNow())]),
    );
    // A later request may have been answered first.
    if (askedIn === epoch && request > answered) {
      answered = request;
      vessels.value = since.reduce(applyMessage, fetched as Vessels);
    }
  } finally {
    heardSince.delete(since);
  }
}

/** Fetches the whole state anew. Throws ApiProblem. */
export async function refetch(changedBatch?: string): Promise<void> {
  await fetchVessels();
  void fetchBatches((id) => id === changedBatch);
}

/** A connection was made: its state is fetched before anything counts as live. */
export async function connected(stillOpen: () => boolean): Promise<void> {
  const askedIn = epoch;
  await fetchVessels();
  if (askedIn !== epoch) return;
  // What was done while nothing was heard is in no message.
  void fetchBatches(() => true);
  if (!stillOpen()) return;
  current.value = true;
  tick();
  synced.value += 1;
  fetchRefused().catch(() => {});
}

export const disconnected = (): void => {
  current.value = false;
};

/** Nobody is signed in any more: nothing of what was heard stays. */
export function forget(): void {
  atOnce(() => {
    disconnected();
    epoch++;
    vessels.value = undefined;
    batches.value = new Map();
    refused.value = undefined;
    testWarning.value = undefined;
    lastRaised.value = undefined;
    notKept.value = undefined;
    unreached.value = undefined;
    lastHeard.value = undefined;
    opened.value = moment();
    tick();
  });
}

export function hear(heard: LiveMessage): void {
  lastHeard.value = moment();
  tick();
  const message = heard.type === 'estimate' ? byClockHere(heard, daemonNow()) : heard;
  switch (message.type) {
    case 'beat':
      notKept.value = message.notKept;
      unreached.value = message.unreached;
      beat.value = { daemonMs: Date.parse(message.at), speed: message.speed, heard: moment() };
      return;
    case 'readings': {
      const readings = message.readings
        .filter(({ sound }) => sound)
        .map(({ site, vessel, channel, at, value }) => ({
          key: keyOf({ site, vessel }),
          channel,
          t: Date.parse(at),
          value,
        }));
      for (const listener of readingListeners) listener(readings);
      return;
    }
    case 'stage':
      refetch(message.batch ?? undefined).catch(() => {});
      return;
    case 'test-warning':
      testWarning.value = message;
      return;
    case 'alarm':
      if (message.event === 'raised' && message.told) lastRaised.value = message.id;
      break;
    case 'estimate':
      break;
  }
  for (const since of heardSince) since.push(message);
  if (vessels.value === undefined) return;
  vessels.value = applyMessage(vessels.value, message);
  if (message.type === 'estimate' && message.batch !== null && isLacking(message.batch)) {
    void fetchBatches();
  }
}
