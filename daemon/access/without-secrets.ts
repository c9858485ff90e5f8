/** As many signs as a secret has (`newSecret`), or more: of those that base64url has (RFC 4648, 5). */
const AS_LONG = /[\w-]{32,}/g;

/**
 * A text that strangers said without what has the form of a secret, wherever in it: one in the wrong place must not be
 * read by whoever looks on. Capitals and small letters are in all but one of ten million secrets; no name of a vessel
 * or a channel has both.
 */
export const withoutSecrets = (text: string): string =>
  text.replace(AS_LONG, (run) =>
    /[A-Z]/.test(run) && /[a-z]/.test(run) ? '[not shown: may be a password]' : run,
  );
