import { spawnSync } from 'node:child_process';
import { fileURLToPath } from 'node:url';

/**
 * Once before all tests: compiles what they start as programs and threads. Commands and the store's threads run
 * compiled, as a user's do, and a thread that has to compile its own source takes a second each.
 */
export default function build(): void {
  const cwd = fileURLToPath(new URL('../../', import.meta.url));
  const args = ['--no-install', 'tsc', '-b', 'shared', 'simulator', 'daemon'];
  const { status } = spawnSync('npx', args, { cwd, stdio: 'inherit' });
  if (status !== 0) throw new Error('what the tests start does not compile');
}
