import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import * as store from '../../dashboard/store.ts';
import { computePlan } from '../../shared/plan/compute.ts';
import type { Vessel } from '../../shared/wire/api.ts';
import type { Batch } from '../../shared/wire/batch.ts';
import type { Stage } from '../../shared/wire/names.ts';
import { patiently } from '../support/patiently.ts';

const AT = '2026-03-02T10:15:00.000Z';

const vessel = (liquidC: number, fields: Partial<Vessel> = {}): Vessel => ({
  site: 'shed',
  vessel: 'r1',
  role: 'reactor',
  stage: 'warm',
  stageSince: AT,
  batch: 'b1',
  batchName: 'Autumn oil',
  untried: false,
  pressureHPa: 1013.25,
  boilingC: 64.5,
  boilingAssumed: false,
  liquidC,
  headroomC: 64.5 - liquidC,
  risingCPerMin: null,
  toBoiling: null,
  methanolPresent: false,
  mixing: null,
  planned: null,
  counted: { reactionMinutes: null, notCounted: [], settleHours: null },
  dosing: null,
  readings: {},
  alarms: [],
  ...fields,
});

const { workings: _, ...COMPUTED } = computePlan({});
const PLANNED = { plan: COMPUTED.watch, computed: COMPUTED };

const batch = (...stages: Stage[]): Batch => ({
  id: 'b1',
  name: 'Autumn oil',
  site: 'shed',
  vessel: 'r1',
  stage: stages.at(-1)!,
  entries: [],
  moves: [],
  glycerolIn: [],
  soapLimitPpm: 66,
  draws: [],
  wentInto: [],
  madeLike: null,
  template: null,
  opened: AT,
  open: true,
  stages: stages.map((stage) => ({
    stage,
    vessel: 'r1',
    at: AT,
    by: 'Ida',
    deviation: null,
    seen: [],
    unseen: [],
    reason: null,
  })),
  ...PLANNED,
  request: {},
});

/** Requests that wait for their answer, the oldest first. */
let waiting: { path: string; answer: (body: unknown) => void }[] = [];

async function answerNext(path: string, body: unknown): Promise<void> {
  await patiently(() => expect(waiting.map((each) => each.path)).toContain(path));
  const at = waiting.findIndex((each) => each.path === path);
  waiting.splice(at, 1)[0]!.answer(body);
}

const VESSELS = '/api/v1/vessels';
const BATCH = '/api/v1/batches/b1';

beforeEach(() => {
  waiting = [];
  store.vessels.value = undefined;
  store.batches.value = new Map([['b1', batch('warm')]]);
  vi.stubGlobal(
    'fetch',
    (path: string) =>
      new Promise((resolve) => {
        waiting.push({ path, answer: (body) => resolve(Response.json(body)) });
      }),
  );
});
afterEach(() => vi.unstubAllGlobals());

const liquid = (key = 'shed:r1') => store.vesselAt(key)?.liquidC;

describe('the whole state fetched anew', () => {
  it('does not overwrite what was heard since the request began', async () => {
    const done = store.refetch();
    store.hear({ type: 'estimate', ...vessel(52) });
    await answerNext(VESSELS, { vessels: [vessel(50), vessel(30, { vessel: 'r2' })] });
    await done;
    expect(liquid()).toBe(52);
    expect(liquid('shed:r2')).toBe(30);
  });

  it('replaces what was heard before', async () => {
    store.vessels.value = new Map();
    store.hear({ type: 'estimate', ...vessel(52) });
    const done = store.refetch();
    await answerNext(VESSELS, { vessels: [vessel(53)] });
    await done;
    expect(liquid()).toBe(53);
  });

  it('is that of the later request, whichever is answered first', async () => {
    const [first, second] = [store.refetch(), store.refetch()];
    await patiently(() => expect(waiting).toHaveLength(2));
    const [older, newer] = waiting.splice(0);
    newer!.answer({ vessels: [vessel(51)] });
    await second;
    older!.answer({ vessels: [vessel(50)] });
    await first;
    expect(liquid()).toBe(51);
  });
});

describe('a batch whose stage changes while it is being fetched', () => {
  it('is fetched once more', async () => {
    const stage = { type: 'stage', at: AT, site: 'shed', vessel: 'r1', batch: 'b1' } as const;
    store.hear({ ...stage, stage: 'dry-oil' });
    await answerNext(VESSELS, { vessels: [vessel(50)] });
    await patiently(() => expect(waiting.map(({ path }) => path)).toEqual([BATCH]));
    store.hear({ ...stage, stage: 'dose' });
    await answerNext(VESSELS, { vessels: [vessel(50)] });
    // The second stage is noted once its vessels are here.
    await patiently(() => expect(waiting.map(({ path }) => path)).toEqual([BATCH]));
    await new Promise((resolve) => setTimeout(resolve, 20));
    await answerNext(BATCH, batch('warm', 'dry-oil'));
    await answerNext(BATCH, batch('warm', 'dry-oil', 'dose'));
    await patiently(() => expect(store.passedStages(vessel(50))).toEqual(['warm', 'dry-oil', 'dose']));
  });
});

