import { answering } from './answering.ts';

/** Keeps the frame of the page, never a value: all that is said of vessels comes live or not at all. */

declare const self: ServiceWorkerGlobalScope;
/** Filled in by the build: the files of the frame, and a name that changes with any of them. */
declare const FRAME_FILES: readonly string[];
declare const FRAME_NAME: string;

const PREFIX = 'esterwatch-frame-';
const KEPT = `${PREFIX}${FRAME_NAME}`;
/** A daemon that does not answer for so long is taken as away, ms: the kept frame then says that it is not live. */
const PATIENCE_MS = 4000;

self.addEventListener('install', (event) => {
  event.waitUntil(
    caches
      .open(KEPT)
      .then((kept) => kept.addAll(FRAME_FILES.map((file) => new Request(file, { cache: 'reload' }))))
      .then(() => self.skipWaiting()),
  );
});

self.addEventListener('activate', (event) => {
  event.waitUntil(
    caches
      .keys()
      .then((names) => names.filter((name) => name.startsWith(PREFIX) && name !== KEPT))
      .then((old) => Promise.all(old.map((name) => caches.delete(name))))
      .then(() => self.clients.claim()),
  );
});

self.addEventListener('fetch', (event) => {
  const { request } = event;
  switch (answering(request, self.registration.scope)) {
    case 'page':
      event.respondWith(fromDaemon(request, 'index.html'));
      return;
    case 'file':
      event.respondWith(fromDaemon(request, request.url));
      return;
    case 'hashed':
      event.respondWith(fromKept(request));
      return;
    case null:
      return;
  }
});

// ---- messages (Web Push) ----

/** What the daemon sends: a message is always shown, since a browser takes none that is not. */
interface Pushed {
  id: string;
  title: string;
  body: string;
  url: string;
}

self.addEventListener('push', (event) => {
  let pushed: Pushed;
  try {
    pushed = event.data?.json() as Pushed;
  } catch {
    return;
  }
  const { id, title, body, url } = pushed;
  // The same message again takes the place of the first.
  const shown = { body, tag: id, icon: 'icon-192.png', requireInteraction: true, data: { url } };
  event.waitUntil(self.registration.showNotification(title, shown));
});

self.addEventListener('notificationclick', (event) => {
  event.notification.close();
  const { url } = event.notification.data as { url: string };
  event.waitUntil(self.clients.openWindow(new URL(url, self.registration.scope).href));
});

async function fromDaemon(request: Request, kept: string): Promise<Response> {
  try {
    return await fetch(request, { signal: AbortSignal.timeout(PATIENCE_MS) });
  } catch {
    const cache = await caches.open(KEPT);
    return (await cache.match(kept)) ?? Response.error();
  }
}

async function fromKept(request: Request): Promise<Response> {
  const cache = await caches.open(KEPT);
  const found = await cache.match(request);
  if (found !== undefined) return found;
  const answer = await fetch(request);
  if (answer.ok) await cache.put(request, answer.clone());
  return answer;
}
