import { EventEmitter, once } from 'node:events';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as wait } from 'node:timers/promises';
import { recordedBatch } from '../../daemon/record/recorded-batch.ts';
import { openStore } from '../../daemon/store/open.ts';
import type { Stage } from '../../shared/wire/names.ts';
import { readingTopic } from '../../shared/wire/topics.ts';
import { gaussian, type Random } from '../../simulator/random.ts';
import { gather } from '../daemon/replay-sources/gather.ts';
import { everyEntryOf } from '../daemon/store/fixture.ts';
import { type AlarmLine, replayedAlarms, storedAlarms } from './alarm-lines.ts';
import { Api, eventually } from './api.ts';
import { type Held, heldBy } from './inspected.ts';
import { KeepingDevice } from './keeping-device.ts';
import { Link } from './link.ts';
import { type Mosquitto, startMosquitto } from './mosquitto.ts';
import { dataFolderOnDisk, type Ending, LOOPBACK, type Served, serve } from './serving.ts';

const VESSELS_A_SITE = 10;
const SITES = ['barn', 'shed'] as const;
const CHANNELS = [
  'liquid-temperature',
  'liquid-temperature-2',
  'stirrer-speed',
  'stirrer-current',
  'heater',
  'wall-temperature',
] as const;
const EVERY_MS = 1000;
const STAGES: readonly Stage[] = ['warm', 'dose', 'react', 'settle', 'drain', 'wash'];
/** What was acknowledged is with the daemon within so long after the last fault, ms. */
const DELIVERED_WITHIN_MS = 120_000;
/** So long a link is broken at most: long enough for both ends to give it up, ms. */
const LONGEST_FAULT_MS = 6000;

/** The daemon ends so long after devices have sent, at most, ms. */
const MOST_AFTER_SENDING_MS = 40;

const DAY_MS = 24 * 3_600_000;
/** How wrong a device's clock may be, ms ahead: a little, an hour behind, so far ahead that it is refused, in 1970. */
const CLOCKS: readonly (() => number)[] = [
  () => 0,
  () => 0,
  () => 20_000,
  () => -3_600_000,
  () => DAY_MS,
  () => 60_000 - Date.now(),
];

/** How often what happens, ms between one and the next in the mean; how long each part lasts, ms. */
export interface SoakPlan {
  /** With restarts of the daemon, and, with an outside broker, of that. */
  restartsMs: number;
  /** Then without those of the daemon: one process is watched. */
  watchedMs: number;
  restartEveryMs: number;
  linkFaultEveryMs: number;
  deviceRestartEveryMs: number;
  clockEveryMs: number;
  stageEveryMs: number;
  /** So many looks at what the watched daemon holds, at even intervals, the last at its end. */
  looks: number;
}

export interface SoakCounts {
  acknowledged: number;
  kept: number;
  daemonRestarts: number;
  brokerRestarts: number;
  deviceRestarts: number;
  linkFaults: number;
  clocksSet: number;
  stages: number;
}

interface SoakVessel {
  site: string;
  vessel: string;
  batch: string;
  link: Link;
  device: KeepingDevice;
  liquid: Liquid;
}

/** A liquid that goes up to the boiling point of methanol and down again, in a vessel whose stirrer stops at times. */
class Liquid {
  readonly #random: Random;
  #atC: number;
  #perS = 0.4;
  #rpm = 300;
  #heater = 1;

  constructor(random: Random) {
    this.#random = random;
    this.#atC = 50 + 12 * random();
  }

