import { z } from 'zod';
import { NAME_PATTERN } from '../shared/wire/names.ts';
import { UsageError } from './commands/usage.ts';
import { readJsonFile } from './json-file.ts';

/** `HOST:PORT`, IPv6 in brackets. */
const address = z
  .string()
  .regex(/^(\[[0-9a-fA-F:]+\]|[^:\s]+):\d{1,5}$/, 'HOST:PORT')
  .refine((text) => portOf(text) <= 65_535, 'a port is at most 65535');
const portOf = (text: string): number => Number(text.slice(text.lastIndexOf(':') + 1));

const name = z.string().regex(NAME_PATTERN);

/** A topic filter (MQTT 3.1.1, 4.7): `+` and `#` are levels of their own, `#` the last. */
const topicFilter = z
  .string()
  .min(1)
  .max(200)
  .regex(/^([^#+/\0]*|\+)(\/([^#+/\0]*|\+))*$|^(([^#+/\0]*|\+)\/)*#$/, 'an MQTT topic filter');

const mappedTopicSchema = z.strictObject({
  filter: topicFilter.describe('Of the topics that are taken; what several match goes to each'),
  site: name.describe('Where their readings go, as are vessel and channel'),
  vessel: name,
  channel: name,
  path: z
    .string()
    .min(1)
    .optional()
    .describe(
      'Where in a JSON payload the number stands, keys joined by dots; without it the payload is the number',
    ),
  scale: z.number().default(1).describe('What is stored is value × scale + offset'),
  offset: z.number().default(0),
});
export type MappedTopic = z.infer<typeof mappedTopicSchema>;

const backupSchema = z.strictObject({
  folder: z.string().min(1).describe('A copy a day goes there: better on another disk'),
  keep: z.number().int().min(1).max(10_000).default(14).describe('So many copies are kept'),
});
export type BackupConfig = z.infer<typeof backupSchema>;

const retentionSchema = z.strictObject({
  days: z
    .number()
    .int()
    .min(1)
    .max(100_000)
    .describe('Single readings that are older are dropped, but not those of the time of a batch'),
});
export type RetentionConfig = z.infer<typeof retentionSchema>;

const stillWatchingSchema = z.strictObject({
  url: z
    .url({ protocol: /^https?$/ })
    .describe('Called (GET) while all is well, for a service that raises the alarm when the calls stay away'),
  everySeconds: z.number().int().min(5).max(86_400).default(60),
});
export type StillWatchingConfig = z.infer<typeof stillWatchingSchema>;

const forwardSchema = z.strictObject({
  to: z
    .url({ protocol: /^https?$/ })
    .refine((url) => url.startsWith('https:') || isLoopback(new URL(url).hostname.replace(/^\[|\]$/g, '')), {
      error: 'wants https: a token and all that is watched would go over the network in clear',
    })
    .refine((url) => new URL(url).username === '' && new URL(url).search === '', {
      error: 'an address without user and query: the token goes by tokenFile',
    })
    .describe('The address of the centre: `https://centre.example.org`'),
  tokenFile: z
    .string()
    .min(1)
    .describe('A file with the token that `esterwatch forwarder add` printed there'),
  sites: z.array(name).min(1).optional().describe('Only these go over; without it all that are watched here'),
});
export type ForwardConfig = z.infer<typeof forwardSchema>;

/** The configuration file: matters of the process only. Sites, vessels and limits are set over the API. */
export const configSchema = z.strictObject({
  data: z.string().min(1).optional().describe('Where everything is kept'),
  http: address.optional().describe('Where the page and the API listen'),
  mqtt: address.optional().describe('Where the broker of its own listens'),
  broker: z
    .url({ protocol: /^(mqtts?|wss?)$/ })
    .optional()
    .describe('Another broker instead'),
  publicName: z
    .string()
    .min(1)
    .optional()
    .describe('The name under which browsers reach the daemon, where it is not the address listened on'),
  mqtts: address
    .optional()
    .describe('Where the broker of its own listens by TLS as well; wants a certificate'),
  tls: z
    .strictObject({ certificate: z.string().min(1), key: z.string().min(1) })
    .optional()
    .describe('PEM files: the page, the API and `mqtts` are served by TLS. Followed where they change'),
  ownCertificate: z
    .boolean()
    .optional()
    .describe('The same with a certificate of the daemon’s own making, for a first try'),
  trustProxy: z
    .boolean()
    .optional()
    .describe('Behind a reverse proxy: what it says of its client is believed'),
  publicUrl: z
    .url({ protocol: /^https?$/ })
    .optional()
    .describe('Where people reach the page, for the links in messages: `https://watch.example.org`'),
  stillWatching: stillWatchingSchema.optional(),
  topics: z.array(mappedTopicSchema).max(1000).optional(),
  backup: backupSchema.optional(),
  retention: retentionSchema.optional(),
  forward: forwardSchema.optional(),
  silentAfterMinutes: z
    .number()
    .int()
    .min(1)
    .max(10_080)
    .optional()
    .describe('People are told of a forwarded site from which nothing has come for so long; 15 by default'),
});
export type Config = z.infer<typeof configSchema>;

/** @throws UsageError with one line that names the file and the field. */
export const readConfig = (file: string): Config =>
  readJsonFile(
    file,
    'configuration',
    configSchema,
    'name the one that there is, or leave --config out, since everything in it has a default',
  );

export interface Address {
  host: string;
  port: number;
}

/** `HOST:PORT`, IPv6 in brackets. */
export function parseAddress(text: string, option: string): Address {
  if (!address.safeParse(text).success) throw new UsageError(`${option} wants HOST:PORT, not ${text}`);
  return { host: text.slice(0, text.lastIndexOf(':')).replace(/^\[|\]$/g, ''), port: portOf(text) };
}

export const isLoopback = (host: string): boolean =>
  host === 'localhost' || host === '::1' || /^127(\.\d{1,3}){3}$/.test(host);
