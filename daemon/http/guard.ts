import type { IncomingMessage } from 'node:http';
import { isLoopback } from '../config.ts';
import { Problem } from './problem.ts';

/** Names under which the daemon may be asked for, besides those of loopback. */
export interface OwnNames {
  /** What was to be listened on: an address, a name, or 0.0.0.0 for every address of the machine. */
  host: string;
  publicName: string | undefined;
}

/**
 * Refuses what a page of another site makes a browser send: a name of somebody else's that points
 * here (Host), and changes or sockets from another origin.
 * @throws Problem `host-unknown` (421), `cross-site` (403)
 */
export function checkRequest(
  { headers, socket }: Pick<IncomingMessage, 'headers' | 'socket'>,
  changes: boolean,
  own: OwnNames,
): void {
  const host = headers.host ?? '';
  const name = hostName(host);
  // The address that the request came in on is listened on, whatever `own.host` is.
  const names = [own.host, own.publicName, plainAddress(socket.localAddress)];
  if (!(isLoopback(name) || names.some((known) => known?.toLowerCase() === name))) {
    throw new Problem(
      'host-unknown',
      `Host ${host || '(none)'} is not a name of this daemon: use its address, or name it in the configuration (publicName)`,
    );
  }
  if (!changes) return;
  if (headers['sec-fetch-site'] === 'cross-site') throw new Problem('cross-site', 'sent by another site');
  const { origin } = headers;
  // Without an Origin it is a script, which no other site can have set off.
  if (origin === undefined) return;
  if (!(origin === `http://${host}` || origin === `https://${host}`)) {
    throw new Problem('cross-site', `Origin ${origin} is not this daemon's own`);
  }
}

/** The name in a Host header, without port and brackets. */
const hostName = (host: string): string =>
  host
    .replace(/:\d+$/, '')
    .replace(/^\[|\]$/g, '')
    .toLowerCase();

/** An IPv4 address as it is written, where a socket for both versions received it. */
const plainAddress = (address: string | undefined): string | undefined => address?.replace(/^::ffff:/, '');
