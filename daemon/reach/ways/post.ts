import { createHmac } from 'node:crypto';
import type { Posted } from '../../../shared/wire/reach.ts';
import { send } from './outgoing.ts';

/** HMAC-SHA-256, hex, over the time in seconds, a dot and the body. */
export const signatureOf = (secret: string, timeS: number, body: string): string =>
  createHmac('sha256', secret).update(`${timeS}.${body}`).digest('hex');

/** Sends what is to be told as signed JSON, for a messenger, an SMS gateway or a siren. */
export async function post(
  { url, secret }: { url: string; secret: string },
  posted: Posted,
  nowMs: number,
): Promise<void> {
  const body = JSON.stringify(posted);
  const timeS = Math.floor(nowMs / 1000);
  await send(url, {
    headers: {
      'content-type': 'application/json',
      'esterwatch-id': posted.id,
      'esterwatch-time': timeS,
      'esterwatch-signature': signatureOf(secret, timeS, body),
    },
    body,
  });
}
