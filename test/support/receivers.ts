import { createDecipheriv, createECDH, hkdfSync, randomBytes } from 'node:crypto';
import { once } from 'node:events';
import { createServer, type IncomingHttpHeaders } from 'node:http';
import type { AddressInfo } from 'node:net';
import { SMTPServer } from 'smtp-server';
import { onTestFinished } from 'vitest';
import type { Subscription } from '../../shared/wire/reach.ts';
import { LOOPBACK } from './serving.ts';

/** Real receivers of messages, each on a port of its own until the test ends. */

export interface Mail {
  to: string[];
  id: string;
  subject: string;
  text: string;
  tls: boolean;
  user: string | undefined;
}

export interface MailServer {
  port: number;
  mails: Mail[];
  /** Answers every e-mail with this number instead of taking it; null takes it. */
  refuse: (code: number | null) => void;
}

export async function mailServer({
  tls,
  login,
}: {
  tls?: { key: string; cert: string };
  login?: { user: string; password: string };
} = {}): Promise<MailServer> {
  const mails: Mail[] = [];
  let refusal: number | null = null;
  const server = new SMTPServer({
    authOptional: login === undefined,
    disabledCommands: [...(tls === undefined ? ['STARTTLS'] : []), ...(login === undefined ? ['AUTH'] : [])],
    ...tls,
    logger: false,
    onAuth: ({ username, password }, _session, done) =>
      username === login?.user && password === login?.password
        ? done(null, { user: username })
        : done(new Error('no')),
    onRcptTo: ({ address }, _session, done) =>
      refusal === null
        ? done()
        : done(Object.assign(new Error(`no room for ${address}`), { responseCode: refusal })),
    onData: (stream, session, done) => {
      let raw = '';
      stream.setEncoding('utf8').on('data', (chunk: string) => {
        raw += chunk;
      });
      stream.on('end', () => {
        mails.push({
          ...parsedMail(raw),
          to: session.envelope.rcptTo.map(({ address }) => address),
          tls: session.secure === true,
          user: session.user,
        });
        done();
      });
    },
  });
  server.on('error', () => {});
  server.listen(0, LOOPBACK);
  await once(server.server, 'listening');
  onTestFinished(() => new Promise<void>((resolve) => void server.close(() => resolve())));
  const { port } = server.server.address() as AddressInfo;
  return {
    port,
    mails,
    refuse: (code) => {
      refusal = code;
    },
  };
}

/** Enough of RFC 5322 and RFC 2045 for what is sent here: one part of text. */
function parsedMail(raw: string): { id: string; subject: string; text: string } {
  const [head = '', ...rest] = raw.split('\r\n\r\n');
  const headers = new Map(
    head
      .replace(/\r\n[ \t]+/g, ' ')
      .split('\r\n')
      .map((line): [string, string] => [
        line.slice(0, line.indexOf(':')).toLowerCase(),
        line.slice(line.indexOf(':') + 2),
      ]),
  );
  const body = rest.join('\r\n\r\n');
  const encoding = headers.get('content-transfer-encoding');
  const text =
    encoding === 'base64'
      ? Buffer.from(body, 'base64').toString('utf8')
      : encoding === 'quoted-printable'
        ? unquoted(body)
        : body;
  return { id: headers.get('message-id') ?? '', subject: words(headers.get('subject') ?? ''), text };
}

const unquoted = (text: string): string =>
  Buffer.from(
    text
      .replace(/=\r\n/g, '')
      .replace(/=([0-9A-F]{2})/g, (_, hex: string) => String.fromCharCode(Number.parseInt(hex, 16))),
    'latin1',
  ).toString('utf8');

/** Encoded words of a header (RFC 2047). */
const words = (text: string): string =>
  text
    .replace(/\?= =\?/g, '?==?')
    .replace(/=\?utf-8\?(q|b)\?([^?]*)\?=/gi, (_, form: string, word: string) =>
      form.toLowerCase() === 'b'
        ? Buffer.from(word, 'base64').toString('utf8')
        : unquoted(word.replaceAll('_', ' ')),
    );

export interface Received {
  path: string;
  headers: IncomingHttpHeaders;
  body: Buffer;
}

export interface Receiver {
  url: string;
  received: Received[];
  /** What it answers: a status, `hang` (never), or a redirect to a URL. */
  answers: (how: number | 'hang' | { redirect: string }) => void;
}

export async function receiver(port = 0): Promise<Receiver> {
  const received: Received[] = [];
  let how: number | 'hang' | { redirect: string } = 204;
  const server = createServer((request, response) => {
    const chunks: Buffer[] = [];
    request.on('data', (chunk: Buffer) => chunks.push(chunk));
    request.on('end', () => {
      received.push({ path: request.url ?? '', headers: request.headers, body: Buffer.concat(chunks) });
      if (how === 'hang') return;
      if (typeof how === 'number') response.writeHead(how).end();
      else response.writeHead(302, { location: how.redirect }).end();
    });
  });
  server.listen(port, LOOPBACK);
  await once(server, 'listening');
  onTestFinished(() => {
    server.closeAllConnections();
    server.close();
  });
  return {
    url: `http://${LOOPBACK}:${(server.address() as AddressInfo).port}`,
    received,
    answers: (next) => {
      how = next;
    },
  };
}

/** A browser as a push service sees it: its keys, and what it makes of what it gets. */
export class Browser {
  readonly #pair = createECDH('prime256v1');
  readonly #auth = randomBytes(16);

  constructor() {
    this.#pair.generateKeys();
  }

  subscription(endpoint: string, label = 'Ada’s phone'): Subscription {
    return {
      endpoint,
      label,
      keys: { p256dh: this.#pair.getPublicKey('base64url'), auth: this.#auth.toString('base64url') },
    };
  }

  /** RFC 8291 (3.4) over RFC 8188: one record of aes128gcm. */
  decrypt(body: Buffer): string {
    const salt = body.subarray(0, 16);
    const keyLength = body[20]!;
    const senderKey = body.subarray(21, 21 + keyLength);
    const sealed = body.subarray(21 + keyLength);
    const shared = this.#pair.computeSecret(senderKey);
    const info = Buffer.concat([Buffer.from('WebPush: info\0'), this.#pair.getPublicKey(), senderKey]);
    const secret = Buffer.from(hkdfSync('sha256', shared, this.#auth, info, 32));
    const key = Buffer.from(hkdfSync('sha256', secret, salt, 'Content-Encoding: aes128gcm\0', 16));
    const nonce = Buffer.from(hkdfSync('sha256', secret, salt, 'Content-Encoding: nonce\0', 12));
    const decipher = createDecipheriv('aes-128-gcm', key, nonce);
    decipher.setAuthTag(sealed.subarray(-16));
    const padded = Buffer.concat([decipher.update(sealed.subarray(0, -16)), decipher.final()]);
    return padded.subarray(0, padded.lastIndexOf(2)).toString('utf8');
  }
}
