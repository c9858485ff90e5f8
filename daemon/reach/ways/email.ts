import { Socket } from 'node:net';
import { rootCertificates } from 'node:tls';
import type { Smtp } from '../../../shared/wire/reach.ts';
import type { Words } from '../words.ts';
import { codeOf, NotSent } from './outgoing.ts';

/** A server that says nothing for so long is tried again later, real ms. */
const PATIENCE_MS = 10_000;
/** So is one that is not done by then, whatever it says, real ms: it would hold the message for ever. */
const WHOLE_MS = 60_000;

/** One e-mail, in plain text. The same id in every try: a second copy is known as such by its Message-ID. */
export async function email(
  smtp: Smtp,
  to: string,
  id: string,
  words: Words,
  wholeMs = WHOLE_MS,
): Promise<void> {
  // Only where mail is set up: the library is large.
  const { createTransport } = await import('nodemailer');
  const { host, port, security, user, password, from, ca } = smtp;
  const socket = new Socket();
  const transport = createTransport({
    socket,
    host,
    port,
    secure: security === 'tls',
    requireTLS: security === 'starttls',
    ignoreTLS: security === 'none',
    ...(user !== null && { auth: { user, pass: password ?? '' } }),
    ...(ca !== null && { tls: { ca: [...rootCertificates, ca] } }),
    connectionTimeout: PATIENCE_MS,
    greetingTimeout: PATIENCE_MS,
    socketTimeout: PATIENCE_MS,
    disableFileAccess: true,
    disableUrlAccess: true,
  });
  const deadline = setTimeout(() => socket.destroy(new Error('not done in time')), wholeMs);
  try {
    await transport.sendMail({
      from,
      to,
      subject: words.title,
      text: words.text,
      messageId: `<${id}@${from.slice(from.lastIndexOf('@') + 1)}>`,
      ...(words.priority === 'critical' && { priority: 'high' }),
    });
  } catch (error) {
    // What the server said may hold an address: its number says enough.
    const { responseCode } = error as { responseCode?: unknown };
    const because = codeOf(error);
    throw new NotSent(typeof responseCode === 'number' ? `${because} ${responseCode}` : because);
  } finally {
    clearTimeout(deadline);
    transport.close();
    socket.destroy();
  }
}
