import type { IncomingHttpHeaders } from 'node:http';
import { isLoopback } from '../config.ts';
import { Problem } from './problem.ts';

/** Names under which the daemon may be asked for, besides those of loopback. */
export interface OwnNames {
  /** The address listened on. */
  host: string;
  publicName: string | undefined;
}

/**
 * Refuses what a page of another site makes a browser send: a name of somebody else's that points
 * here (Host), and changes or sockets from another origin.
 * @throws Problem `host-unknown` (421), `cross-site` (403)
 */
export function checkRequest(headers: IncomingHttpHeaders, changes: boolean, own: OwnNames): void {
  const host = headers.host ?? '';
  const name = hostName(host);
  if (!(isLoopback(name) || name === own.host || name === own.publicName)) {
    throw new Problem('host-unknown', `Host ${host || '(none)'} is not a name of this daemon`);
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
