import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { chemistryPage } from '../../docs/make-chemistry.ts';

test('docs/chemistry.md says what the code says', () => {
  const page = readFileSync(new URL('../../docs/chemistry.md', import.meta.url), 'utf8');
  expect(page, 'make it anew with `npm run chemistry-page`').toBe(chemistryPage());
});
