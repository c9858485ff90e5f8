import { execFile } from 'node:child_process';
import { promisify } from 'node:util';
import { expect, test } from 'vitest';

const run = promisify(execFile);
const root = new URL('..', import.meta.url);

/** Each tool's own exit code is the verdict; its output is shown where it fails. */
test.for([
  {
    what: 'formatted and free of what the linter finds',
    command: ['biome', 'check', '--error-on-warnings', '.'],
  },
  { what: 'of sound types in every part', command: ['tsc', '-b'] },
  { what: 'free of unused files, exports and packages', command: ['knip', '--no-progress'] },
])('the project is $what', { timeout: 120_000 }, async ({ command }) => {
  const failed = await run('npx', ['--no-install', ...command], { cwd: root }).then(
    () => '',
    ({ stdout, stderr }) => `${stdout}\n${stderr}`,
  );
  expect(failed).toBe('');
});
