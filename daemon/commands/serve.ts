import { machineClock } from '../clock.ts';
import { type Address, isLoopback, parseAddress, readConfig } from '../config.ts';
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
  --open-network    listen beyond this machine although nobody has to sign in
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
  refuseOpenNetwork([http, mqtt], given['open-network'] === true);

  // Loaded once the options are known to be good: a word of help need not wait for a whole daemon.
  const { startDaemon } = await import('../daemon.ts');
  const log = await (await import('./log.ts')).openLog();
  const daemon = await startDaemon({
    data: given.data ?? file.data ?? DEFAULT_DATA,
    http,
    mqtt,
    topics: file.topics ?? [],
    publicName: file.publicName,
    publicUrl: file.publicUrl,
    stillWatching: file.stillWatching,
    backup: file.backup,
    retention: file.retention,
    clock: machineClock(),
    log,
  });
  const { tellServiceManager } = await import('../reach/service-manager.ts');
  const manager = tellServiceManager(process.env, (message) => log.warn(message));
  // Before it says that it is there: whoever reads so may stop it at once.
  const stopped = untilSignal(log, daemon.died, daemon.close).finally(() => manager.close());
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

/** Beyond loopback everybody in the network could read, and note stages in anybody's name. */
function refuseOpenNetwork(listeners: readonly (Address | string)[], meant: boolean): void {
  const open = listeners.find((at): at is Address => typeof at !== 'string' && !isLoopback(at.host));
  if (open !== undefined && !meant) {
    throw new UsageError(
      `${open.host} is beyond this machine and nobody has to sign in: say --open-network if that is meant`,
    );
  }
}
