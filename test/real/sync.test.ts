import { execFileSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, readFileSync, rmSync, statfsSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { describe, expect, onTestFinished, test } from 'vitest';
import { answersIn, readTrace, straceArguments, type TracedAnswer } from '../support/sync-trace.ts';

/** Linux, `include/uapi/linux/magic.h`: a file system in memory, where a sync proves nothing. */
const TMPFS_MAGIC = 0x01021994;

const GROUPS = 12;

/** A process that writes one group after another and says so after each, under a trace. */
function traceWriting(...mode: ('normal' | 'sealing')[]): TracedAnswer[] {
  const output = fileURLToPath(new URL('../../.test-output/', import.meta.url));
  mkdirSync(output, { recursive: true });
  const dir = mkdtempSync(join(output, 'sync-'));
  onTestFinished(() => rmSync(dir, { recursive: true, force: true }));
  expect(statfsSync(dir).type).not.toBe(TMPFS_MAGIC);

  const trace = join(dir, 'trace');
  const script = fileURLToPath(new URL('../daemon/store/writing-process.ts', import.meta.url));
  const writing = [process.execPath, '--import', 'tsx', script, join(dir, 'data'), '0', String(GROUPS), '10'];
  const said = execFileSync('strace', [...straceArguments(trace), ...writing, ...mode], { encoding: 'utf8' });
  expect(said.trimEnd().split('\n')).toHaveLength(GROUPS);
  return answersIn(
    readTrace(readFileSync(trace, 'utf8')),
    (path) => path.endsWith('/store.db-wal'),
    ({ name, args }) => name === 'write' && /^1<.*"stored \d+\\n"/.test(args),
  );
}

// strace is Linux's alone.
describe.skipIf(process.platform !== 'linux')('on a real disk', () => {
  test('a write is answered after the write-ahead log was written and synced', () => {
    const answers = traceWriting();
    expect(answers).toHaveLength(GROUPS);
    expect(answers.filter(({ logWrites, synced }) => logWrites === 0 || !synced)).toEqual([]);
  }, 60_000);

  test('a write is answered after what was sealed meanwhile was synced, too', () => {
    const answers = traceWriting('sealing');
    expect(answers).toHaveLength(GROUPS);
    expect(answers.filter(({ logWrites, synced }) => logWrites === 0 || !synced)).toEqual([]);
  }, 60_000);

  test('the check above finds every answer of a store that does not wait for the disk', () => {
    const answers = traceWriting('normal');
    expect(answers).toHaveLength(GROUPS);
    expect(answers.filter(({ logWrites, synced }) => logWrites > 0 && !synced)).toHaveLength(GROUPS);
  }, 60_000);
});
