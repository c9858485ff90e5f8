import { expect, test } from 'vitest';
import { HIGH_PLAIN, HILLS, SEA_LEVEL } from '../../simulator/gear.ts';
import { quietDays } from '../../simulator/recording.ts';
import { scenariosToRun, share } from '../support/thorough.ts';
import { raisedBy, scoreOf } from './score.ts';

/** `npm run bench:rules` goes through twenty, of every scenario. */
const SEED = 1;

test.for(scenariosToRun())('%s: every hazard is told in time, and nothing else', (name) => {
  const { misses, falseAlarms } = scoreOf(name, SEED);
  expect(misses).toEqual([]);
  expect(falseAlarms).toEqual([]);
});

const SITES = [
  ['1,609 m', HIGH_PLAIN, 50],
  ['340 m', HILLS, 55],
  ['sea level', SEA_LEVEL, 55],
] as const;

test.for(SITES.slice(0, share(SITES.length, 3)))('a quiet day at %s has no alarm', ([, site, planC]) => {
  expect(raisedBy(quietDays({ site, planC, days: 1, seed: 1, startMs: Date.UTC(2026, 2, 2, 8) }))).toEqual(
    [],
  );
});
