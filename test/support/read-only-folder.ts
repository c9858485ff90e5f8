import { spawnSync } from 'node:child_process';
import { chmodSync, readdirSync, statSync } from 'node:fs';
import { join } from 'node:path';

const run = (program: string, ...args: string[]): boolean => spawnSync(program, args).status === 0;

/**
 * Makes an empty folder a place that can be made read-only. The superuser may write whatever the modes say,
 * and gets a small file system of its own for it. Undefined where there can be none.
 */
export function withReadOnlySwitch(folder: string): { makeReadOnly(): void; remove(): void } | undefined {
  if (process.geteuid?.() !== 0) {
    const chmodAll = (folders: number, files: number): void => {
      chmodSync(folder, 0o700);
      for (const name of readdirSync(folder, { recursive: true, encoding: 'utf8' }).reverse()) {
        const path = join(folder, name);
        chmodSync(path, statSync(path).isDirectory() ? folders : files);
      }
      chmodSync(folder, folders);
    };
    return { makeReadOnly: () => chmodAll(0o500, 0o400), remove: () => chmodAll(0o700, 0o600) };
  }
  if (!run('mount', '-t', 'tmpfs', '-o', 'size=16m', 'tmpfs', folder)) return undefined;
  return {
    makeReadOnly: () => {
      if (!run('mount', '-o', 'remount,ro', folder)) throw new Error(`${folder} stays writable`);
    },
    remove: () => {
      run('umount', folder) || run('umount', '--lazy', folder);
    },
  };
}
