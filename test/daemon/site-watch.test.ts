import { expect, test } from 'vitest';
import type { EntryResult, NewEntry } from '../../daemon/store/store.ts';
import { type ActionBodies, type ActionName, newAction } from '../../daemon/watch/actions.ts';
import { SiteWatch } from '../../daemon/watch/site-watch.ts';
import { resolveWatchPlan } from '../../shared/plan/watch-plan.ts';
import { reading } from './store/entries.ts';

const START_MS = Date.UTC(2026, 2, 2, 10);
const ms = (seconds: number): number => START_MS + 1000 * seconds;

const act = <Name extends ActionName>(seconds: number, name: Name, body: ActionBodies[Name]): NewEntry =>
  newAction(name, body, { by: 'p1', atMs: ms(seconds), arrivedMs: ms(seconds) });
const liquid = (seconds: number, value: number): NewEntry =>
  reading({ atMs: ms(seconds), arrivedMs: ms(seconds), value });

/** A site with a vessel in `react`, all of it stored. */
function reacting() {
  const site = new SiteWatch('barn');
  let position = 0;
  const store = (entries: readonly NewEntry[], isJudged: boolean) => {
    const results: EntryResult[] = entries.map(({ atMs }) => ({
      result: 'stored',
      position: ++position,
      atMs,
    }));
    return site.committed(entries, results, isJudged);
  };
  const opened = {
    id: 'b1',
    name: 'b1',
    vessel: 'r1',
    request: {},
    computed: { watch: resolveWatchPlan() },
    site: null,
  };
  store(
    [
      act(0, 'vessel-added', { vessel: 'r1', role: 'reactor' }),
      act(0, 'batch-opened', opened as unknown as ActionBodies['batch-opened']),
      act(0, 'stage', { batch: 'b1', vessel: 'r1', stage: 'react', deviation: null }),
      liquid(1, 55),
    ],
    false,
  );
  const told = (isAhead: boolean) => {
    const judgement = site.takeJudgement(false, isAhead);
    const alarms = judgement?.alarms.map((entry) =>
      entry.kind === 'alarm' ? `${entry.alarm} ${entry.event}` : '',
    );
    return { alarms: alarms ?? [], judgedMs: judgement?.judged.atMs, snapshot: judgement?.snapshot };
  };
  told(false);
  return { site, store, told };
}

test('what was said to something that waits for the disk is stored after it, and not before', () => {
  const { site, store, told } = reacting();
  const [near, over, silence] = [[liquid(10, 62)], [liquid(20, 60)], [liquid(21, 60)]];
  expect(site.unkept(near).outputs).toHaveLength(1);
  expect(site.unkept(over).outputs).toHaveLength(1);
  site.unkept(silence);
  // By the clock, while all of them wait.
  expect(site.tick(ms(100))).toMatchObject([{ alarm: 'reading-late', event: 'raised' }]);
  store([act(101, 'site-stated', { site: { altitudeM: 0 } })], false);
  expect(told(true)).toEqual({ alarms: [], judgedMs: ms(1), snapshot: undefined });
  store(near, true);
  expect(told(true).alarms).toEqual(['boiling-near raised']);
  store(over, true);
  expect(told(true).alarms).toEqual(['boiling-near cleared']);
  store(silence, true);
  const all = told(false);
  expect(all.alarms).toEqual(['reading-late raised']);
  expect(all.judgedMs).toBeGreaterThanOrEqual(ms(100));
});

test('what a device stamped ahead does not move what is stamped here behind it', () => {
  const { site } = reacting();
  site.unkept([liquid(50, 61)]);
  const plain = reading({ atMs: ms(10), arrivedMs: ms(10), value: 66, stamped: true });
  expect(site.unkept([plain]).outputs).toEqual([]);
});
