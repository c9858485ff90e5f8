import { expect, test } from 'vitest';
import { HIGH_PLAIN, HILLS, SEA_LEVEL } from '../../simulator/gear.ts';
import { quietDays } from '../../simulator/recording.ts';
import { SCENARIO_NAMES } from '../../simulator/scenarios/index.ts';
import { raisedBy, scoreOf } from './score.ts';

/** `npm run bench:rules` goes through twenty. */
const SEED = 1;

test.for(SCENARIO_NAMES)('%s: every hazard is told in time, and nothing else', (name) => {
  const { misses, falseAlarms } = scoreOf(name, SEED);
  expect(misses).toEqual([]);
  expect(falseAlarms).toEqual([]);
});

test.for([
  ['sea level', SEA_LEVEL, 55],
  ['340 m', HILLS, 55],
  ['1,609 m', HIGH_PLAIN, 50],
] as const)('a quiet day at %s has no alarm', ([, site, planC]) => {
  expect(raisedBy(quietDays({ site, planC, days: 1, seed: 1, startMs: Date.UTC(2026, 2, 2, 8) }))).toEqual(
    [],
  );
});