describe('a batch that went on while the link was lost', () => {
  it('is fetched anew with the next connection, and once more where that failed', async () => {
    const done = store.connected(() => true);
    await answerNext(VESSELS, { vessels: [vessel(50)] });
    await done;
    await answerNext(BATCH, { title: 'not a batch' });
    await patiently(() => expect(waiting.map(({ path }) => path)).not.toContain(BATCH));
    await new Promise((resolve) => setTimeout(resolve, 20));
    expect(store.passedStages(vessel(50))).toEqual(['warm']);
    store.hear({ type: 'estimate', ...vessel(51) });
    await answerNext(BATCH, batch('warm', 'dry-oil'));
    await patiently(() => expect(store.passedStages(vessel(50))).toEqual(['warm', 'dry-oil']));
  });
});

describe('the last alarm that came, for those who hear the page', () => {
  const raised = (id: string, told: boolean) =>
    store.hear({
      type: 'alarm',
      at: AT,
      site: 'shed',
      vessel: 'r1',
      alarm: 'reading-late',
      event: 'raised',
      priority: 'high',
      late: false,
      value: null,
      limit: null,
      because: '',
      todo: '',
      facts: {},
      id,
      explainedBy: told ? null : 'device-gone',
      told,
    });

  it('is one that is to be told', () => {
    raised('shed.r1.1', true);
    raised('shed.r1.2', false);
    expect(store.lastRaised.value).toBe('shed.r1.1');
  });
});

describe('signing out', () => {
  const REFUSED = '/api/v1/refused';
  const refused = { refused: [], others: 3 };

  it('leaves nothing of what was heard', () => {
    store.vessels.value = new Map();
    store.hear({ type: 'beat', at: AT, speed: 1, notKept: 'disk full', unreached: 'no way' });
    store.hear({
      type: 'alarm',
      at: AT,
      site: 'shed',
      vessel: 'r1',
      alarm: 'boiling-near',
      event: 'raised',
      priority: 'high',
      late: false,
      value: 2,
      limit: 3,
      because: '',
      todo: '',
      facts: {},
      id: 'shed.r1.1',
      explainedBy: null,
      told: true,
    });
    const heard = () => [store.notKept.value, store.unreached.value, store.lastRaised.value];
    expect(heard()).toEqual(['disk full', 'no way', 'shed.r1.1']);
    store.forget();
    expect([...heard(), store.vessels.value]).toEqual([undefined, undefined, undefined, undefined]);
  });

  it('is not undone by what is answered later', async () => {
    const fetching = [store.fetchRefused(), store.fetchBatch('b1'), store.refetch()];
    store.forget();
    await answerNext(REFUSED, refused);
    await answerNext(BATCH, batch('warm', 'react'));
    await answerNext(VESSELS, { vessels: [vessel(50)] });
    await Promise.all(fetching);
    expect([store.refused.value, store.vessels.value, [...store.batches.value]]).toEqual([
      undefined,
      undefined,
      [],
    ]);
  });

  it('holds up nobody who signs in next: all is asked for anew, a batch under way of being fetched too', async () => {
    const before = store.connected(() => true);
    await answerNext(VESSELS, { vessels: [vessel(50)] });
    await before;
    await patiently(() => expect(waiting.map(({ path }) => path).sort()).toEqual([BATCH, REFUSED]));
    store.forget();
    const after = store.connected(() => true);
    await answerNext(VESSELS, { vessels: [vessel(51)] });
    await after;
    // The first two are answers to who has left.
    await answerNext(BATCH, batch('warm'));
    await answerNext(REFUSED, { refused: [], others: 9 });
    await answerNext(BATCH, batch('warm', 'react'));
    await answerNext(REFUSED, refused);
    await patiently(() => expect(store.passedStages(vessel(51))).toEqual(['warm', 'react']));
    expect([liquid(), store.refusedCount.value]).toEqual([51, 3]);
  });

  it('before the state was answered counts as no connection', async () => {
    const done = store.connected(() => true);
    const { value: syncedBefore } = store.synced;
    store.forget();
    await answerNext(VESSELS, { vessels: [vessel(50)] });
    await done;
    expect([store.synced.value, store.vessels.value]).toEqual([syncedBefore, undefined]);
  });
});
