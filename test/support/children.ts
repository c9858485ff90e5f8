import type { ChildProcess } from 'node:child_process';

/** However a test ends, what it started does not outlive the test process. */
export function endWithTests<Child extends ChildProcess>(child: Child): Child {
  const end = () => child.kill('SIGKILL');
  process.once('exit', end);
  child.once('exit', () => process.off('exit', end));
  return child;
}
