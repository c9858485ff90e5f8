/** Longer names are cut: whoever connects may give 8 KiB. */
const MOST_LENGTH = 60;

/**
 * What a connection is known as, as far as it is known: 'device kettle (client id shed-2, 192.168.1.20)'. Never a
 * password; the client id as it was given, nothing where it was left to the broker.
 */
export function describeSender({
  user,
  clientId,
  address,
}: {
  user: string | undefined;
  clientId: string | undefined;
  address: string | undefined;
}): string {
  const id = shown(clientId);
  // An IPv4 address on a socket that takes both (RFC 4291, 2.5.5.2).
  const from = address?.replace(/^::ffff:(?=\d+\.)/i, '');
  const rest = [id && `client id ${id}`, from].filter(Boolean).join(', ');
  const name = shown(user);
  if (name === '') return rest === '' ? 'a device without a name' : `a device without a user name (${rest})`;
  return rest === '' ? `device ${name}` : `device ${name} (${rest})`;
}

/** Of what strangers say, on one line. */
function shown(text = ''): string {
  const plain = text.replace(/[\p{C}\s]+/gu, ' ').trim();
  return plain.length > MOST_LENGTH ? `${plain.slice(0, MOST_LENGTH)}…` : plain;
}
