import type { RecordTest } from '../../shared/wire/record.ts';

/** What a test of the fuel is called: of a laboratory's what it looked at. */
export const testName = ({ test, property }: Pick<RecordTest, 'test' | 'property'>): string =>
  test === 'laboratory' && property !== null ? property : test;

/** The standards, with their editions, whose limits a test is outside of. */
export const outsideOf = ({ limits }: Pick<RecordTest, 'limits'>): string[] =>
  limits.filter(({ within }) => !within).map(({ standard }) => standard);
