import { openStore } from '../../daemon/store/open.ts';
import type { Store } from '../../daemon/store/store.ts';
import { Api } from './api.ts';
import { type Mosquitto, startMosquitto } from './mosquitto.ts';
import { MosquittoClients } from './mosquitto-clients.ts';
import { dataFolder, LOOPBACK, startHere } from './serving.ts';

export const BROKERS = ['its own broker', 'a real Mosquitto'] as const;

/** A daemon in this process at one of the brokers, and everybody's way to it. */
export interface Watched {
  brokerPort: number;
  brokerUrl: string;
  httpPort: number;
  api: Api;
  clients: MosquittoClients;
  store: Store;
  close(): Promise<void>;
}

/** With a port it is one more daemon at the Mosquitto that is there. */
export async function startWatched(at: (typeof BROKERS)[number], outsidePort?: number): Promise<Watched> {
  const { data, remove } = dataFolder();
  let mosquitto: Mosquitto | undefined;
  if (at === 'a real Mosquitto' && outsidePort === undefined) mosquitto = await startMosquitto();
  const outside = outsidePort ?? mosquitto?.port;
  let store: Store | undefined;
  const daemon = await startHere({
    data,
    ...(outside !== undefined && { mqtt: `mqtt://${LOOPBACK}:${outside}` }),
    openStore: async (folder) => {
      store = await openStore(folder);
      return store;
    },
  });
  const api = new Api(daemon.httpPort);
  await api.ready();
  const brokerPort = outside ?? daemon.mqttPort!;
  return {
    brokerPort,
    brokerUrl: `mqtt://${LOOPBACK}:${brokerPort}`,
    httpPort: daemon.httpPort,
    api,
    clients: new MosquittoClients(brokerPort),
    store: store!,
    close: async () => {
      await daemon.close();
      await mosquitto?.stop();
      remove();
    },
  };
}
