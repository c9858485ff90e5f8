import { request as httpRequest } from 'node:http';
import { request as httpsRequest } from 'node:https';
import { codeOf } from '../reach/ways/outgoing.ts';

/** Nothing has to be waited for longer, real ms: networks are real, and a centre takes no request that lasts longer. */
const PATIENCE_MS = 30_000;
const MOST_ANSWER_BYTES = 64 * 1024;

/** What a centre answered: its status, and its body where that is JSON. */
export interface Answered {
  status: number;
  json: unknown;
}

/** No answer came: a code that holds no address. */
export class NoAnswer extends Error {}

/**
 * One request to a centre; follows no redirect, reads no more than 64 KiB, ends after 30 s or when it is told to.
 * @throws NoAnswer
 */
export function ask(
  url: URL,
  {
    method,
    token,
    type,
    body,
    signal,
  }: { method: 'GET' | 'PUT'; token: string; type?: string; body?: Uint8Array; signal: AbortSignal },
): Promise<Answered> {
  return new Promise((resolve, reject) => {
    const start = url.protocol === 'https:' ? httpsRequest : httpRequest;
    const sent = start(url, {
      method,
      headers: {
        authorization: `Bearer ${token}`,
        ...(type !== undefined && { 'content-type': type }),
        ...(body !== undefined && { 'content-length': body.length }),
      },
      agent: false,
    });
    const end = (act: () => void): void => {
      clearTimeout(late);
      signal.removeEventListener('abort', stop);
      act();
      sent.destroy();
    };
    const fail = (because: string): void => end(() => reject(new NoAnswer(because)));
    const stop = (): void => fail('stopped');
    const late = setTimeout(() => fail('timeout'), PATIENCE_MS);
    signal.addEventListener('abort', stop);
    sent.on('error', (error) => fail(codeOf(error)));
    sent.on('response', (answer) => {
      const chunks: Buffer[] = [];
      let bytes = 0;
      answer.on('data', (chunk: Buffer) => {
        chunks.push(chunk);
        bytes += chunk.length;
        if (bytes > MOST_ANSWER_BYTES) fail('answer-too-long');
      });
      answer.on('error', (error) => fail(codeOf(error)));
      answer.on('close', () => {
        if (answer.complete)
          end(() => resolve({ status: answer.statusCode ?? 0, json: parsed(Buffer.concat(chunks)) }));
        else fail('cut');
      });
    });
    if (signal.aborted) stop();
    else sent.end(body);
  });
}

function parsed(bytes: Buffer): unknown {
  try {
    return JSON.parse(bytes.toString('utf8'));
  } catch {
    return null;
  }
}
