import { spawnSync } from 'node:child_process';
import { fileURLToPath } from 'node:url';

/** Once before all tests: builds what they start as programs and threads, since those run as a user's do. */
export default function build(): void {
  const cwd = fileURLToPath(new URL('../../', import.meta.url));
  const args = ['--no-install', 'vite', 'build', 'daemon', '--logLevel', 'warn'];
  const { status } = spawnSync('npx', args, { cwd, stdio: 'inherit' });
  if (status !== 0) throw new Error('what the tests start cannot be built');
}
