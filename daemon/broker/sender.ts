import { withoutSecrets } from '../access/without-secrets.ts';

export interface Sender {
  /** Its MQTT user name. Null: what it gives for one is a password. */
  user: string | null | undefined;
  /** As it was given; empty where it was left to the broker. */
  clientId: string | undefined;
  address: string | undefined;
}

/** What a connection is known as. */
export interface KnownAs {
  /** As far as it is known. */
  said: string;
  /** The same without the client id, which many programs make up anew for each connection. */
  place: string;
}

export const knownAs = (sender: Sender): KnownAs => ({
  said: describeSender(sender),
  place: describeSender({ ...sender, clientId: undefined }),
});

/** Longer names are cut: whoever connects may give 8 KiB. */
const MOST_LENGTH = 60;

/**
 * What a connection is known as, as far as it is known: 'device kettle (client id shed-2, 192.168.1.20)'. Never a
 * password.
 */
export function describeSender({ user, clientId, address }: Sender): string {
  const id = shown(clientId);
  // An IPv4 address on a socket that takes both (RFC 4291, 2.5.5.2).
  const from = address?.replace(/^::ffff:(?=\d+\.)/i, '');
  const rest = [id && `client id ${id}`, from].filter(Boolean).join(', ');
  if (user === null) return `a device that gives a password for its user name (${rest})`;
  const name = shown(user);
  if (name === '') return rest === '' ? 'a device without a name' : `a device without a user name (${rest})`;
  return rest === '' ? `device ${name}` : `device ${name} (${rest})`;
}

/** Of what strangers say, on one line. */
function shown(text = ''): string {
  const plain = withoutSecrets(text.replace(/[\p{C}\s]+/gu, ' ').trim());
  return plain.length > MOST_LENGTH ? `${plain.slice(0, MOST_LENGTH)}…` : plain;
}
