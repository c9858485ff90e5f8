/** Reads a system-call trace for whether what was answered was on the disk before. */

/** Arguments with which `strace` writes to `file` what `readTrace` reads; the command to run follows them. */
export const straceArguments = (file: string): string[] => [
  '-f',
  '-yy', // names the file or the socket behind each descriptor
  '-e',
  'trace=fdatasync,fsync,write,pwrite64,sendto,writev,sendmsg',
  '-o',
  file,
];

export interface SystemCall {
  name: string;
  /** Path or socket behind the descriptor. */
  path: string;
  /** All arguments as strace prints them: data in quotes, cut after 32 bytes. */
  args: string;
  result: number;
  /** Lines of the trace on which it began and came back. */
  begun: number;
  ended: number;
}

const LINE = /^(?:(\d+) +)?(.*)$/;
const WHOLE = /^(\w+)\((.*)\) += (-?\d+)/;
const BEGUN = /^(\w+)\((.*) <unfinished \.\.\.>$/;
const RESUMED = /^<\.\.\. (\w+) resumed>(.*)\) += (-?\d+)/;
/** The arrow between the ends of a socket is no end of the name. */
const DESCRIPTOR = /^\d+<(.*?)>(?=[,) ]|$)/;

/** The calls of a trace in the order in which they began; without those that never came back. */
export function readTrace(text: string): SystemCall[] {
  const calls: SystemCall[] = [];
  const unfinished = new Map<string, { name: string; args: string; begun: number }>();
  const add = (name: string, args: string, result: string, begun: number, ended: number): void => {
    calls.push({ name, path: DESCRIPTOR.exec(args)?.[1] ?? '', args, result: Number(result), begun, ended });
  };
  for (const [line, content] of text.split('\n').entries()) {
    const [, thread = '', rest = ''] = LINE.exec(content)!;
    const begun = BEGUN.exec(rest);
    const resumed = RESUMED.exec(rest);
    const whole = WHOLE.exec(rest);
    if (begun) unfinished.set(thread, { name: begun[1]!, args: begun[2]!, begun: line });
    else if (resumed) {
      const call = unfinished.get(thread);
      unfinished.delete(thread);
      if (call) add(call.name, call.args + resumed[2]!, resumed[3]!, call.begun, line);
    } else if (whole) add(whole[1]!, whole[2]!, whole[3]!, line, line);
  }
  return calls.sort((a, b) => a.begun - b.begun);
}

export interface TracedAnswer {
  args: string;
  /** How often the log was written between the answer before and this one. */
  logWrites: number;
  /** Whether all that was ever written to the log before this answer was synced before it, too. */
  synced: boolean;
}

/**
 * What stood between the log and each answer. To be asked of a run that waits for each answer before it
 * writes again: a write that is under way for a later answer would count as not synced for this one.
 */
export function answersIn(
  calls: readonly SystemCall[],
  isLog: (path: string) => boolean,
  isAnswer: (call: SystemCall) => boolean,
): TracedAnswer[] {
  const writes = calls.filter(({ name, path }) => /^p?write/.test(name) && isLog(path));
  const syncs = calls.filter(({ name, path, result }) => /sync$/.test(name) && isLog(path) && result === 0);
  let before = -1;
  return calls.filter(isAnswer).map(({ args, begun }) => {
    const written = writes.filter((write) => write.begun < begun);
    const lastWritten = Math.max(...written.map((write) => write.ended));
    const answer = {
      args,
      logWrites: written.filter((write) => write.begun > before).length,
      synced: syncs.some((sync) => sync.begun > lastWritten && sync.ended < begun),
    };
    before = begun;
    return answer;
  });
}
