import { once } from 'node:events';
import { readdirSync, readFileSync } from 'node:fs';
import { WebSocket } from 'ws';

/** What a process holds. */
export interface Held {
  /** Open descriptors, and threads (proc(5)). */
  descriptors: number;
  threads: number;
  /** Resident, all threads together, MB. */
  residentMb: number;
  /** Heap of the main thread after what is not needed was thrown away, MB. */
  heapMb: number;
  /** What keeps the event loop busy, by kind: sockets, timers, requests. */
  resources: Record<string, number>;
}

const HELD = `(() => {
  const resources = {};
  for (const kind of process.getActiveResourcesInfo()) resources[kind] = (resources[kind] ?? 0) + 1;
  return { heapMb: process.memoryUsage().heapUsed / 2 ** 20, resources };
})()`;

/** Looks into a process of Node.js that was started with its inspector (Chrome DevTools protocol). */
export async function heldBy(pid: number, inspectUrl: string): Promise<Held> {
  const socket = new WebSocket(inspectUrl, { perMessageDeflate: false });
  try {
    await once(socket, 'open');
    // Twice: what the first frees may hold something that the second finds.
    for (let i = 0; i < 2; i++) await call(socket, 'HeapProfiler.collectGarbage');
    const { result } = await call(socket, 'Runtime.evaluate', { expression: HELD, returnByValue: true });
    return { ...(result as { value: Pick<Held, 'heapMb' | 'resources'> }).value, ...heldOutside(pid) };
  } finally {
    // A process does not end while somebody looks into it.
    socket.terminate();
  }
}

function heldOutside(pid: number): Pick<Held, 'descriptors' | 'threads' | 'residentMb'> {
  const status = readFileSync(`/proc/${pid}/status`, 'utf8');
  const number = (name: string): number => Number(new RegExp(`^${name}:\\s+(\\d+)`, 'm').exec(status)![1]);
  return {
    descriptors: readdirSync(`/proc/${pid}/fd`).length,
    threads: number('Threads'),
    residentMb: number('VmRSS') / 1024,
  };
}

let calls = 0;

async function call(socket: WebSocket, method: string, params?: object): Promise<Record<string, unknown>> {
  const id = ++calls;
  socket.send(JSON.stringify({ id, method, params }));
  for (;;) {
    const [data] = (await once(socket, 'message')) as [Buffer];
    const answer = JSON.parse(data.toString()) as { id?: number; result: Record<string, unknown> };
    if (answer.id === id) return answer.result;
  }
}
