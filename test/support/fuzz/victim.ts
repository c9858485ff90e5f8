import { readFileSync } from 'node:fs';
import { request } from 'node:http';
import { connectAsync, type IClientOptions } from 'mqtt';
import { expect } from 'vitest';
import { dataFolder, LOOPBACK, type Served, serve } from '../serving.ts';

/** Whoever does nothing wrong is served within so long while others do, ms. */
const OTHERS_WITHIN_MS = 10_000;
/** What memory may grow by in the second half of the tries, MB: pages of the heap come and go in some such steps. */
const MOST_GROWN_MB = 60;

/** A daemon that is a process of its own, to which bad things are done, with somebody beside who does nothing wrong. */
export interface Victim {
  served: Served;
  /** A reading is acknowledged and health is asked for, in time. */
  others(): Promise<void>;
  /** It is as well as before, and has said nothing of a mistake: ends it. */
  endWell(): Promise<void>;
}

/** `prepare` sets up what is to be there; it gives what a device signs in with, where it has to. */
export async function startVictim(
  prepare: (served: Served) => Promise<IClientOptions> = async () => ({}),
): Promise<Victim> {
  const { data, remove } = dataFolder();
  const served = await serve({ data });
  const device = await connectAsync(`mqtt://${LOOPBACK}:${served.mqttPort}`, {
    reconnectPeriod: 0,
    ...(await prepare(served)),
  });
  /** At each look, MB. */
  const memory: number[] = [];
  const others = async () => {
    const late = AbortSignal.timeout(OTHERS_WITHIN_MS);
    const [health] = await Promise.all([
      statusOf(served.httpPort, late),
      device.publishAsync('esterwatch/v1/reading/bystander/r1/liquid-temperature', '20', { qos: 1 }),
    ]);
    expect(health).toBe(200);
    memory.push(memoryMb(served.pid));
  };
  return {
    served,
    others,
    endWell: async () => {
      const unwell = await others().then(
        () => null,
        (error: Error) => error,
      );
      await device.endAsync(true);
      served.kill('SIGTERM');
      const { code, stderr } = await served.ended;
      remove();
      // First, since it says why.
      expect(stderr.split('\n').filter((line) => line !== '' && !isOrdinary(line))).toEqual([]);
      expect(unwell).toBeNull();
      expect(code).toBe(0);
      expect(memory.at(-1)! - memory[Math.floor(memory.length / 2)]!).toBeLessThan(MOST_GROWN_MB);
    },
  };
}

/** A line of the log that tells of no mistake of the daemon's own. */
function isOrdinary(line: string): boolean {
  try {
    return (JSON.parse(line) as { level: number }).level < 50;
  } catch {
    // A stack, or a warning of Node.js.
    return false;
  }
}

/** What a process holds in memory, MB; 0 where the system does not say. */
function memoryMb(pid: number): number {
  try {
    return Number(/VmRSS:\s+(\d+)/.exec(readFileSync(`/proc/${pid}/status`, 'utf8'))![1]) / 1024;
  } catch {
    return 0;
  }
}

const statusOf = (port: number, signal: AbortSignal): Promise<number> =>
  new Promise((resolve, reject) => {
    const asking = request(
      { host: LOOPBACK, port, path: '/api/v1/health', agent: false, signal },
      (answer) => {
        answer.resume();
        resolve(answer.statusCode!);
      },
    );
    asking.on('error', reject).end();
  });
