import { expect, test } from 'vitest';
import { recordedBatch } from '../../daemon/record/recorded-batch.ts';
import type { Stage } from '../../shared/wire/names.ts';
import { isoTime } from '../../shared/wire/time.ts';
import { readingTopic } from '../../shared/wire/topics.ts';
import { gaussian, type Random, seededRandom } from '../../simulator/random.ts';
import { gather } from '../daemon/replay-sources/gather.ts';
import { everyEntryOf } from '../daemon/store/fixture.ts';
import { canBeSeen, replayedAlarms, storedAlarms, toldAlarms } from '../support/alarm-lines.ts';
import { DaemonOnClock } from '../support/daemon-on-clock.ts';
import { isThorough } from '../support/thorough.ts';

/**
 * Random batches: daemons with ten sites each, every site with a life of its own. What the daemon said in
 * its life is what a replay of its store says. `npm run test:hard` has a hundred.
 */
const SITES = 10;
const DAEMONS = Number(process.env.RANDOM_LIVES ?? 10) / SITES;
const MINUTES = isThorough ? 45 : 25;
const STEP_S = 5;
const START_MS = Date.parse('2026-03-02T08:00:00.000Z');

const STAGES: readonly [Stage, string][] = [
  ['warm', 'r1'],
  ['methoxide', 'm1'],
  ['dose', 'r1'],
  ['react', 'r1'],
  ['settle', 'r1'],
  ['drain', 'r1'],
  ['dose', 'r1'],
  ['react', 'r1'],
  ['settle', 'r1'],
  ['recover', 'r1'],
  ['wash', 'r1'],
];

/** One channel of a random life: what it measures, what becomes of it, and how it is sent. */
class RandomChannel {
  readonly #random: Random;
  readonly topic: string;
  readonly #next: (random: Random, before: number) => number;
  /** It is sent without a time of its own. */
  readonly #plain: boolean;
  readonly #everySteps: number;
  #value: number;
  #seq = 0;
  #waiting: { sendStep: number; payload: string }[] = [];
  #kept: { value: number; at: number; seq: number }[] = [];
  #awayUntil = 0;

  constructor(
    random: Random,
    topic: string,
    start: number,
    next: (random: Random, before: number) => number,
  ) {
    this.#random = random;
    this.topic = topic;
    this.#value = start;
    this.#next = next;
    this.#plain = random() < 0.3;
    this.#everySteps = random() < 0.7 ? 1 : 2 + Math.floor(3 * random());
  }

