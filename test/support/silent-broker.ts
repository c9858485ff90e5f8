import { once } from 'node:events';
import { type AddressInfo, createServer } from 'node:net';
import { Aedes } from 'aedes';
import { onTestFinished } from 'vitest';
import { LOOPBACK } from './serving.ts';

export interface SilentBroker {
  port: number;
  /** How often somebody was let in. */
  connections(): number;
  /** From here on it does as a broker does. */
  acknowledge(): void;
  /** The numbers of the readings that it acknowledged, in their order. */
  seq(): number[];
}

/** A broker that lets everybody in and acknowledges nothing that is published; it ends with the test. */
export async function startSilentBroker(): Promise<SilentBroker> {
  let isSilent = true;
  let connections = 0;
  const seq: number[] = [];
  const aedes = await Aedes.createBroker({
    authenticate: (_client, _name, _password, done) => {
      connections++;
      done(null, true);
    },
    authorizePublish: (_client, { topic, payload }, done) => {
      if (isSilent) return;
      if (topic.includes('/reading/'))
        for (const one of [JSON.parse(payload.toString())].flat()) seq.push(one.seq);
      done(null);
    },
  });
  const server = createServer(aedes.handle).listen(0, LOOPBACK);
  await once(server, 'listening');
  onTestFinished(() => {
    aedes.close();
    server.close();
  });
  return {
    port: (server.address() as AddressInfo).port,
    connections: () => connections,
    acknowledge: () => {
      isSilent = false;
    },
    seq: () => seq,
  };
}
