import { connect, type IClientOptions, type MqttClient } from 'mqtt';
import { DEVICE_TOPIC_FILTERS } from '../../shared/wire/topics.ts';
import type { Broker, TakeMessage } from './broker.ts';

/** What is under way to a broker that has gone would be waited for without end, real ms. */
const GOODBYE_MS = 2000;

/**
 * A broker elsewhere, MQTT 3.1.1 or 5 as it speaks. The session is persistent and the client id
 * stable, so that the broker keeps what comes while the daemon is away; a message is acknowledged to
 * it only after the commit.
 */
export async function connectOutsideBroker(options: {
  url: string;
  clientId: string;
  filters: readonly string[];
  take: TakeMessage;
  onConnect: () => void;
  warn: (message: string) => void;
}): Promise<Broker> {
  const { url, clientId, filters, take, onConnect, warn } = options;
  const base: IClientOptions = {
    clientId,
    clean: false,
    reconnectPeriod: 1000,
    resubscribe: false,
    manualConnect: true,
  };
  const client: MqttClient = connect(url, base);
  let subscribed = false;
  // Called for each publication in turn; the acknowledgement goes out when it calls back.
  client.handleMessage = (packet, done) => {
    const { stream } = client;
    const { topic, payload, retain } = packet;
    take({
      topic,
      payload: Buffer.isBuffer(payload) ? payload : Buffer.from(payload),
      retained: retain,
      // Who may publish what is for that broker to say.
      from: null,
    }).then(
      // After a new connection its number may be another message's: not acknowledged, it comes again.
      () => done(client.stream === stream ? undefined : new Error('the connection has gone')),
      (error: Error) => done(error),
    );
  };
  client.on('connect', ({ sessionPresent }) => {
    // Once in any case: the session may be of a start with other topics in the configuration.
    subscribed &&= sessionPresent;
    if (!subscribed) {
      client.subscribe([...DEVICE_TOPIC_FILTERS, ...filters], { qos: 1 }, (error) => {
        if (error) warn(`the broker refuses the subscriptions: ${error.message}`);
        else subscribed = true;
      });
    }
    onConnect();
  });
  /** A connection has one will: each topic's has its own, which is there for nothing but to break. */
  const wills = new Map<string, MqttClient>();
  client.on('error', (error) => warn(`broker: ${error.message}`));
  client.connect();

  return {
    kind: 'outside',
    listens: null,
    get connected() {
      return client.connected && subscribed;
    },
    publish: async (topic, payload, retain) => {
      if (client.connected) await client.publishAsync(topic, payload, { qos: 1, retain });
    },
    leaveWill: (topic, payload) => {
      if (wills.has(topic)) return;
      const keeper = connect(url, {
        clientId: `${clientId}-${wills.size + 1}`,
        will: { topic, payload: Buffer.from(payload), retain: true, qos: 1 },
      });
      // The main connection has the same troubles and tells of them.
      keeper.on('error', () => {});
      wills.set(topic, keeper);
    },
    close: async () => {
      await Promise.all([client, ...wills.values()].map(endOf));
    },
  };
}

/** Says goodbye; to a broker that does not answer, or goes meanwhile, only so long. */
async function endOf(client: MqttClient): Promise<void> {
  let late: NodeJS.Timeout | undefined;
  const tooLate = new Promise<void>((resolve) => {
    late = setTimeout(resolve, GOODBYE_MS);
  });
  await Promise.race([client.endAsync(!client.connected), tooLate]);
  clearTimeout(late);
  client.stream.destroy();
}
