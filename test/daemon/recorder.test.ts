import { describe, expect, onTestFinished, test, vi } from 'vitest';
import {
  type Committed,
  type Judgement,
  type JudgementSource,
  Recorder,
} from '../../daemon/store/recorder.ts';
import {
  type NewEntry,
  type NewReading,
  type Store,
  StoreError,
  type WriteResult,
  type WriteUnit,
} from '../../daemon/store/store.ts';
import { ManualClock } from '../support/manual-clock.ts';

const START_MS = Date.UTC(2026, 2, 2, 10);

const reading = (value: number): NewReading => ({
  kind: 'reading',
  vessel: 'r1',
  channel: 'liquid-temperature',
  atMs: START_MS,
  stamped: true,
  arrivedMs: START_MS,
  value,
  seq: null,
  source: 'device',
});
const refusal = () => new StoreError('store-write-failed', 'the disk is full');

/** A store whose commits end when the test says so. */
class HeldStore {
  readonly writes: { units: readonly WriteUnit[]; commit(): void; refuse(error?: Error): void }[] = [];
  readonly #positions = new Map<string, number>();
  #onWrite: () => void = () => {};

  write(units: readonly WriteUnit[]): Promise<readonly WriteResult[]> {
    return new Promise((resolve, reject) => {
      this.writes.push({
        units,
        commit: () => resolve(units.map((unit) => this.#store(unit))),
        refuse: (error = refusal()) => reject(error),
      });
      this.#onWrite();
    });
  }

  /** The commit of a number (from 0), as soon as it is asked for. */
  async asked(number: number): Promise<(typeof this.writes)[number]> {
    while (this.writes.length <= number) {
      await new Promise<void>((resolve) => {
        this.#onWrite = resolve;
      });
    }
    return this.writes[number]!;
  }

  #store({ site, entries }: WriteUnit): WriteResult {
    return {
      site,
      entries: entries.map(({ arrivedMs }) => {
        const position = (this.#positions.get(site) ?? 0) + 1;
        this.#positions.set(site, position);
        return { result: 'stored', position, atMs: arrivedMs };
      }),
    };
  }
}

function start() {
  const store = new HeldStore();
  const clock = new ManualClock(START_MS);
  const recorder = new Recorder(store as unknown as Store, clock);
  return { store, clock, recorder };
}

class Rules implements JudgementSource {
  readonly heard: Committed[] = [];
  readonly given: ReadonlyMap<string, Judgement>[] = [];
  waiting = new Map<string, Judgement>();

  readonly unkeptValues: unknown[] = [];
  readonly ahead: boolean[] = [];

  /** What is added to values by what was committed. */
  added = 0;

  committed(committed: Committed): void {
    this.heard.push(committed);
    if (committed.entries.some(({ kind }) => kind === 'action')) this.added += 1;
  }
  corrected(_site: string, entries: readonly NewEntry[]): readonly NewEntry[] {
    return entries.map((entry) =>
      entry.kind === 'reading' ? { ...entry, value: entry.value + this.added } : entry,
    );
  }
  isStoredAs(_site: string, { value }: NewReading, storedValue: number): boolean {
    return value === storedValue;
  }
  unkept(_site: string, entries: readonly NewEntry[]): void {
    this.unkeptValues.push(...entries.map((entry) => (entry as NewReading).value));
  }
  takeJudgements(isAhead: boolean) {
    this.ahead.push(isAhead);
    const taken = this.waiting;
    this.waiting = new Map();
    return taken;
  }
  giveBack(judgements: ReadonlyMap<string, Judgement>) {
    this.given.push(judgements);
    this.waiting = new Map(judgements);
  }
}

const values = (units: readonly WriteUnit[]) =>
  units.map(({ site, entries }) => [
    site,
    ...entries.map((entry) => (entry.kind === 'reading' ? entry.value : entry.kind)),
  ]);
/** Everything that can go on without the store or the clock has gone on. */
const settled = () => new Promise<void>((resolve) => setImmediate(resolve));

describe('corrections', () => {
  const deed: NewEntry = {
    kind: 'action',
    action: 'stage',
    atMs: START_MS,
    arrivedMs: START_MS,
    by: 'Ida',
    body: {},
  };

  test('what comes behind a deed is stored as that has it, what came before as it was', async () => {
    const { store, recorder } = start();
    const rules = new Rules();
    recorder.judgeWith(rules);
    void recorder.submit('barn', [reading(1)], START_MS);
    const first = await store.asked(0);
    void recorder.submit('barn', [reading(2)], START_MS);
    void recorder.submit('barn', [deed], START_MS, { waits: false });
    void recorder.submit('barn', [reading(3)], START_MS);
    first.commit();
    (await store.asked(1)).commit();
    (await store.asked(2)).commit();
    await settled();
    expect(store.writes.map(({ units }) => values(units))).toEqual([
      [['barn', 1]],
      [['barn', 2, 'action']],
      [['barn', 4]],
    ]);
    expect(rules.heard.map(({ entries }) => values([{ site: 'barn', entries }])[0]!.slice(1))).toEqual([
      [1],
      [2],
      ['action'],
      [4],
    ]);
  });

  test('what the disk refuses is corrected once, and judged and stored alike', async () => {
    const { store, clock, recorder } = start();
    const rules = new Rules();
    rules.added = 0.5;
    recorder.judgeWith(rules);
    void recorder.submit('barn', [reading(1)], START_MS);
    (await store.asked(0)).refuse();
    await settled();
    clock.advance(1000);
    (await store.asked(1)).commit();
    await settled();
    expect(rules.unkeptValues).toEqual([1.5]);
    expect(values(store.writes[1]!.units)).toEqual([['barn', 1.5]]);
  });
});

describe('groups', () => {
  test('what comes at the same moment shares a commit', async () => {
    const { store, recorder } = start();
    const submitted = [1, 2].map((value) => recorder.submit('barn', [reading(value)], START_MS));
    expect(values((await store.asked(0)).units)).toEqual([['barn', 1, 2]]);
    store.writes[0]!.commit();
    expect(await Promise.all(submitted)).toMatchObject([[{ position: 1 }], [{ position: 2 }]]);
    await settled();
    expect(store.writes).toHaveLength(1);
  });

  test('what comes while a commit is under way shares the next one, in order', async () => {
    const { store, recorder } = start();
    const done: number[] = [];
    const submit = (site: string, ...numbers: number[]) =>
      recorder.submit(site, numbers.map(reading), START_MS).then((results) => {
        done.push(...numbers);
        return results;
      });
    const first = submit('barn', 1);
    await store.asked(0);
    const later = [submit('barn', 2, 3), submit('shed', 4), submit('barn', 5)];
    expect(values((await store.asked(0)).units)).toEqual([['barn', 1]]);
    await settled();
    expect(store.writes).toHaveLength(1);
    expect(done).toEqual([]);

    store.writes[0]!.commit();
    expect(await first).toMatchObject([{ result: 'stored', position: 1 }]);
    expect(values((await store.asked(1)).units)).toEqual([
      ['barn', 2, 3, 5],
      ['shed', 4],
    ]);
    expect(done).toEqual([1]);
    store.writes[1]!.commit();
    expect(await Promise.all(later)).toMatchObject([
      [{ position: 2 }, { position: 3 }],
      [{ position: 1 }],
      [{ position: 4 }],
    ]);
    expect(done).toEqual([1, 2, 3, 4, 5]);
    await settled();
    expect(store.writes).toHaveLength(2);
  });

  test('a group is bounded, so that those behind it do not wait for ever', async () => {
    const { store, recorder } = start();
    const many = Array.from({ length: 4000 }, (_, i) => reading(i));
    void recorder.submit('barn', [reading(0)], START_MS);
    await store.asked(0);
    for (let i = 0; i < 5; i++) void recorder.submit('barn', many, START_MS);
    (await store.asked(0)).commit();
    const second = await store.asked(1);
    expect(second.units[0]!.entries).toHaveLength(12_000);
    second.commit();
    expect((await store.asked(2)).units[0]!.entries).toHaveLength(8000);
  });

  test('the age of the oldest thing not committed is known', async () => {
    const { store, recorder } = start();
    expect(recorder.oldestWaitingMs()).toBeNull();
    const first = recorder.submit('barn', [reading(1)], START_MS + 10);
    await store.asked(0);
    const second = recorder.submit('barn', [reading(2)], START_MS + 20);
    expect(recorder.oldestWaitingMs()).toBe(START_MS + 10);
    (await store.asked(0)).commit();
    await first;
    expect(recorder.oldestWaitingMs()).toBe(START_MS + 20);
    (await store.asked(1)).commit();
    await second;
    expect(recorder.oldestWaitingMs()).toBeNull();
  });
});

describe('what the rules say', () => {
  const judgement = (): Judgement => ({
    alarms: [
      {
        kind: 'alarm',
        key: 'k',
        id: 'barn.r1.1',
        vessel: 'r1',
        alarm: 'boiling-near',
        event: 'raised',
        priority: 'high',
        atMs: START_MS,
        arrivedMs: START_MS,
        body: {},
      },
    ],
    judged: { position: 7, atMs: START_MS },
  });

  test('goes before what is new, and each submission hears of its own entries', async () => {
    const { store, recorder } = start();
    const rules = new Rules();
    recorder.judgeWith(rules);
    rules.waiting.set('barn', judgement());
    const submitted = recorder.submit('barn', [reading(1), reading(2)], START_MS);
    const write = await store.asked(0);
    expect(values(write.units)).toEqual([['barn', 'alarm', 1, 2]]);
    expect(write.units[0]!.judged).toEqual({ position: 7, atMs: START_MS });
    write.commit();
    const results = await submitted;
    expect(results).toMatchObject([{ position: 2 }, { position: 3 }]);
    expect(rules.heard).toEqual([
      { site: 'barn', entries: [reading(1), reading(2)], results, isJudged: false },
    ]);
    expect([rules.unkeptValues, rules.ahead]).toEqual([[], [false]]);
  });

  test('is given back where it could not be written, and written with the next', async () => {
    const { store, clock, recorder } = start();
    const rules = new Rules();
    recorder.judgeWith(rules);
    rules.waiting.set('barn', judgement());
    recorder.flush();
    (await store.asked(0)).refuse();
    await settled();
    expect(rules.given).toHaveLength(1);
    expect(rules.heard).toEqual([]);
    clock.advance(1000);
    expect(values((await store.asked(1)).units)).toEqual([['barn', 'alarm']]);
  });

  test('nothing to write asks the store for nothing', async () => {
    const { store, recorder } = start();
    recorder.judgeWith(new Rules());
    recorder.flush();
    await settled();
    expect(store.writes).toEqual([]);
  });
});

describe('a store that refuses', () => {
  test('is asked again every second, with the same first, and nobody is told that it is done', async () => {
    const { store, clock, recorder } = start();
    let done = false;
    const first = recorder.submit('barn', [reading(1)], START_MS).then(() => {
      done = true;
    });
    (await store.asked(0)).refuse();
    await settled();
    expect(recorder.failure).toBe('the disk is full');
    expect(recorder.oldestWaitingMs()).toBe(START_MS);
    const second = recorder.submit('barn', [reading(2)], START_MS + 5);
    clock.advance(999);
    await settled();
    expect(store.writes).toHaveLength(1);
    clock.advance(1);
    (await store.asked(1)).refuse();
    await settled();
    clock.advance(1000);
    const third = await store.asked(2);
    expect(values(third.units)).toEqual([['barn', 1, 2]]);
    expect(done).toBe(false);
    third.commit();
    await Promise.all([first, second]);
    expect(recorder.failure).toBeNull();
    expect(recorder.oldestWaitingMs()).toBeNull();
  });
});

describe('what waits for a store that refuses', () => {
  test('is judged from memory, once, in the order of arrival, and not again when it is stored', async () => {
    const { store, clock, recorder } = start();
    const rules = new Rules();
    recorder.judgeWith(rules);
    const submitted = [recorder.submit('barn', [reading(1)], START_MS)];
    const held = await store.asked(0);
    // Arrived while the first commit was under way.
    submitted.push(recorder.submit('barn', [reading(2)], START_MS));
    expect(recorder.oldestUnjudgedMs()).toBe(START_MS);
    held.refuse();
    await settled();
    expect(rules.unkeptValues).toEqual([1, 2]);
    submitted.push(recorder.submit('shed', [reading(3)], START_MS + 9));
    expect(rules.unkeptValues).toEqual([1, 2, 3]);
    expect(recorder.oldestUnjudgedMs()).toBeNull();
    expect(recorder.oldestWaitingMs()).toBe(START_MS);
    clock.advance(1000);
    (await store.asked(1)).refuse();
    await settled();
    clock.advance(1000);
    (await store.asked(2)).commit();
    await Promise.all(submitted);
    expect(rules.unkeptValues).toEqual([1, 2, 3]);
    expect(rules.heard.map(({ isJudged }) => isJudged)).toEqual([true, true, true]);
    void recorder.submit('barn', [reading(4)], START_MS + 10);
    (await store.asked(3)).commit();
    await settled();
    expect(rules.heard.at(-1)).toMatchObject({ isJudged: false });
    // Until all of it is stored, the rules know more than the store does.
    expect(rules.ahead).toEqual([false, true, true, false]);
  });
});

describe('a store that refuses, or does not answer', () => {
  test('what a person does fails at once, and is not done later', async () => {
    const { store, clock, recorder } = start();
    const rules = new Rules();
    recorder.judgeWith(rules);
    const first = recorder.submit('barn', [reading(1)], START_MS, { waits: false });
    const device = recorder.submit('barn', [reading(2)], START_MS);
    (await store.asked(0)).refuse();
    await expect(first).rejects.toMatchObject({ code: 'store-write-failed' });
    await expect(recorder.submit('barn', [reading(3)], START_MS, { waits: false })).rejects.toMatchObject({
      code: 'store-write-failed',
    });
    expect(rules.unkeptValues).toEqual([2]);
    clock.advance(1000);
    const next = await store.asked(1);
    expect(values(next.units)).toEqual([['barn', 2]]);
    next.commit();
    await device;
  });

  test('that has not answered for 5 s counts as one that refuses, until it does', async () => {
    vi.useFakeTimers({ toFake: ['setTimeout', 'clearTimeout'] });
    onTestFinished(() => void vi.useRealTimers());
    const { store, recorder } = start();
    const rules = new Rules();
    recorder.judgeWith(rules);
    const first = recorder.submit('barn', [reading(1)], START_MS);
    const write = await store.asked(0);
    const second = recorder.submit('barn', [reading(2)], START_MS);
    vi.advanceTimersByTime(4999);
    expect([recorder.failure, rules.unkeptValues]).toEqual([null, []]);
    vi.advanceTimersByTime(1);
    expect(recorder.failure).not.toBeNull();
    expect(rules.unkeptValues).toEqual([1, 2]);
    write.commit();
    await first;
    (await store.asked(1)).commit();
    await second;
    expect(recorder.failure).toBeNull();
    expect(rules.heard.map(({ isJudged }) => isJudged)).toEqual([true, true]);
  });

  test('has no more waiting than so many entries; what is turned away is not judged', async () => {
    const { store, recorder } = start();
    const rules = new Rules();
    recorder.judgeWith(rules);
    const waiting = [recorder.submit('barn', [reading(0)], START_MS)];
    (await store.asked(0)).refuse();
    await settled();
    const many = Array.from({ length: 5000 }, (_, i) => reading(i));
    for (let i = 0; i < 19; i++) waiting.push(recorder.submit('barn', many, START_MS));
    waiting.push(recorder.submit('barn', many.slice(1), START_MS));
    const judged = rules.unkeptValues.length;
    await expect(recorder.submit('barn', [reading(7)], START_MS)).rejects.toMatchObject({
      code: 'store-write-failed',
    });
    expect([judged, rules.unkeptValues.length]).toEqual([100_000, 100_000]);
    for (const submitted of waiting) submitted.catch(() => {});
    await recorder.close();
  });
});

describe('close', () => {
  const refusedAsClosed = { code: 'store-closed' };

  test('commits what waits, and takes nothing more', async () => {
    const { store, recorder } = start();
    const submitted = [recorder.submit('barn', [reading(1)], START_MS)];
    await store.asked(0);
    submitted.push(recorder.submit('barn', [reading(2)], START_MS));
    let closed = false;
    const closing = recorder.close().then(() => {
      closed = true;
    });
    (await store.asked(0)).commit();
    await settled();
    expect(closed).toBe(false);
    (await store.asked(1)).commit();
    await Promise.all(submitted);
    await closing;
    await expect(recorder.submit('barn', [reading(3)], START_MS)).rejects.toMatchObject(refusedAsClosed);
    expect(store.writes).toHaveLength(2);
  });

  test('does not wait for a store that refuses already; who waits is told', async () => {
    const { store, clock, recorder } = start();
    const told = expect(recorder.submit('barn', [reading(1)], START_MS)).rejects.toMatchObject(
      refusedAsClosed,
    );
    (await store.asked(0)).refuse();
    await settled();
    await recorder.close();
    await told;
    clock.advance(10_000);
    await settled();
    expect(store.writes).toHaveLength(1);
  });

  test('does not wait for a store that begins to refuse meanwhile', async () => {
    const { store, clock, recorder } = start();
    const told = expect(recorder.submit('barn', [reading(1)], START_MS)).rejects.toMatchObject(
      refusedAsClosed,
    );
    const closing = recorder.close();
    (await store.asked(0)).refuse();
    await settled();
    await closing;
    await told;
    clock.advance(10_000);
    await settled();
    expect(store.writes).toHaveLength(1);
  });
});
