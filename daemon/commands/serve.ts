import { readFileSync } from 'node:fs';
import { networkInterfaces } from 'node:os';
import { type Clock, machineClock } from '../clock.ts';
import {
  type Address,
  type Config,
  type ForwardConfig,
  isLoopback,
  parseAddress,
  readConfig,
} from '../config.ts';
import type { ForwardTo } from '../forward/forwarder.ts';
import type { Certificate, CertificateFiles } from '../tls/certificate.ts';
import { openAccess } from './open-access.ts';
import { DEFAULT_DATA, readOptions } from './options.ts';
import { untilSignal } from './until-signal.ts';
import { UsageError } from './usage.ts';

export const DEFAULT_HTTP = '127.0.0.1:8080';
export const DEFAULT_MQTT = '127.0.0.1:1883';

const HELP = `esterwatch serve: takes readings over MQTT, keeps and judges them, and serves the page.

  --data DIR        where everything is kept (${DEFAULT_DATA})
  --http HOST:PORT  where the page and the API listen (${DEFAULT_HTTP})
  --mqtt HOST:PORT  where the broker of its own listens (${DEFAULT_MQTT})
  --mqtts HOST:PORT where it listens by TLS as well
  --tls-certificate FILE, --tls-key FILE
                    PEM files: the page, the API and --mqtts by TLS
  --own-certificate the same with a certificate of its own making, for a first try
  --broker URL      use another broker instead (mqtt://host:1883)
  --config FILE     the same from a JSON file, and topics of another shape; options go before it
  --open-network    listen beyond this machine although no person or no device is set up
  --trust-proxy     behind a reverse proxy: believe what it says of its client (X-Forwarded-For, -Proto)
  --help
`;

/** The daemon until it is told to stop. */
export async function serve(args: string[]): Promise<void> {
  const given = readOptions(
    args,
    {
      data: { type: 'string' },
      http: { type: 'string' },
      mqtt: { type: 'string' },
      mqtts: { type: 'string' },
      'tls-certificate': { type: 'string' },
      'tls-key': { type: 'string' },
      'own-certificate': { type: 'boolean' },
      broker: { type: 'string' },
      config: { type: 'string' },
      'open-network': { type: 'boolean' },
      'trust-proxy': { type: 'boolean' },
    },
    HELP,
  );
  if (given === null) return;
  const file = given.config === undefined ? {} : readConfig(given.config);
  if (given.mqtt !== undefined && given.broker !== undefined) {
    throw new UsageError('--mqtt and --broker exclude each other: the broker is its own or another');
  }
  const http = parseAddress(given.http ?? file.http ?? DEFAULT_HTTP, '--http');
  const brokerUrl = given.broker ?? (given.mqtt === undefined ? file.broker : undefined);
  const mqtt =
    brokerUrl === undefined
      ? parseAddress(given.mqtt ?? file.mqtt ?? DEFAULT_MQTT, '--mqtt')
      : checkBrokerUrl(brokerUrl);
  const data = given.data ?? file.data ?? DEFAULT_DATA;
  const mqttsText = given.mqtts ?? file.mqtts;
  const mqtts = mqttsText === undefined ? undefined : parseAddress(mqttsText, '--mqtts');
  const trustsProxy = (given['trust-proxy'] ?? file.trustProxy) === true;
  if (mqtts !== undefined && typeof mqtt === 'string')
    throw new UsageError('--mqtts and --broker exclude each other: the broker is its own or another');
  if (given['open-network'] !== true) refuseOpenNetwork({ http, trustsProxy, brokers: [mqtt, mqtts] }, data);
  const files = certificateFiles(given, file);
  const isOwnCertificate = files === undefined && (given['own-certificate'] ?? file.ownCertificate) === true;
  if (mqtts !== undefined && files === undefined && !isOwnCertificate)
    throw new UsageError(
      '--mqtts wants a certificate: --tls-certificate and --tls-key, or --own-certificate',
    );

  // Loaded once the options are known to be good: a word of help need not wait for a whole daemon.
  const { startDaemon } = await import('../daemon.ts');
  const log = await (await import('./log.ts')).openLog();
  const clock = machineClock();
  const certificate = await openCertificate(isOwnCertificate ? 'own' : files, {
    data,
    publicName: file.publicName,
    clock,
    warn: (message) => log.warn(message),
  });
  const daemon = await startDaemon({
    data,
    mqtts,
    certificate,
    isOwnCertificate,
    http,
    mqtt,
    topics: file.topics ?? [],
    publicName: file.publicName,
    isOpenMeant: given['open-network'],
    trustsProxy,
    publicUrl: file.publicUrl,
    stillWatching: file.stillWatching,
    backup: file.backup,
    retention: file.retention,
    forward: file.forward && forwardTo(file.forward),
    silentAfterMinutes: file.silentAfterMinutes,
    clock,
    log,
  });
  const { tellServiceManager } = await import('../reach/service-manager.ts');
  const manager = tellServiceManager(process.env, (message) => log.warn(message));
  // Before it says that it is there: whoever reads so may stop it at once.
  const stopped = untilSignal(log, daemon.died, daemon.close).finally(() => manager.close());
  const scheme = certificate === undefined ? 'http' : 'https';
  log.info(`page: ${scheme}://${urlHost(http.host)}:${daemon.httpPort}/`);
  const beyond = elsewhere(http.host);
  for (const host of beyond) log.info(`  from elsewhere: ${scheme}://${urlHost(host)}:${daemon.httpPort}/`);
  if (certificate === undefined && !isLoopback(http.host))
    log.warn('passphrases and all else go over the network in clear: a certificate keeps them to itself');
  if (daemon.mqttPort !== null && typeof mqtt !== 'string') {
    log.info(`readings: mqtt://${urlHost(mqtt.host)}:${daemon.mqttPort}`);
  }
  if (daemon.mqttsPort !== null) log.info(`readings: mqtts://${urlHost(mqtts!.host)}:${daemon.mqttsPort}`);
  if (isOwnCertificate) {
    log.info(
      `certificate of its own making, which browsers ask about once: SHA-256 ${certificate!.fingerprint}`,
    );
  }
  log.info('It watches and warns; it switches nothing and is no safety interlock.');
  await stopped;
}