  /** What is to be published in this step, in its order; readings of a time, again, late, or many at once. */
  payloads(step: number, nowMs: number): string[] {
    const random = this.#random;
    if (step % this.#everySteps === 0) {
      this.#value = this.#next(random, this.#value);
      const reading = { value: this.#value, at: nowMs - Math.floor(1000 * random()), seq: this.#seq++ };
      if (this.#awayUntil > step) this.#kept.push(reading);
      else {
        const payload = this.#plain ? String(reading.value) : JSON.stringify(reading);
        const lateSteps = random() < 0.1 ? 1 + Math.floor(4 * random()) : 0;
        this.#waiting.push({ sendStep: step + lateSteps, payload });
        if (random() < 0.05)
          this.#waiting.push({ sendStep: step + Math.floor(30 * random()) + lateSteps, payload });
      }
    }
    if (this.#awayUntil <= step && random() < 0.006) this.#awayUntil = step + 3 + Math.floor(50 * random());
    const sent = this.#waiting.filter(({ sendStep }) => sendStep <= step).map(({ payload }) => payload);
    this.#waiting = this.#waiting.filter(({ sendStep }) => sendStep > step);
    if (this.#awayUntil === step + 1 && this.#kept.length > 0) {
      // What was measured without a link comes in one message, or never.
      if (random() < 0.7) sent.push(JSON.stringify(this.#kept));
      this.#kept = [];
    }
    return sent;
  }
}

/** A probe: warms, holds, cools, jumps, is torn off, stands still. */
function randomTemperature(): (random: Random, before: number) => number {
  let perStep = 0.1;
  let trueC = 30;
  let frozen = false;
  return (random, before) => {
    if (random() < 0.02) perStep = [0, 0.02, 0.1, 0.3, 0.5, -0.1, -0.4][Math.floor(7 * random())]!;
    if (random() < 0.01) frozen = !frozen;
    trueC = Math.min(95, Math.max(5, trueC + perStep));
    const fate = random();
    if (fate < 0.004) return -127;
    if (fate < 0.008) return 85;
    if (fate < 0.012) trueC += 12;
    return frozen ? before : Math.round((trueC + 0.05 * gaussian(random)) * 16) / 16;
  };
}

/** Goes from one of some values to another every so often. */
const randomSwitch =
  (values: readonly number[], share: number) =>
  (random: Random, before: number): number =>
    random() < share ? values[Math.floor(values.length * random())]! : before;

class RandomLife {
  readonly site: string;
  batch = '';
  readonly #random: Random;
  readonly #daemon: DaemonOnClock;
  readonly #channels: readonly RandomChannel[];
  readonly #stageSteps: number[];
  /** The devices' clocks go along when the daemon's is set. */
  readonly #followsClock: boolean;
  #stagesEntered = 0;

  constructor(daemon: DaemonOnClock, seed: number) {
    this.#daemon = daemon;
    this.site = `site-${seed}`;
    const random = seededRandom(seed, 'life');
    this.#random = random;
    const channel = (name: string, start: number, next: (random: Random, before: number) => number) =>
      new RandomChannel(seededRandom(seed, name), readingTopic(this.site, 'r1', name), start, next);
    const probes = random() < 0.5 ? ['liquid-temperature'] : ['liquid-temperature', 'liquid-temperature-2'];
    this.#channels = [
      ...probes.map((name) => channel(name, 30, randomTemperature())),
      channel('heater', 1, randomSwitch([0, 1, 1], 0.02)),
      ...(random() < 0.8 ? [channel('stirrer-speed', 0, randomSwitch([0, 0, 120, 300, 300], 0.04))] : []),
      ...(random() < 0.5 ? [channel('stirrer-current', 1, randomSwitch([0.4, 1, 1, 1.8], 0.02))] : []),
      ...(random() < 0.3 ? [channel('room-vapour', 50, randomSwitch([50, 400, 3500, 7000], 0.01))] : []),
      ...(random() < 0.3 ? [channel('ambient-pressure', 990, randomSwitch([960, 990, 1010], 0.02))] : []),
    ];
    const steps = (MINUTES * 60) / STEP_S;
    this.#stageSteps = STAGES.map(() => Math.floor(steps * random())).sort((a, b) => a - b);
    this.#followsClock = random() < 0.5;
  }

  async begin(): Promise<void> {
    const { api } = this.#daemon;
    await api.stateSite(this.site, { altitudeM: Math.floor(1500 * this.#random()) });
    for (const vessel of ['r1', 'm1', 't1'])
      await this.#daemon.publish(readingTopic(this.site, vessel, 'heater'), '0');
    this.batch = await api.openBatch(`${this.site}:r1`, { watch: { readingEverySeconds: STEP_S } });
  }

  /** What is sent and done at one moment. */
  async step(step: number, trueMs: number): Promise<void> {
    const random = this.#random;
    const daemon = this.#daemon;
    const deviceMs = this.#followsClock ? daemon.clock.wallMs() : trueMs;
    const sent = this.#channels.flatMap((channel) =>
      channel.payloads(step, deviceMs).map((payload) => ({ topic: channel.topic, payload })),
    );
    await Promise.all(sent.map(({ topic, payload }) => daemon.publish(topic, payload)));
    while (this.#stageSteps[this.#stagesEntered]! <= step) {
      const [stage, vessel] = STAGES[this.#stagesEntered++]!;
      await daemon.api.enter(this.batch, stage, `${this.site}:${vessel}`);
    }
    if (random() < 0.01) await this.#acknowledgeOne();
    if (random() < 0.008) await this.#testOrMove();
    if (random() < 0.005) {
      const presence = random() < 0.5 ? 'gone' : 'here';
      const device = random() < 0.5 ? 'r1-node' : 'box';
      await daemon.publish(`esterwatch/v1/presence/${this.site}/${device}`, presence);
    }
    if (random() < 0.01) {
      await daemon.api.call('POST', `/api/v1/vessels/${this.site}:r1/readings`, {
        channel: 'liquid-temperature',
        value: Math.round(20 + 50 * random()),
        ...(random() < 0.5 && { at: isoTime(daemon.clock.wallMs() - Math.floor(300_000 * random())) }),
      });
    }
  }

  /** A 3/27 that passes or not, or liquid that goes to another vessel where it can. */
  async #testOrMove(): Promise<void> {
    const random = this.#random;
    const { api } = this.#daemon;
    if (random() < 0.4) {
      const what = { kind: 'test', test: '3/27', dropoutMl: random() < 0.6 ? 0 : 0.4 };
      await api.call('POST', `/api/v1/batches/${this.batch}/entries`, { what });
      return;
    }
    const stages = ['recover', 'drain', 'warm', 'idle', 'settle', 'dose', 'dry-fuel'];
    const stage = stages[Math.floor(stages.length * random())]!;
    const what = random() < 0.5 ? 'ester' : 'glycerol';
    const [from, to] = random() < 0.7 ? ['r1', 't1'] : ['t1', 'r1'];
    const [call, body] =
      random() < 0.5
        ? ['move', { from, to, what, litres: 20 }]
        : ['stage', { stage, vessel: `${this.site}:t1`, anyway: { reason: 'a trial' } }];
    // What makes no sense is refused.
    await api
      .call('POST', `/api/v1/batches/${this.batch}/${call}`, body as object)
      .catch((error: Error) => expect(error.message).toMatch(/: (409|400) /));
  }

  async #acknowledgeOne(): Promise<void> {
    const mine = (await this.#daemon.api.alarms('?standing=true')).filter(({ site }) => site === this.site);
    const alarm = mine[Math.floor(mine.length * this.#random())];
    if (alarm === undefined) return;
    const verb = alarm.standing && this.#random() < 0.3 ? 'shelve' : 'acknowledge';
    const body = { by: 'p1', reason: 'seen', ...(verb === 'shelve' && { minutes: 3 }) };
    await this.#daemon.api.call('POST', `/api/v1/alarms/${alarm.id}/${verb}`, body);
  }
}

test.for(Array.from({ length: DAEMONS }, (_, i) => i))(
  'daemon %i and replays of what it stored give the same alarms, event by event',
  { timeout: 120_000 },
  async (number) => {
    const random = seededRandom(number, 'daemon');
    const daemon = new DaemonOnClock(START_MS);
    await daemon.start();
    const lives = Array.from({ length: SITES }, (_, i) => new RandomLife(daemon, number * SITES + i));
    for (const life of lives) await life.begin();

    const steps = (MINUTES * 60) / STEP_S;
    let crashes = 0;
    for (let step = 1; step <= steps; step++) {
      daemon.clock.advance(STEP_S * 1000);
      const trueMs = START_MS + step * STEP_S * 1000;
      if (random() < 0.006) daemon.clock.setWallBy(Math.round((random() - 0.5) * 1_200_000));
      if (random() < 0.004) {
        const how = random() < 0.5 ? 'stopped' : 'crashed';
        if (how === 'crashed') crashes++;
        await daemon.restart(how);
      }
      for (const life of lives) await life.step(step, trueMs);
    }
    // Silence at the end; then a reading that no rule reads, with which everything said before is stored.
    daemon.clock.advance(600_000);
    for (const { site } of lives) await daemon.publish(readingTopic(site, 'r1', 'lamp'), '1');

    const stored = await Promise.all(lives.map(({ site }) => everyEntryOf(daemon.store, site)));
    const runs = await Promise.all(
      lives.map(async ({ batch }) => gather((await recordedBatch(daemon.store, batch))!)),
    );
    await daemon.stop();
    for (const [i, { site }] of lives.entries()) {
      const alarms = storedAlarms(stored[i]!);
      const replayed = replayedAlarms(runs[i]!);
      expect(byVessel(alarms), site).toEqual(byVessel(replayed));
      // After a crash, what was told but not stored is told again.
      if (crashes === 0) {
        const told = toldAlarms(daemon.told, site).filter(canBeSeen);
        expect(byVessel(told), site).toEqual(byVessel(replayed.filter(canBeSeen)));
      }
      expect(alarms.length, site).toBeGreaterThan(5);
    }
  },
);

/** Which of several vessels is told first of one moment is no matter: a run knows them in another order. */
const byVessel = <Line extends { vessel: string }>(lines: readonly Line[]): Line[] =>
  [...lines].sort((a, b) => (a.vessel < b.vessel ? -1 : a.vessel > b.vessel ? 1 : 0));