  /** One value of each channel. */
  next(): number[] {
    const random = this.#random;
    if (this.#atC > 67 || this.#atC < 48 || random() < 0.02) this.#perS = this.#atC > 58 ? -0.4 : 0.4;
    this.#atC += this.#perS;
    if (random() < 0.03) this.#rpm = random() < 0.5 ? 0 : 300;
    if (random() < 0.03) this.#heater = 1 - this.#heater;
    const fate = random();
    const liquidC = fate < 0.005 ? -127 : fate < 0.01 ? 85 : this.#atC + 0.05 * gaussian(random);
    return [
      liquidC,
      this.#atC + 0.05 * gaussian(random),
      this.#rpm,
      this.#rpm === 0 ? 0 : 1 + 0.02 * gaussian(random),
      this.#heater,
      20 + gaussian(random),
    ];
  }
}

/**
 * A daemon, with a broker of its own or an outside Mosquitto, devices, and links between them, all of which fail at
 * random. `run` lives through it; afterwards `wrong` and `alarms` say whether the daemon kept its word.
 */
export class Soak {
  readonly endings: Ending[] = [];
  readonly data: string;
  readonly #random: Random;
  readonly #folder: { data: string; remove: () => void };
  readonly #isOutside: boolean;
  readonly #counts: SoakCounts = {
    acknowledged: 0,
    kept: 0,
    daemonRestarts: 0,
    brokerRestarts: 0,
    deviceRestarts: 0,
    linkFaults: 0,
    clocksSet: 0,
    stages: 0,
  };
  #served!: Served;
  #api!: Api;
  /** The daemon's way to the outside broker. */
  #brokerLink: Link | undefined;
  #mosquitto: Mosquitto | undefined;
  #mosquittoFolder: string | undefined;
  #vessels: SoakVessel[] = [];
  #measuring: NodeJS.Timeout | undefined;
  readonly #measured = new EventEmitter();

  private constructor(isOutside: boolean, random: Random) {
    this.#isOutside = isOutside;
    this.#random = random;
    this.#folder = dataFolderOnDisk();
    this.data = this.#folder.data;
  }

  static async start(isOutside: boolean, random: Random): Promise<Soak> {
    const soak = new Soak(isOutside, random);
    if (isOutside) {
      soak.#brokerLink = await Link.open(null);
      await soak.#startMosquitto();
    }
    await soak.#startDaemon();
    await soak.#addVessels();
    return soak;
  }

