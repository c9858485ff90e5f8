import type { Subscription } from '../../../shared/wire/reach.ts';
import type { Words } from '../words.ts';
import { NotSent, send } from './outgoing.ts';

/** The daemon's key pair (RFC 8292, base64url), and whom a push service may write to: `mailto:` or `https:`. */
export interface PushKeys {
  publicKey: string;
  privateKey: string;
  subject: string;
}

/** A push service drops what it could not deliver for so long, s. */
const KEPT_S = 3600;

/**
 * To every browser of a person, encrypted to each (RFC 8291): delivered where any push service takes it. Calls
 * `onGone` with those that do not exist any more.
 */
export async function push(
  subscriptions: readonly Subscription[],
  keys: PushKeys,
  content: { id: string; url: string; words: Words },
  onGone: (gone: readonly Subscription[]) => void,
): Promise<void> {
  // Only where a browser was set up.
  const { default: webPush } = await import('web-push');
  const { id, url, words } = content;
  const payload = JSON.stringify({
    id,
    title: words.title,
    body: words.short,
    priority: words.priority,
    url,
  });
  const results = await Promise.allSettled(
    subscriptions.map(async ({ endpoint, keys: browserKeys }) => {
      const { headers, body } = webPush.generateRequestDetails({ endpoint, keys: browserKeys }, payload, {
        vapidDetails: keys,
        TTL: KEPT_S,
        urgency: words.priority === 'low' ? 'low' : 'high',
      });
      // Sent by ourselves: with the same bounds as everything that goes out.
      await send(endpoint, { headers: headers as Record<string, string | number>, body: body as Buffer });
    }),
  );
  const failures = results.map((result) => (result.status === 'rejected' ? asNotSent(result.reason) : null));
  const gone = subscriptions.filter((_, i) => failures[i]?.gone === true);
  if (gone.length > 0) onGone(gone);
  if (failures.some((failure) => failure === null)) return;
  const passing = failures.find((failure) => failure?.gone === false);
  throw passing ?? new NotSent('no browser takes messages any more', true);
}

/** RFC 8030, 7.3: a subscription that does not exist any more answers 404 or 410. */
const asNotSent = (error: unknown): NotSent =>
  error instanceof NotSent
    ? new NotSent(error.message, error.gone || error.message === 'status 404')
    : new NotSent('the browser’s key cannot be used');
