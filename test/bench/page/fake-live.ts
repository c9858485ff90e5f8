import { once } from 'node:events';
import { createServer, type IncomingMessage, request, type ServerResponse } from 'node:http';
import type { AddressInfo } from 'node:net';
import { setImmediate as turn } from 'node:timers/promises';
import { type WebSocket, WebSocketServer } from 'ws';
import type { Alarm, LiveMessage, Vessel } from '../../../shared/wire/api.ts';
import { isoTime } from '../../../shared/wire/time.ts';
import { LOOPBACK } from '../../support/serving.ts';

/** A day of a daemon's live messages as fast as a page takes them: all else is asked of a real daemon. */

const HOUR_MS = 3_600_000;
const BEAT_EVERY_S = 2;
/** Unsent bytes up to which it goes on. */
const MOST_UNSENT = 200_000;

export interface FakeLive {
  port: number;
  /** Sends an hour of messages, and waits until the page has taken them in: how many. */
  hour(): Promise<number>;
  close(): Promise<void>;
}

interface FakeLiveOptions {
  httpPort: number;
  vessel: Vessel;
  /** As one is told of in real life. */
  alarm: Alarm;
  /** What each channel says at a moment. */
  say: (atMs: number) => readonly [channel: string, value: number][];
  startMs: number;
  /** Resolves when the page has drawn so many messages more. */
  settled: (count: number) => Promise<unknown>;
}

export async function startFakeLive(options: FakeLiveOptions): Promise<FakeLive> {
  const { httpPort, vessel, say, startMs } = options;
  let nowMs = startMs;
  const sockets = new WebSocketServer({ noServer: true, perMessageDeflate: false });
  const server = createServer((asked, answer) => {
    const url = new URL(asked.url!, 'http://any');
    if (/\/readings$/.test(url.pathname)) answerReadings(url, answer);
    else passOn(asked, answer, httpPort);
  });
  /** As many as were asked for, up to now: what the page fetches anew is as large as in real life. */
  function answerReadings({ searchParams }: URL, answer: ServerResponse): void {
    const channel = searchParams.get('channel')!;
    const fromMs = Date.parse(searchParams.get('from')!);
    const toMs = Math.min(nowMs, Date.parse(searchParams.get('to')!));
    const points = searchParams.get('points')!;
    const stepMs =
      points === 'raw' ? 1000 : Math.max(1000, Math.ceil((toMs - fromMs) / Number(points) / 1000) * 1000);
    const t: number[] = [];
    for (let atMs = Math.ceil(fromMs / stepMs) * stepMs; atMs <= toMs; atMs += stepMs) t.push(atMs);
    const value = t.map((atMs) => say(atMs).find(([name]) => name === channel)?.[1] ?? 0);
    const columns =
      points === 'raw'
        ? { t, value, seq: t.map(() => null) }
        : { t, min: value, mean: value, max: value, stepMs };
    answer.setHeader('content-type', 'application/json').end(JSON.stringify(columns));
  }
  let viewer: WebSocket | undefined;
  const send = (message: LiveMessage): void => viewer?.send(JSON.stringify(message));
  const beat = (): void => send({ type: 'beat', at: isoTime(nowMs), speed: 1 });
  server.on('upgrade', (asked, socket, head) =>
    sockets.handleUpgrade(asked, socket, head, (opened) => {
      viewer = opened;
      beat();
    }),
  );
  server.listen(0, LOOPBACK);
  await once(server, 'listening');
  // A page that hears nothing calls itself not live.
  const still = setInterval(beat, 1000 * BEAT_EVERY_S);

  const estimate = (alarms: Alarm[]): LiveMessage => {
    const readings = Object.fromEntries(
      say(nowMs).map(([channel, value]) => [
        channel,
        { ...Object.values(vessel.readings)[0]!, value, at: isoTime(nowMs) },
      ]),
    );
    return { type: 'estimate', ...vessel, readings, alarms } as LiveMessage;
  };

  return {
    port: (server.address() as AddressInfo).port,
    async hour() {
      let count = 0;
      const endMs = nowMs + HOUR_MS;
      const raised: Alarm = { ...options.alarm, id: `${options.alarm.id}-${nowMs}`, at: isoTime(nowMs) };
      const tell = (message: LiveMessage): void => {
        send(message);
        count += 1;
      };
      const { site, vessel: name } = vessel;
      for (let second = 0; nowMs < endMs; second++, nowMs += 1000) {
        const at = isoTime(nowMs);
        const readings = say(nowMs).map(([channel, value]) => ({
          site,
          vessel: name,
          channel,
          at,
          value,
          sound: true,
        }));
        tell({ type: 'readings', readings });
        if (second === 600) tell({ ...raised, type: 'alarm', event: 'raised' } as LiveMessage);
        if (second === 1200) tell({ ...raised, type: 'alarm', event: 'cleared' } as LiveMessage);
        tell(estimate(second >= 600 && second < 1200 ? [raised] : []));
        if (second % BEAT_EVERY_S === 0) {
          beat();
          count += 1;
        }
        while ((viewer?.bufferedAmount ?? 0) > MOST_UNSENT) await turn();
        if (second % 100 === 0) await turn();
      }
      await options.settled(count);
      return count;
    },
    async close() {
      clearInterval(still);
      for (const each of sockets.clients) each.terminate();
      server.close();
      server.closeAllConnections();
      await once(server, 'close');
    },
  };
}

function passOn(asked: IncomingMessage, answer: ServerResponse, port: number): void {
  const { url, method, headers } = asked;
  const on = request({ host: LOOPBACK, port, path: url!, method: method!, headers }, (answered) => {
    answer.writeHead(answered.statusCode!, answered.headers);
    answered.pipe(answer);
  });
  on.on('error', () => answer.destroy());
  asked.pipe(on);
}