  /** Everything that was started ends; what was stored is thrown away. */
  async end(): Promise<void> {
    clearInterval(this.#measuring);
    for (const { device } of this.#vessels) device.stop();
    this.#served?.kill('SIGKILL');
    await this.#served?.ended;
    await this.#mosquitto?.stop();
    await Promise.all(
      [this.#brokerLink, ...this.#vessels.map(({ link }) => link)].map((link) => link?.close()),
    );
    if (this.#mosquittoFolder !== undefined) rmSync(this.#mosquittoFolder, { recursive: true });
    this.#folder.remove();
  }

  /**
   * Lives through the plan and waits until everything that is to arrive has. Gives what the daemon held before any
   * device came to its last process, at each look, and after all devices had gone.
   */
  async run(plan: SoakPlan): Promise<{ before: Held; looks: Held[]; after: Held }> {
    this.#measuring = setInterval(() => {
      for (const { device, liquid } of this.#vessels) device.measure(liquid.next());
      this.#measured.emit('measured');
    }, EVERY_MS);
    await this.#disturb(plan.restartsMs, plan, [
      [plan.restartEveryMs, () => this.#restartDaemon()],
      ...(this.#isOutside
        ? [[plan.restartEveryMs, () => this.#restartMosquitto()] as [number, () => Promise<void>]]
        : []),
    ]);

    // Nobody is let through until it was seen what the daemon holds without anybody.
    for (const link of this.#deviceLinks()) link.to = null;
    for (const link of this.#deviceLinks()) link.cut();
    await this.#restartDaemon();
    const before = await this.#held();
    this.#joinLinks();

    const [looks] = await Promise.all([
      this.#lookOften(plan.looks, plan.watchedMs),
      this.#disturb(
        plan.watchedMs,
        plan,
        this.#isOutside ? [[plan.restartEveryMs * 2, () => this.#restartMosquitto()]] : [],
      ),
    ]);
    clearInterval(this.#measuring);
    await eventually(
      () => this.#vessels.reduce((sum, { device }) => sum + device.unknown, 0),
      (unknown) => unknown === 0,
      100,
      DELIVERED_WITHIN_MS,
    );
    // From an outside broker the last of it is still on its way.
    await eventually(
      () => this.wrong(),
      (wrong) => wrong.length === 0,
      500,
      DELIVERED_WITHIN_MS,
    ).catch(() => {}); // what is wrong then is looked at by whoever runs it
    for (const { device } of this.#vessels) device.stop();
    const after = await eventually(
      () => this.#held(),
      ({ resources }) => (resources.TCPSocketWrap ?? 0) <= (before.resources.TCPSocketWrap ?? 0),
      500,
    );
    return { before, looks, after };
  }

  /** What is not as it should be about what is stored, in words. */
  async wrong(): Promise<string[]> {
    const wrong: string[] = [];
    for (const { site, vessel, device } of this.#vessels) {
      const stored = await Promise.all(
        CHANNELS.map((channel) => this.#api.raw(`${site}:${vessel}`, channel)),
      );
      wrong.push(...device.channels.flatMap((channel, i) => channel.wrongIn(stored[i]!)));
    }
    return wrong;
  }

  counts(): SoakCounts {
    const all = this.#vessels.flatMap(({ device }) =>
      device.channels.map(({ acknowledged }) => acknowledged),
    );
    const sum = (of: (one: { all: number; kept: number }) => number) =>
      all.reduce((to, one) => to + of(one), 0);
    return { ...this.#counts, acknowledged: sum((one) => one.all), kept: sum((one) => one.kept) };
  }

  /** Ends the daemon cleanly. */
  async stop(): Promise<Ending> {
    this.#served.kill('SIGTERM');
    return this.#served.ended;
  }

  /** Once it is stopped: of each batch what was stored of its vessel's alarms, and what a replay of its readings says. */
  async alarms(): Promise<{ stored: AlarmLine[]; replayed: AlarmLine[] }[]> {
    const store = await openStore(this.data);
    try {
      const entries = new Map(
        await Promise.all(SITES.map(async (site) => [site, await everyEntryOf(store, site)] as const)),
      );
      const compared: { stored: AlarmLine[]; replayed: AlarmLine[] }[] = [];
      for (const { site, vessel, batch } of this.#vessels) {
        const stored = storedAlarms(entries.get(site as (typeof SITES)[number])!);
        compared.push({
          stored: stored.filter((line) => line.vessel === vessel),
          replayed: replayedAlarms(await gather((await recordedBatch(store, batch))!)),
        });
      }
      return compared;
    } finally {
      await store.close();
    }
  }

  // ---- what fails ----

  /** Has things happen for so long, each at random times; what is broken by then is whole again at the end. */
  async #disturb(
    ms: number,
    plan: SoakPlan,
    more: readonly (readonly [everyMs: number, act: () => Promise<void>])[],
  ): Promise<void> {
    const untilMs = performance.now() + ms;
    const happenings = [
      ...more,
      [plan.linkFaultEveryMs, () => this.#breakLink()],
      [plan.deviceRestartEveryMs, () => this.#restartDevice()],
      [plan.clockEveryMs, () => this.#setClock()],
      [plan.stageEveryMs, () => this.#enterStage()],
    ] as const;
    await Promise.all(
      happenings.map(async ([everyMs, act]) => {
        for (;;) {
          const waitMs = everyMs * (0.5 + this.#random());
          if (performance.now() + waitMs > untilMs) break;
          await wait(waitMs);
          await act();
        }
      }),
    );
    const leftMs = untilMs - performance.now();
    if (leftMs > 0) await wait(leftMs);
  }

  async #breakLink(): Promise<void> {
    this.#counts.linkFaults++;
    // One in ten is the daemon's own way to an outside broker.
    const link =
      this.#brokerLink !== undefined && this.#random() < 0.1 ? this.#brokerLink : this.#anyVessel().link;
    const kind = this.#random();
    if (kind < 0.4) link.cut();
    else if (kind < 0.7) {
      link.stall();
      await wait(LONGEST_FAULT_MS * this.#random());
      link.flow();
      // The daemon's own keep-alive is a minute: a link that is open at its end only would take up all of a short run.
    } else if (link !== this.#brokerLink) link.leave(this.#random() < 0.5 ? 'near' : 'far');
  }

  async #restartDevice(): Promise<void> {
    this.#counts.deviceRestarts++;
    await this.#anyVessel().device.restart(3000 * this.#random());
  }

  async #setClock(): Promise<void> {
    this.#counts.clocksSet++;
    this.#anyVessel().device.clockAheadMs = CLOCKS[Math.floor(CLOCKS.length * this.#random())]!();
  }

  /** What cannot be, or comes while the daemon is away, is let be. */
  async #enterStage(): Promise<void> {
    const { site, vessel, batch } = this.#anyVessel();
    const stage = STAGES[Math.floor(STAGES.length * this.#random())]!;
    await this.#api.enter(batch, stage, `${site}:${vessel}`).then(
      () => this.#counts.stages++,
      () => {},
    );
  }

  /** While all devices have just sent: that is when there is something to lose. */
  async #restartDaemon(): Promise<void> {
    const signal = this.#counts.daemonRestarts++ % 3 === 2 ? 'SIGTERM' : 'SIGKILL';
    await once(this.#measured, 'measured');
    await wait(MOST_AFTER_SENDING_MS * this.#random());
    this.#served.kill(signal);
    this.endings.push(await this.#served.ended);
    await wait(2000 * this.#random());
    await this.#startDaemon();
  }

  async #restartMosquitto(): Promise<void> {
    this.#counts.brokerRestarts++;
    await this.#mosquitto!.stop();
    await wait(2000 * this.#random());
    await this.#startMosquitto();
  }

  #anyVessel(): SoakVessel {
    return this.#vessels[Math.floor(this.#vessels.length * this.#random())]!;
  }

  // ---- what there is ----

  async #startDaemon(): Promise<void> {
    const broker = this.#brokerLink && `mqtt://${LOOPBACK}:${this.#brokerLink.port}`;
    this.#served = await serve({ data: this.data, broker, inspected: true });
    this.#api = new Api(this.#served.httpPort, { keepsConnections: false });
    // The link may be broken for as long as links are.
    if (this.#vessels.length === 0) await this.#api.ready();
    if (!this.#isOutside) this.#joinLinks();
  }

  async #startMosquitto(): Promise<void> {
    // Not beside the daemon's data: it runs as a user of its own, who may not go there.
    this.#mosquittoFolder ??= mkdtempSync(join(tmpdir(), 'mosquitto-kept-'));
    this.#mosquitto = await startMosquitto(undefined, this.#mosquittoFolder);
    this.#brokerLink!.to = this.#mosquitto.port;
    this.#joinLinks();
  }

  /** Devices' links lead to the broker that is there now. */
  #joinLinks(): void {
    for (const link of this.#deviceLinks()) link.to = this.#brokerPort();
  }

  #brokerPort(): number {
    return this.#mosquitto?.port ?? this.#served.mqttPort!;
  }

  #deviceLinks(): Link[] {
    return this.#vessels.map(({ link }) => link);
  }

  async #addVessels(): Promise<void> {
    for (const site of SITES) {
      for (let i = 0; i < VESSELS_A_SITE; i++) {
        const vessel = `r${i}`;
        const link = await Link.open(this.#brokerPort());
        const topics = CHANNELS.map((channel) => readingTopic(site, vessel, channel));
        const device = new KeepingDevice(link.port, topics);
        const liquid = new Liquid(this.#random);
        this.#vessels.push({ site, vessel, batch: '', link, device, liquid });
        device.measure(liquid.next());
      }
      await this.#api.stateSite(site, { altitudeM: 0 });
    }
    for (const each of this.#vessels) {
      const named = `${each.site}:${each.vessel}`;
      await eventually(
        () => this.#api.raw(named),
        ({ t }) => t.length > 0,
      );
      each.batch = await this.#api.openBatch(named, { watch: { readingEverySeconds: EVERY_MS / 1000 } });
      await this.#api.enter(each.batch, 'react');
    }
  }

  /** All of them, however late on a busy machine. */
  async #lookOften(count: number, duringMs: number): Promise<Held[]> {
    const startMs = performance.now();
    const looks: Held[] = [];
    for (let look = 1; look <= count; look++) {
      await wait(Math.max(0, startMs + (duringMs * look) / count - performance.now()));
      looks.push(await this.#held());
    }
    return looks;
  }

  #held(): Promise<Held> {
    return heldBy(this.#served.pid, this.#served.inspectUrl!);
  }
}
