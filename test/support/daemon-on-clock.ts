import { cpSync } from 'node:fs';
import { connectAsync, type MqttClient } from 'mqtt';
import { onTestFinished } from 'vitest';
import type { Daemon } from '../../daemon/daemon.ts';
import { openStore } from '../../daemon/store/open.ts';
import type { Store } from '../../daemon/store/store.ts';
import type { LiveMessage } from '../../shared/wire/api.ts';
import { Api, look } from './api.ts';
import { ManualClock } from './manual-clock.ts';
import { dataFolder, LOOPBACK, startHere } from './serving.ts';

/** The daemon in this process on a clock that stands until the run moves it. */
export class DaemonOnClock {
  readonly told: LiveMessage[] = [];
  readonly clock: ManualClock;
  data: string;
  api!: Api;
  store!: Store;
  #daemon!: Daemon;
  #device!: MqttClient;
  #viewer!: Awaited<ReturnType<typeof look>>;

  constructor(startMs: number) {
    this.clock = new ManualClock(startMs);
    this.data = freshFolder();
  }

  async start(): Promise<void> {
    this.#daemon = await startHere({
      data: this.data,
      clock: this.clock,
      openStore: async (folder) => {
        this.store = await openStore(folder);
        return this.store;
      },
    });
    this.api = new Api(this.#daemon.httpPort);
    this.#device = await connectAsync(`mqtt://${LOOPBACK}:${this.#daemon.mqttPort}`, { keepalive: 0 });
    this.#viewer = await look(this.#daemon.httpPort);
  }

  async stop(): Promise<void> {
    this.told.push(...this.#viewer.heard);
    this.#viewer.close();
    await this.#device.endAsync();
    await this.#daemon.close();
  }

  async restart(how: 'stopped' | 'crashed'): Promise<void> {
    // What lies on the disk while it runs is what a power cut leaves.
    const image = freshFolder();
    if (how === 'crashed') cpSync(this.data, image, { recursive: true });
    await this.stop();
    if (how === 'crashed') this.data = image;
    await this.start();
  }

  publish(topic: string, payload: unknown): Promise<unknown> {
    return this.#device.publishAsync(topic, typeof payload === 'string' ? payload : JSON.stringify(payload), {
      qos: 1,
    });
  }
}

function freshFolder(): string {
  const { data, remove } = dataFolder();
  onTestFinished(remove);
  return data;
}
