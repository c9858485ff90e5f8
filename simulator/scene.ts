import { instrumentOf, type Sight, SLOWER_CHANNELS_MS } from './instruments.ts';
import { Link, PERFECT_LINK } from './link.ts';
import { TemperatureProbe } from './probe.ts';
import { type Random, seededRandom } from './random.ts';
import { CLOSED_ROOM, type RoomControls, type RoomState, stepRoom } from './room.ts';
import type { Channel, Cue, Scenario, ScenarioVessel } from './scenario.ts';
import {
  AT_REST,
  type Controls,
  drawOff,
  filledVessel,
  liquidKg,
  pourIn,
  type Surroundings,
  stepVessel,
  type VesselState,
  washOut,
} from './vessel.ts';

/** A probe hangs in the air below this part of the working level. */
const PROBE_COVERED_AT = 0.1;
/** Speed from which the liquid washes round the probe, 1/min. */
const PROBE_WASHED_PER_MIN = 50;
/** The weather goes up and down once in so long, ms. Chosen: about twice a day, so that a batch sees it all. */
const WEATHER_MS = 13 * 3_600_000;
/** A kitchen thermometer is read to half a degree. */
const KITCHEN_STEP_C = 0.5;

/** A reading as its instrument gives it; `trueValue` is the quantity itself, in the same unit. */
export interface Measured {
  vessel: string;
  channel: Channel;
  value: number;
  trueValue: number;
  /** Counts a channel's readings, from 1. */
  seq: number;
}

/** Everything that stands in the shed. */
export class Scene {
  readonly vessels: readonly SceneVessel[];
  readonly devices: readonly SceneDevice[];
  readonly surroundings: Surroundings;
  room: RoomState = { vapourPpm: 0 };
  readonly #scenario: Scenario;
  readonly #roomControls: RoomControls = { ...CLOSED_ROOM };
  readonly #weatherPhase: number;
  /** Pumping and adding under way. */
  #flows: { flow: FlowCue; leftS: number }[] = [];
  #elapsedMs = 0;

  constructor(scenario: Scenario, seed: number) {
    this.#scenario = scenario;
    this.surroundings = { ...scenario.surroundings };
    this.#weatherPhase = 2 * Math.PI * seededRandom(seed, 'weather')();
    this.vessels = scenario.vessels.map((setup) => new SceneVessel(setup, seed, scenario.probesNoisier));
    const names = new Set(scenario.vessels.flatMap(({ device }) => (device === null ? [] : [device])));
    this.devices = [...names].map(
      (name) =>
        new SceneDevice(
          name,
          new Link(scenario.links[name] ?? PERFECT_LINK, seededRandom(seed, `${name}/link`)),
        ),
    );
  }

  device(name: string): SceneDevice {
    return found(this.devices, (device) => device.name === name, name);
  }

  vessel(name: string): SceneVessel {
    return found(this.vessels, (vessel) => vessel.name === name, name);
  }

  act(cue: SceneCue): void {
    switch (cue.do) {
      case 'set-point':
        this.vessel(cue.vessel).controls.setPointC = cue.celsius;
        break;
      case 'heater':
        this.vessel(cue.vessel).controls.heaterFault = cue.fault;
        break;
      case 'stir':
        this.vessel(cue.vessel).controls.stirPerMin = cue.perMin;
        break;
      case 'mixer':
        this.vessel(cue.vessel).controls.mixerFault = cue.fault;
        break;
      case 'wash-out': {
        const vessel = this.vessel(cue.vessel);
        vessel.state = washOut(vessel.state);
        break;
      }
      case 'vacuum':
        this.vessel(cue.vessel).controls.underHPa = cue.underHPa;
        break;
      case 'cooling-water':
        this.vessel(cue.vessel).controls.coolingWater = cue.running;
        break;
      case 'leak':
        this.#roomControls.leakGPerMin = cue.gPerMin;
        break;
      case 'air-room':
        this.#roomControls.airChangesPerHour = cue.changesPerHour;
        break;
      case 'probe':
        this.vessel(cue.vessel).probes[(cue.probe ?? 1) - 1]!.fail(cue.fault, cue.readings);
        break;
      case 'mute':
        this.vessel(cue.vessel).mute(cue.channel, cue.muted);
        break;
      case 'pump':
      case 'add-catalyst':
        this.#flows.push({ flow: cue, leftS: cue.minutes * 60 });
        break;
    }
  }