/** Where others reach a listener on every address: nobody can open 0.0.0.0. */
const elsewhere = (host: string): string[] =>
  host === '0.0.0.0' || host === '::'
    ? Object.values(networkInterfaces()).flatMap((all) =>
        (all ?? [])
          .filter(({ internal, family }) => !internal && family === 'IPv4')
          .map(({ address }) => address),
      )
    : [];

export const urlHost = (host: string): string => (host.includes(':') ? `[${host}]` : host);

function checkBrokerUrl(url: string): string {
  if (!URL.canParse(url) || !['mqtt:', 'mqtts:', 'ws:', 'wss:'].includes(new URL(url).protocol)) {
    // It may have a password in it.
    throw new UsageError('--broker wants a URL like mqtt://host:1883');
  }
  return url;
}

function certificateFiles(
  given: { 'tls-certificate'?: string; 'tls-key'?: string },
  file: Config,
): CertificateFiles | undefined {
  const { 'tls-certificate': certificate, 'tls-key': key } = given;
  if (certificate === undefined && key === undefined) return file.tls;
  if (certificate === undefined || key === undefined)
    throw new UsageError('--tls-certificate and --tls-key go together');
  return { certificate, key };
}

/** Loaded where there is one only. */
async function openCertificate(
  files: CertificateFiles | 'own' | undefined,
  { data, publicName, clock, warn }: OpenCertificate,
): Promise<Certificate | undefined> {
  if (files === undefined) return undefined;
  const { Certificate, ownCertificate } = await import('../tls/certificate.ts');
  if (files !== 'own') return new Certificate(files, { clock, warn });
  const make = () => ownCertificate(data, publicName, clock.wallMs());
  return new Certificate(await make(), { clock, warn, renew: make });
}

/** @throws UsageError where the file of the token cannot be read, or holds none. */
function forwardTo({ to, tokenFile, sites }: ForwardConfig): ForwardTo {
  let token: string;
  try {
    token = readFileSync(tokenFile, 'utf8').trim();
  } catch (error) {
    throw new UsageError(`forward.tokenFile: ${(error as Error).message}`);
  }
  if (!/^[\w-]{1,200}$/.test(token)) throw new UsageError(`forward.tokenFile: ${tokenFile} holds no token`);
  return { to: new URL(to), token, sites: sites ?? null };
}

interface OpenCertificate {
  data: string;
  publicName: string | undefined;
  clock: Clock;
  warn: (message: string) => void;
}

interface OpenNetwork {
  http: Address;
  trustsProxy: boolean;
  brokers: readonly (Address | string | undefined)[];
}

/**
 * Beyond loopback everybody in the network could read, note stages in anybody's name, and send readings.
 * @throws UsageError where a listener is beyond loopback, nobody is set up who may use it, and that is not meant.
 */
function refuseOpenNetwork({ http, trustsProxy, brokers }: OpenNetwork, data: string): void {
  // What a damaged list says is only needed here where others can come: on loopback readings are taken in all the same.
  const where = data === DEFAULT_DATA ? '' : ` --data ${data}`;
  const page = isLoopback(http.host) ? (trustsProxy ? '--trust-proxy' : undefined) : http.host;
  if (page !== undefined && openAccess(data).people().length === 0) {
    throw new UsageError(
      `${page} is beyond this machine and no person is set up (esterwatch person add NAME${where}): say --open-network if that is meant`,
    );
  }
  const open = brokers.find((at): at is Address => typeof at === 'object' && !isLoopback(at.host));
  if (open !== undefined && openAccess(data).publishers().length === 0) {
    throw new UsageError(
      `${open.host} is beyond this machine and no device is set up (esterwatch device add NAME${where}): say --open-network if that is meant`,
    );
  }
}
