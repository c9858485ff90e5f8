import { expect, test } from 'vitest';
import { refuseUnfitNode } from '../../../daemon/store/sqlite/database.ts';

test.each(['20.19.0', '22.23.3'])('the store opens on Node.js %s', (version) => {
  expect(() => refuseUnfitNode(version)).not.toThrow();
});

test.each(['24.0.0', '24.21.0', '100.1.0'])('on Node.js %s, which would abort, it says so', (version) => {
  expect(() => refuseUnfitNode(version)).toThrow(expect.objectContaining({ code: 'node-unfit' }));
});
