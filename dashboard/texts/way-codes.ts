/** What the codes mean that a way fails with: those of the mail library, of Node.js and of its TLS. */

const WORDS: Readonly<Record<string, string>> = {
  EDNS: 'the server’s name is not known',
  ENOTFOUND: 'the server’s name is not known',
  EAI_AGAIN: 'the server’s name cannot be looked up now',
  ECONNECTION: 'nobody answers there, or it does not speak what was chosen',
  ESOCKET: 'nobody answers there, or it does not speak what was chosen',
  ECONNREFUSED: 'nobody listens there',
  ECONNRESET: 'it broke off',
  EPIPE: 'it broke off',
  EHOSTUNREACH: 'there is no way to that machine',
  ENETUNREACH: 'there is no way to that network',
  ETIMEDOUT: 'no answer came in time',
  timeout: 'no answer came in time',
  ETLS: 'the encryption that was chosen does not fit the port',
  EPROTO: 'it does not speak TLS there, or another version of it',
  EPROTOCOL: 'it does not speak as a mail server does',
  EAUTH: 'user name or password is refused',
  ENOAUTH: 'the server wants a user name and a password',
  EENVELOPE: 'the server refuses the sender or the receiver',
  EMESSAGE: 'the server refuses the message',
  CERT_HAS_EXPIRED: 'its certificate has ended',
  DEPTH_ZERO_SELF_SIGNED_CERT: 'its certificate is of its own making and not trusted',
  SELF_SIGNED_CERT_IN_CHAIN: 'its certificate is of its own making and not trusted',
  UNABLE_TO_VERIFY_LEAF_SIGNATURE: 'its certificate is not trusted',
  UNABLE_TO_GET_ISSUER_CERT_LOCALLY: 'its certificate is not trusted',
  ERR_TLS_CERT_ALTNAME_INVALID: 'its certificate is for another name',
};

/** Of a status (RFC 9110, 15) that a receiver of a POST answered. */
function statusWords(status: number): string | undefined {
  if (status === 401 || status === 403) return 'the receiver does not let it in';
  if (status === 404 || status === 410) return 'there is nothing at that address';
  if (status === 429) return 'the receiver says that it is too much';
  if (status >= 300 && status < 400) return 'it leads elsewhere, which is not followed';
  if (status >= 500) return 'the receiver has a fault of its own';
  return undefined;
}

/** Why a way failed: the code, and what it means where that is known. */
export function whyFailed(because: string): string {
  const status = /^status (\d{3})$/.exec(because)?.[1];
  const code = because.split(' ', 1)[0]!;
  const words =
    status !== undefined ? statusWords(Number(status)) : Object.hasOwn(WORDS, code) ? WORDS[code] : undefined;
  return words === undefined ? because : `${words} (${because})`;
}
