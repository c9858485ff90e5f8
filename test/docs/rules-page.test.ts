import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { withRules } from '../../docs/make-rules.ts';

test('docs/rules.md says what the rules say of themselves', () => {
  const page = readFileSync(new URL('../../docs/rules.md', import.meta.url), 'utf8');
  expect(page, 'make it anew with `npm run rules-page`').toBe(withRules(page));
});
