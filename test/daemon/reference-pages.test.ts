import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { referencePages } from '../../docs/make-reference.ts';

// A score of programs are started, one after the other.
test('docs/reference/ says what the built program says of itself', { timeout: 120_000 }, async () => {
  const pages = await referencePages();
  const folder = new URL('../../docs/reference/', import.meta.url);
  for (const [file, made] of Object.entries(pages))
    expect(readFileSync(new URL(file, folder), 'utf8'), 'make them anew with `npm run reference-pages`').toBe(
      made,
    );
  // What somebody looks for is there.
  expect(pages['commands.md']).toContain('--own-certificate');
  expect(pages['configuration.md']).toContain('retention?: {');
  expect(pages['api.md']).toContain('## POST /api/v1/batches/{id}/stage');
});