  advance(dtMs: number): void {
    const dtS = dtMs / 1000;
    this.#elapsedMs += dtMs;
    const { pressureHPa, pressureSwingHPa } = this.#scenario.surroundings;
    if (pressureSwingHPa !== 0) {
      const angle = (2 * Math.PI * this.#elapsedMs) / WEATHER_MS + this.#weatherPhase;
      this.surroundings.pressureHPa = pressureHPa + pressureSwingHPa * Math.sin(angle);
    }
    for (const underWay of this.#flows) {
      const { flow } = underWay;
      const flowingS = Math.min(dtS, underWay.leftS);
      this.#pass(flow, (flow.kg / (flow.minutes * 60)) * flowingS);
      underWay.leftS -= flowingS;
    }
    if (this.#flows.length > 0) this.#flows = this.#flows.filter(({ leftS }) => leftS > 0);
    for (const vessel of this.vessels) vessel.advance(this.surroundings, dtS);
    this.room = stepRoom(this.room, this.#roomControls, dtS);
  }

  #pass(flow: FlowCue, kg: number): void {
    if (flow.do === 'add-catalyst') {
      const vessel = this.vessel(flow.vessel);
      const temperatureC = this.surroundings.ambientC;
      const flakes = { oilKg: 0, productKg: 0, methanolKg: 0, flakesKg: kg, temperatureC };
      vessel.state = pourIn(vessel.state, flakes);
      return;
    }
    const from = this.vessel(flow.from);
    const [left, portion] = drawOff(from.state, kg);
    from.state = left;
    if (flow.to === null) return;
    const to = this.vessel(flow.to);
    to.state = pourIn(to.state, portion);
  }
}

/** What acts on the scene itself rather than on how it is told. */
type SceneCue = Exclude<Cue, { do: 'stage' | 'link' | 'reading-every' | 'type-in' }>;
type FlowCue = Extract<Cue, { do: 'pump' | 'add-catalyst' }>;

/** A publishing device; `kept` is what it measured without a network, by vessel and channel. */
export class SceneDevice {
  readonly name: string;
  readonly link: Link;
  up = true;
  readonly kept = new Map<string, { atMs: number; reading: Measured }[]>();

  constructor(name: string, link: Link) {
    this.name = name;
    this.link = link;
  }

  keep(atMs: number, reading: Measured): void {
    const key = `${reading.vessel}/${reading.channel}`;
    const kept = this.kept.get(key);
    if (kept) kept.push({ atMs, reading });
    else this.kept.set(key, [{ atMs, reading }]);
  }
}

interface ChannelOutlet {
  channel: Channel;
  read(sight: Sight): number | undefined;
  truth(sight: Sight): number;
  everyMs: number;
  nextMs: number;
  muted: boolean;
  seq: number;
}

/** A vessel with its instruments. */
export class SceneVessel {
  readonly name: string;
  readonly device: string | null;
  /** A condenser's cooling water runs until something happens to it. */
  readonly controls: Controls = { ...AT_REST, coolingWater: true };
  readonly probes: readonly TemperatureProbe[];
  state: VesselState;
  readonly #setup: ScenarioVessel;
  readonly #outlets: readonly ChannelOutlet[];

  constructor(setup: ScenarioVessel, seed: number, probesNoisier: number) {
    this.name = setup.vessel;
    this.device = setup.device;
    this.#setup = setup;
    this.state = filledVessel(setup.contents, setup.temperatureC);
    const probe = (name: string) =>
      new TemperatureProbe(setup.temperatureC, seededRandom(seed, `${setup.vessel}/${name}`), probesNoisier);
    this.probes = setup.channels.includes('liquid-temperature-2')
      ? [probe('probe'), probe('probe-2')]
      : [probe('probe')];
    this.#outlets = setup.channels.map((channel) => this.#outlet(channel, seed));
  }

  #outlet(channel: Channel, seed: number): ChannelOutlet {
    const instrument = instrumentOf(channel, this.probes);
    const random: Random = seededRandom(seed, `${this.name}/${channel}`);
    return {
      channel,
      read: (sight) => instrument.read(sight, random),
      truth: (sight) => instrument.truth(sight),
      everyMs: SLOWER_CHANNELS_MS[channel] ?? 0,
      nextMs: 0,
      muted: false,
      seq: 0,
    };
  }

  mute(channel: Channel, muted: boolean): void {
    found(this.#outlets, (outlet) => outlet.channel === channel, channel).muted = muted;
  }

  advance(surroundings: Surroundings, dtS: number): void {
    const { equipment } = this.#setup;
    if (equipment.thermostatAt === 'probe') this.controls.feltC = this.probes[0]!.reportedC;
    this.state = stepVessel(this.state, equipment, this.controls, surroundings, dtS);
    const place = {
      liquidC: this.state.liquidC,
      airC: surroundings.ambientC,
      covered: liquidKg(this.state) / equipment.fullKg > PROBE_COVERED_AT,
      moving: this.state.movingPerMin > PROBE_WASHED_PER_MIN,
    };
    for (const probe of this.probes) probe.advance(place, dtS);
  }

  /** What the instruments that are due at this time of the run report. */
  *read(nowMs: number, surroundings: Surroundings, vapourPpm: number): Generator<Measured> {
    const { controls, state } = this;
    const sight = { state, controls, mixer: this.#setup.mixer, surroundings, vapourPpm };
    for (const outlet of this.#outlets) {
      if (nowMs < outlet.nextMs) continue;
      outlet.nextMs = nowMs + outlet.everyMs;
      const value = outlet.read(sight);
      if (value === undefined || outlet.muted) continue;
      const { channel } = outlet;
      outlet.seq += 1;
      yield { vessel: this.name, channel, value, trueValue: outlet.truth(sight), seq: outlet.seq };
    }
  }

  /** What a person sees on a kitchen thermometer. */
  typeIn(): Measured {
    const trueValue = this.state.liquidC;
    const value = Math.round(trueValue / KITCHEN_STEP_C) * KITCHEN_STEP_C;
    return { vessel: this.name, channel: 'liquid-temperature', value, trueValue, seq: 0 };
  }
}

function found<T>(list: readonly T[], is: (entry: T) => boolean, name: string): T {
  const entry = list.find(is);
  if (!entry) throw new RangeError(`the scenario has no '${name}'`);
  return entry;
}
