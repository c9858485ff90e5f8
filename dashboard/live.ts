import { liveMessageSchema } from '../shared/wire/api.ts';
import { LOST_AFTER_MS, retryAfterMs } from './link.ts';
import { connected, disconnected, fetchRefused, hear, silentForMs, tick } from './store.ts';

const TICK_MS = 500;
const REFUSED_EVERY_MS = 15_000;

/** Keeps the live socket open for as long as the page is: a lost link is tried again for ever. */
export function keepLive(): void {
  let socket: WebSocket | undefined;
  let attempt = 0;
  let openedAt = 0;
  let retry: ReturnType<typeof setTimeout> | undefined;

  const connect = (): void => {
    retry = undefined;
    openedAt = performance.now();
    const address = new URL('/api/v1/live', location.href);
    address.protocol = address.protocol === 'https:' ? 'wss:' : 'ws:';
    const mine = new WebSocket(address);
    socket = mine;
    mine.onopen = () => {
      connected(() => socket === mine).then(
        () => {
          attempt = 0;
        },
        () => mine.close(),
      );
    };
    mine.onmessage = ({ data }) => {
      if (socket !== mine || typeof data !== 'string') return;
      let message: unknown;
      try {
        message = JSON.parse(data);
      } catch {
        return;
      }
      const parsed = liveMessageSchema.safeParse(message);
      // A message of a later daemon that this page does not know is no reason to fall silent.
      if (parsed.success) hear(parsed.data);
    };
    mine.onclose = () => {
      if (socket === mine) lose();
    };
  };

  const lose = (): void => {
    const lost = socket;
    socket = undefined;
    disconnected();
    lost?.close();
    if (retry === undefined) retry = setTimeout(connect, retryAfterMs(attempt++, Math.random()));
  };

  const watch = (): void => {
    tick();
    // A socket can stay open with nobody at the other end.
    const silent = Math.min(silentForMs() || Number.POSITIVE_INFINITY, performance.now() - openedAt);
    if (socket !== undefined && silent > LOST_AFTER_MS) lose();
  };

  const countRefused = (): void => {
    fetchRefused().catch(() => {});
  };

  connect();
  setInterval(watch, TICK_MS);
  countRefused();
  setInterval(countRefused, REFUSED_EVERY_MS);
  document.addEventListener('visibilitychange', watch);
}
