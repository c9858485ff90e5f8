import { describe, expect, test } from 'vitest';
import { answersIn, readTrace } from './sync-trace.ts';

const answers = (...lines: string[]) =>
  answersIn(
    readTrace(lines.join('\n')),
    (path) => path.endsWith('-wal'),
    (call) => call.args.includes('"ok'),
  ).map(({ logWrites, synced }) => ({ logWrites, synced }));

const WRITE = '7 pwrite64(3</d/s-wal>, "\\n\\0"..., 4096, 0) = 4096';
const SYNC = '7 fdatasync(3</d/s-wal>) = 0';
const ANSWER = '8 write(9<TCP:[127.0.0.1:1883->127.0.0.1:9]>, "ok", 2) = 2';

describe('an answer', () => {
  test('after a write and a sync is synced', () => {
    expect(answers(WRITE, WRITE, SYNC, ANSWER)).toEqual([{ logWrites: 2, synced: true }]);
  });

  test.each([
    ['without a sync', [WRITE, ANSWER]],
    ['before the sync', [WRITE, ANSWER, SYNC]],
    ['after a sync that stood before the last write', [WRITE, SYNC, WRITE, ANSWER]],
    ['after the sync of another file', [WRITE, '7 fdatasync(4</d/s>) = 0', ANSWER]],
    ['after a sync that failed', [WRITE, '7 fdatasync(3</d/s-wal>) = -1 EIO (Input/output error)', ANSWER]],
    [
      'while the sync is under way',
      [WRITE, '7 fdatasync(3</d/s-wal> <unfinished ...>', ANSWER, '7 <... fdatasync resumed>) = 0'],
    ],
    [
      'after a sync that began while the write was under way',
      [
        '7 pwrite64(3</d/s-wal>, "a", 1, 0 <unfinished ...>',
        '6 fsync(3</d/s-wal>) = 0',
        '7 <... pwrite64 resumed>) = 1',
        ANSWER,
      ],
    ],
  ])('%s is not', (_, lines) => {
    expect(answers(...lines).map(({ synced }) => synced)).toEqual([false]);
  });

  test('counts the writes since the answer before', () => {
    expect(answers(WRITE, SYNC, ANSWER, ANSWER, WRITE, SYNC, ANSWER)).toEqual([
      { logWrites: 1, synced: true },
      { logWrites: 0, synced: true },
      { logWrites: 1, synced: true },
    ]);
  });

  test('is told by what was sent, also where another thread came between', () => {
    const calls = readTrace(
      ['7 write(9<TCP:[[::1]:1883->[::1]:9]>, "ok", 2 <unfinished ...>', SYNC, '7 <... write resumed>) = 2']
        .join('\n')
        .replace('7 fdatasync', '8 fdatasync'),
    );
    expect(calls).toEqual([
      {
        name: 'write',
        path: 'TCP:[[::1]:1883->[::1]:9]',
        args: '9<TCP:[[::1]:1883->[::1]:9]>, "ok", 2',
        result: 2,
        begun: 0,
        ended: 2,
      },
      { name: 'fdatasync', path: '/d/s-wal', args: '3</d/s-wal>', result: 0, begun: 1, ended: 1 },
    ]);
  });
});
