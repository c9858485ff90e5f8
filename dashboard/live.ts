import { effect } from '@preact/signals';
import { liveMessageSchema } from '../shared/wire/api.ts';
import { LOST_AFTER_MS, retryAfterMs } from './link.ts';
import { askSession, isAsked, isShut } from './session.ts';
import {
  connected,
  disconnected,
  fetchRefused,
  forget,
  hear,
  refetch,
  silentForMs,
  tick,
  vessels,
} from './store.ts';

const TICK_MS = 500;
const REFUSED_EVERY_MS = 15_000;
/** How the daemon closes a socket whose reader is signed out. */
const SIGNED_OUT = 4401;

/**
 * Keeps the live socket open for as long as the page is: a lost link is tried again for ever. While somebody has to
 * sign in first there is none, and nothing is tried.
 */
export function keepLive(): void {
  let socket: WebSocket | undefined;
  let isAsking = false;
  let attempt = 0;
  let openedAt = 0;
  let retry: ReturnType<typeof setTimeout> | undefined;

  /** Who is signed in may have changed since: that is asked first. */
  const connect = (): void => {
    retry = undefined;
    isAsking = true;
    askSession().then(
      () => {
        isAsking = false;
        if (!isShut.peek()) open();
      },
      () => {
        isAsking = false;
        if (!isShut.peek()) lose();
      },
    );
  };

  const open = (): void => {
    openedAt = performance.now();
    const address = new URL('/api/v1/live', location.href);
    address.protocol = address.protocol === 'https:' ? 'wss:' : 'ws:';
    const mine = new WebSocket(address);
    socket = mine;
    // Something to look at meanwhile, as what it is: not live.
    if (vessels.peek() === undefined) refetch().catch(() => {});
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
    mine.onclose = ({ code }) => {
      if (socket === mine) lose(code === SIGNED_OUT ? 0 : undefined);
    };
  };

  const hangUp = (): void => {
    const lost = socket;
    socket = undefined;
    disconnected();
    lost?.close();
  };

  const lose = (againMs?: number): void => {
    hangUp();
    if (retry === undefined) retry = setTimeout(connect, againMs ?? retryAfterMs(attempt++, Math.random()));
  };

  const watch = (): void => {
    tick();
    // A socket can stay open with nobody at the other end.
    const silent = Math.min(silentForMs() || Number.POSITIVE_INFINITY, performance.now() - openedAt);
    if (socket !== undefined && silent > LOST_AFTER_MS) lose();
  };

  connect();
  effect(() => {
    if (isShut.value) {
      // First, so that nothing takes it for a lost link.
      forget();
      hangUp();
      clearTimeout(retry);
      retry = undefined;
    } else if (isAsked.value && !isAsking && socket === undefined && retry === undefined) {
      attempt = 0;
      open();
    }
  });
  setInterval(watch, TICK_MS);
  setInterval(() => {
    if (isAsked.peek() && !isShut.peek()) fetchRefused().catch(() => {});
  }, REFUSED_EVERY_MS);
  document.addEventListener('visibilitychange', () => {
    watch();
    // Somebody may have signed in on another tab.
    if (isShut.peek() && !document.hidden) askSession().catch(() => {});
  });
}
