import { request as httpRequest } from 'node:http';
import { request as httpsRequest } from 'node:https';

/** A receiver that takes longer is tried again later, real ms: networks are real. */
const PATIENCE_MS = 10_000;
/** Nothing is done with what a receiver answers, bytes. */
const MOST_ANSWER_BYTES = 1024;

/** Why a message did not go out: a code that holds no address and no secret, so that it may be kept. */
export class NotSent extends Error {
  /** The way does not exist any more: it is not tried again. */
  readonly gone: boolean;

  constructor(because: string, gone = false) {
    super(because);
    this.gone = gone;
  }
}

/**
 * One request to an address that a person chose, maybe inside their own network: no redirect is followed, at most
 * 1 kB of the answer is read, and it ends after 10 s, however slowly it goes.
 * @throws NotSent unless the status is 2xx.
 */
export async function send(
  url: string,
  {
    method = 'POST',
    headers = {},
    body,
    patienceMs,
  }: {
    method?: string;
    headers?: Record<string, string | number>;
    body?: string | Buffer;
    patienceMs?: number;
  },
): Promise<void> {
  const status = await statusOf(url, method, headers, body, patienceMs);
  if (status >= 200 && status < 300) return;
  throw new NotSent(`status ${status}`, status === 410);
}

export function statusOf(
  url: string,
  method: string,
  headers: Record<string, string | number>,
  body?: string | Buffer,
  patienceMs = PATIENCE_MS,
): Promise<number> {
  return new Promise((resolve, reject) => {
    const start = url.startsWith('https:') ? httpsRequest : httpRequest;
    const sent = start(url, {
      method,
      headers: { ...headers, ...(body !== undefined && { 'content-length': Buffer.byteLength(body) }) },
      agent: false,
    });
    const end = (act: () => void): void => {
      clearTimeout(late);
      act();
      sent.destroy();
    };
    const late = setTimeout(() => end(() => reject(new NotSent('timeout'))), patienceMs);
    sent.on('error', (error) => end(() => reject(new NotSent(codeOf(error)))));
    sent.on('response', (answer) => {
      const status = answer.statusCode ?? 0;
      let bytes = 0;
      const done = (): void => end(() => resolve(status));
      answer.on('data', (chunk: Buffer) => {
        bytes += chunk.length;
        if (bytes > MOST_ANSWER_BYTES) done();
      });
      answer.on('end', done);
      answer.on('error', done);
    });
    sent.end(body);
  });
}

/** `ECONNREFUSED` and the like; never a message, which may hold an address. */
export const codeOf = (error: unknown): string => {
  const { code } = error as { code?: unknown };
  return typeof code === 'string' && /^[A-Z0-9_]{1,60}$/.test(code) ? code : 'failed';
};
