import { machineClock } from '../clock.ts';
import { type Address, isLoopback, parseAddress, readConfig } from '../config.ts';
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
  if (given['open-network'] !== true) refuseOpenNetwork(http, mqtt, data);

  // Loaded once the options are known to be good: a word of help need not wait for a whole daemon.
  const { startDaemon } = await import('../daemon.ts');
  const log = await (await import('./log.ts')).openLog();
  const daemon = await startDaemon({
    data,
    http,
    mqtt,
    topics: file.topics ?? [],
    publicName: file.publicName,
    isOpenMeant: given['open-network'],
    trustsProxy: given['trust-proxy'] ?? file.trustProxy,
    backup: file.backup,
    retention: file.retention,
    clock: machineClock(),
    log,
  });
  // Before it says that it is there: whoever reads so may stop it at once.
  const stopped = untilSignal(log, daemon.died, daemon.close);
  log.info(`page: http://${urlHost(http.host)}:${daemon.httpPort}/`);
  if (daemon.mqttPort !== null && typeof mqtt !== 'string') {
    log.info(`readings: mqtt://${urlHost(mqtt.host)}:${daemon.mqttPort}`);
  }
  log.info('It watches and warns; it switches nothing and is no safety interlock.');
  await stopped;
}

export const urlHost = (host: string): string => (host.includes(':') ? `[${host}]` : host);

function checkBrokerUrl(url: string): string {
  if (!URL.canParse(url) || !['mqtt:', 'mqtts:', 'ws:', 'wss:'].includes(new URL(url).protocol)) {
    throw new UsageError(`--broker wants a URL like mqtt://host:1883, not ${url}`);
  }
  return url;
}

/**
 * Beyond loopback everybody in the network could read, note stages in anybody's name, and send readings.
 * @throws UsageError where a listener is beyond loopback, nobody is set up who may use it, and that is not meant.
 */
function refuseOpenNetwork(http: Address, mqtt: Address | string, data: string): void {
  const access = openAccess(data);
  if (!isLoopback(http.host) && access.people().length === 0) {
    throw new UsageError(
      `${http.host} is beyond this machine and no person is set up (esterwatch person add NAME): say --open-network if that is meant`,
    );
  }
  if (typeof mqtt !== 'string' && !isLoopback(mqtt.host) && access.publishers().length === 0) {
    throw new UsageError(
      `${mqtt.host} is beyond this machine and no device is set up (esterwatch device add NAME): say --open-network if that is meant`,
    );
  }
}
