import { setTimeout as wait } from 'node:timers/promises';
import { connectAsync, type MqttClient, type Packet } from 'mqtt';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { openStore } from '../../daemon/store/open.ts';
import { type Store, StoreError, type WriteUnit } from '../../daemon/store/store.ts';
import { Api, eventually } from '../support/api.ts';
import { type Mosquitto, startMosquitto } from '../support/mosquitto.ts';
import { dataFolder, LOOPBACK, startHere } from '../support/serving.ts';
import { packetsOf, startTap, type Tap } from '../support/tap.ts';

/** An acknowledgement that does not wait for the commit is there long before, ms. */
const LONG_ENOUGH_MS = 600;
const TOPIC = 'esterwatch/v1/reading/shed/r1/liquid-temperature';
const AT_MS = Date.parse('2026-03-02T10:15:00.000Z');
const reading = (seq: number) => JSON.stringify({ value: 50 + seq, at: AT_MS + seq * 1000, seq });

/** A store whose commits can be held back, or refused. */
class HeldStore {
  /** Sequence numbers of the readings that wait for their commit. */
  readonly waiting: (number | null)[] = [];
  /** The same, those of one commit together. */
  readonly commits: (number | null)[][] = [];
  refusals = 0;
  #open: Promise<void> = Promise.resolve();
  #release = (): void => {};

  hold(): void {
    this.#open = new Promise((resolve) => {
      this.#release = resolve;
    });
  }

  release(): void {
    this.#release();
  }

  readonly open = async (folder: string): Promise<Store> => {
    const store = await openStore(folder);
    return {
      ...store,
      write: async (units: readonly WriteUnit[]) => {
        const readings = units.flatMap(({ entries }) => entries).filter((entry) => entry.kind === 'reading');
        const seqs = readings.map(({ seq }) => seq);
        this.waiting.push(...seqs);
        if (seqs.length > 0) this.commits.push(seqs);
        if (readings.length > 0 && this.refusals > 0) {
          this.refusals--;
          throw new StoreError('store-write-failed', 'the disk is full');
        }
        await this.#open;
        return store.write(units);
      },
    };
  };
}

describe('its own broker', () => {
  let held: HeldStore;
  let api: Api;
  let device: MqttClient;
  let came: Packet[];
  let end: () => Promise<void>;
  beforeEach(async () => {
    const { data, remove } = dataFolder();
    held = new HeldStore();
    const daemon = await startHere({ data, openStore: held.open });
    api = new Api(daemon.httpPort);
    device = await connectAsync(`mqtt://${LOOPBACK}:${daemon.mqttPort}`);
    came = [];
    device.on('packetreceive', (packet) => came.push(packet));
    end = async () => {
      held.release();
      await device.endAsync(true);
      await daemon.close();
      remove();
    };
  });
  afterEach(() => end());
  const answers = (cmd: Packet['cmd']) => came.filter((packet) => packet.cmd === cmd).length;

  test.each([
    { qos: 1, answer: 'puback' },
    { qos: 2, answer: 'pubrec' },
  ] as const)('QoS $qos: no $answer before the commit', async ({ qos, answer }) => {
    held.hold();
    const published = device.publishAsync(TOPIC, reading(1), { qos });
    await eventually(
      () => held.waiting,
      (seqs) => seqs.includes(1),
    );
    await wait(LONG_ENOUGH_MS);
    expect(answers(answer)).toBe(0);
    const health = await api.get<{ oldestUnstoredMs: number | null }>('/api/v1/health');
    expect(health.oldestUnstoredMs).toBeGreaterThan(LONG_ENOUGH_MS / 2);

    held.release();
    await published;
    expect(answers(answer)).toBe(1);
    expect((await api.raw('shed:r1')).seq).toEqual([1]);
  });

  test('a disk that refuses is no commit: acknowledged once it takes the reading', async () => {
    held.refusals = 1;
    held.hold();
    const published = device.publishAsync(TOPIC, reading(1), { qos: 1 });
    // Tried again, and held then.
    await eventually(
      () => held.waiting,
      (seqs) => seqs.length === 2,
    );
    await wait(LONG_ENOUGH_MS);
    expect(answers('puback')).toBe(0);
    held.release();
    await published;
    expect((await api.raw('shed:r1')).seq).toEqual([1]);
  });
});

describe('a real Mosquitto', () => {
  let held: HeldStore;
  let api: Api;
  let device: MqttClient;
  let mosquitto: Mosquitto;
  let tap: Tap;
  let end: () => Promise<void>;
  beforeEach(async () => {
    const { data, remove } = dataFolder();
    mosquitto = await startMosquitto();
    tap = await startTap(mosquitto.port);
    held = new HeldStore();
    const daemon = await startHere({ data, openStore: held.open, mqtt: `mqtt://${LOOPBACK}:${tap.port}` });
    api = new Api(daemon.httpPort);
    await api.ready();
    device = await connectAsync(`mqtt://${LOOPBACK}:${mosquitto.port}`);
    end = async () => {
      held.release();
      await device.endAsync(true);
      await daemon.close();
      await tap.stop();
      await mosquitto.stop();
      remove();
    };
  });
  afterEach(() => end());
  const acknowledged = () => packetsOf(tap.sent()).filter((type) => type === 'PUBACK').length;

  test.each([1, 2] as const)('published at QoS %i: not acknowledged to it before the commit', async (qos) => {
    held.hold();
    await device.publishAsync(TOPIC, reading(1), { qos });
    await eventually(
      () => held.waiting,
      (seqs) => seqs.includes(1),
    );
    await wait(LONG_ENOUGH_MS);
    expect(acknowledged()).toBe(0);

    held.release();
    await eventually(acknowledged, (count) => count > 0);
    expect((await api.raw('shed:r1')).seq).toEqual([1]);
  });

  test('several at a time share a commit, and none is acknowledged before the one that came first', async () => {
    held.hold();
    await device.publishAsync(TOPIC, reading(1), { qos: 1 });
    await eventually(
      () => held.waiting,
      (seqs) => seqs.includes(1),
    );
    // Refused without any commit; behind the first all the same (MQTT 3.1.1, 4.6).
    await device.publishAsync(TOPIC, 'nonsense', { qos: 1 });
    for (const seq of [2, 3]) await device.publishAsync(TOPIC, reading(seq), { qos: 1 });
    await eventually(
      () => api.refused(),
      (refused) => refused.length === 1,
    );
    await wait(LONG_ENOUGH_MS);
    expect(acknowledged()).toBe(0);

    held.release();
    await eventually(acknowledged, (count) => count === 4);
    expect(held.commits).toEqual([[1], [2, 3]]);
    expect((await api.raw('shed:r1')).seq).toEqual([1, 2, 3]);
  });

  test('a link that breaks meanwhile: acknowledged on none before the commit, and stored once', async () => {
    held.hold();
    await device.publishAsync(TOPIC, reading(1), { qos: 1 });
    await eventually(
      () => held.waiting,
      (seqs) => seqs.includes(1),
    );
    tap.cut();
    await eventually(tap.sent, ({ length }) => length === 2);
    await api.ready();
    await wait(LONG_ENOUGH_MS);
    expect(acknowledged()).toBe(0);

    held.release();
    await eventually(acknowledged, (count) => count > 0);
    expect((await api.raw('shed:r1')).seq).toEqual([1]);
  });
});
