import type { Stage } from '../shared/wire/names.ts';
import { TemperatureProbe, tachometer } from './probe.ts';
import { type Random, seededRandom } from './random.ts';
import type { Cue, Scenario, ScenarioVessel } from './scenario.ts';
import {
  type Controls,
  drawOff,
  filledVessel,
  liquidKg,
  pourIn,
  stepVessel,
  type VesselState,
} from './vessel.ts';

export interface ReadingItem {
  kind: 'reading';
  atMs: number;
  device: string;
  vessel: string;
  channel: Channel;
  /** As reported: °C, 1/min, or 0 and 1. */
  value: number;
  /** Counts a channel's readings, from 1. */
  seq: number;
  /** The quantity itself, in the same unit: the liquid's even where its probe hangs in the air. Never published. */
  trueValue: number;
}

/** The operator says that a stage begins. */
export interface StageItem {
  kind: 'stage';
  atMs: number;
  vessel: string;
  stage: Stage;
}

interface PresenceItem {
  kind: 'presence';
  atMs: number;
  device: string;
  presence: 'here' | 'gone';
}

/** What a device kept while it had no network, all of one channel, in order of time. */
export interface BacklogItem {
  kind: 'backlog';
  atMs: number;
  device: string;
  vessel: string;
  channel: Channel;
  readings: readonly { atMs: number; value: number; seq: number }[];
}

export type RunItem = ReadingItem | StageItem | PresenceItem | BacklogItem;
export type Channel = 'liquid-temperature' | 'stirrer-speed' | 'heater';

export interface RunSettings {
  /** Noise differs from seed to seed; the story does not. */
  seed: number;
  /** Epoch ms of the scenario's start. */
  startMs: number;
  /** Time between a channel's readings, ms, at least 1; a scenario may lengthen it. */
  readingEveryMs: number;
}

/** Longest physical step. */
const STEP_MS = 1000;
/** A probe hangs in the air below this part of the working level. */
const PROBE_COVERED_AT = 0.1;
/** Speed from which the liquid washes round the probe, 1/min. */
const PROBE_WASHED_PER_MIN = 50;

/**
 * Plays a scenario: what is published and what the operator does, in order of time. The same scenario and
 * settings give the same run.
 * @throws RangeError where a setting is out of range, or a cue names a vessel or device that is not there
 */
export function* run(scenario: Scenario, settings: RunSettings): Generator<RunItem, void, undefined> {
  if (!(settings.readingEveryMs >= 1)) throw new RangeError('readingEveryMs must be at least 1');
  const scene = new Scene(scenario, settings.seed);
  const endMs = scenario.lengthMinutes * 60_000;
  let readingEveryMs = settings.readingEveryMs;
  let nowMs = 0;
  let nextReadingMs = 0;
  let nextCue = 0;

  for (const device of scene.devices) yield presence(settings.startMs, device.name, 'here');
  while (nowMs <= endMs) {
    for (let cue = scenario.cues[nextCue]; cue && cueMs(cue) <= nowMs; cue = scenario.cues[++nextCue]) {
      const atMs = settings.startMs + nowMs;
      if (cue.do === 'stage') yield { kind: 'stage', atMs, vessel: cue.vessel, stage: cue.stage };
      else if (cue.do === 'link') yield* switchLink(scene.device(cue.device), cue.up, atMs);
      else if (cue.do === 'reading-every') readingEveryMs = Math.max(settings.readingEveryMs, cue.ms);
      else scene.act(cue);
    }
    if (nextReadingMs <= nowMs) {
      for (const vessel of scene.vessels) {
        for (const reading of vessel.read(settings.startMs + nowMs)) {
          if (scene.device(reading.device).up) yield reading;
          else scene.device(reading.device).keep(reading);
        }
      }
      nextReadingMs = nowMs + readingEveryMs;
    }
    const cue = scenario.cues[nextCue];
    const untilMs = Math.min(nextReadingMs, nowMs + STEP_MS, cue ? cueMs(cue) : Number.POSITIVE_INFINITY);
    scene.advance((untilMs - nowMs) / 1000);
    nowMs = untilMs;
  }
}

const cueMs = (cue: Cue): number => Math.round(cue.atMinutes * 60_000);

const presence = (atMs: number, device: string, is: 'here' | 'gone'): PresenceItem => ({
  kind: 'presence',
  atMs,
  device,
  presence: is,
});

/** A publishing device; `kept` is what it measured without a network, by vessel and channel. */
class Device {
  readonly name: string;
  up = true;
  readonly kept = new Map<string, ReadingItem[]>();

  constructor(name: string) {
    this.name = name;
  }

  keep(reading: ReadingItem): void {
    const key = `${reading.vessel}/${reading.channel}`;
    const kept = this.kept.get(key);
    if (kept) kept.push(reading);
    else this.kept.set(key, [reading]);
  }
}

function* switchLink(device: Device, up: boolean, atMs: number): Generator<RunItem> {
  device.up = up;
  yield presence(atMs, device.name, up ? 'here' : 'gone');
  if (!up) return;
  for (const kept of device.kept.values()) {
    const { vessel, channel } = kept[0]!;
    const readings = kept.map(({ atMs, value, seq }) => ({ atMs, value, seq }));
    yield { kind: 'backlog', atMs, device: device.name, vessel, channel, readings };
  }
  device.kept.clear();
}

/** Everything that stands in the shed. */
class Scene {
  readonly vessels: readonly SceneVessel[];
  readonly devices: readonly Device[];
  readonly #scenario: Scenario;
  /** Pumping and adding under way. */
  #flows: { flow: FlowCue; leftS: number }[] = [];

  constructor(scenario: Scenario, seed: number) {
    this.#scenario = scenario;
    this.vessels = scenario.vessels.map((setup) => new SceneVessel(setup, seed));
    const names = new Set(scenario.vessels.map(({ device }) => device));
    this.devices = [...names].map((name) => new Device(name));
  }

  device(name: string): Device {
    return found(this.devices, (device) => device.name === name, name);
  }

  #vessel(name: string): SceneVessel {
    return found(this.vessels, (vessel) => vessel.name === name, name);
  }

  act(cue: SceneCue): void {
    switch (cue.do) {
      case 'set-point':
        this.#vessel(cue.vessel).controls.setPointC = cue.celsius;
        break;
      case 'thermostat':
        this.#vessel(cue.vessel).controls.thermostatStuck = cue.stuck;
        break;
      case 'stir':
        this.#vessel(cue.vessel).controls.stirPerMin = cue.perMin;
        break;
      case 'probe':
        this.#vessel(cue.vessel).probe.fail(cue.fault, cue.readings);
        break;
      case 'pump':
      case 'add-catalyst':
        this.#flows.push({ flow: cue, leftS: cue.minutes * 60 });
        break;
    }
  }

  advance(dtS: number): void {
    for (const underWay of this.#flows) {
      const { flow } = underWay;
      const flowingS = Math.min(dtS, underWay.leftS);
      this.#pass(flow, (flow.kg / (flow.minutes * 60)) * flowingS);
      underWay.leftS -= flowingS;
    }
    this.#flows = this.#flows.filter(({ leftS }) => leftS > 0);
    for (const vessel of this.vessels) vessel.advance(this.#scenario.surroundings, dtS);
  }

  #pass(flow: FlowCue, kg: number): void {
    if (flow.do === 'add-catalyst') {
      const vessel = this.#vessel(flow.vessel);
      const temperatureC = this.#scenario.surroundings.ambientC;
      const flakes = { oilKg: 0, productKg: 0, methanolKg: 0, flakesKg: kg, temperatureC };
      vessel.state = pourIn(vessel.state, flakes);
      return;
    }
    const from = this.#vessel(flow.from);
    const [left, portion] = drawOff(from.state, kg);
    from.state = left;
    if (flow.to === null) return;
    const to = this.#vessel(flow.to);
    to.state = pourIn(to.state, portion);
  }
}

type SceneCue = Exclude<Cue, { do: 'stage' | 'link' | 'reading-every' }>;
type FlowCue = Extract<Cue, { do: 'pump' | 'add-catalyst' }>;

/** A vessel with its instruments. */
class SceneVessel {
  readonly name: string;
  readonly controls: Controls = { setPointC: null, thermostatStuck: false, stirPerMin: 0 };
  readonly probe: TemperatureProbe;
  state: VesselState;
  readonly #setup: ScenarioVessel;
  readonly #tachometerNoise: Random;
  readonly #seqs = new Map<Channel, number>();

  constructor(setup: ScenarioVessel, seed: number) {
    this.name = setup.vessel;
    this.#setup = setup;
    this.state = filledVessel(setup.contents, setup.temperatureC);
    this.probe = new TemperatureProbe(setup.temperatureC, seededRandom(seed, `${setup.vessel}/probe`));
    this.#tachometerNoise = seededRandom(seed, `${setup.vessel}/tachometer`);
  }

  advance(surroundings: Scenario['surroundings'], dtS: number): void {
    this.state = stepVessel(this.state, this.#setup.equipment, this.controls, surroundings, dtS);
    const place = {
      liquidC: this.state.liquidC,
      airC: surroundings.ambientC,
      covered: liquidKg(this.state) / this.#setup.equipment.fullKg > PROBE_COVERED_AT,
      moving: this.state.stirrerPerMin > PROBE_WASHED_PER_MIN,
    };
    this.probe.advance(place, dtS);
  }

  read(atMs: number): ReadingItem[] {
    const { liquidC, stirrerPerMin, heating } = this.state;
    const readings: ReadingItem[] = [];
    const celsius = this.probe.read();
    if (celsius !== undefined) readings.push(this.#reading(atMs, 'liquid-temperature', celsius, liquidC));
    const perMin = tachometer(stirrerPerMin, this.#tachometerNoise);
    readings.push(this.#reading(atMs, 'stirrer-speed', perMin, stirrerPerMin));
    if (this.#setup.equipment.heaterW > 0) {
      const asked = heating ? 1 : 0;
      readings.push(this.#reading(atMs, 'heater', asked, asked));
    }
    return readings;
  }

  #reading(atMs: number, channel: Channel, value: number, trueValue: number): ReadingItem {
    const seq = (this.#seqs.get(channel) ?? 0) + 1;
    this.#seqs.set(channel, seq);
    const { device, vessel } = this.#setup;
    return { kind: 'reading', atMs, device, vessel, channel, value, seq, trueValue };
  }
}

function found<T>(list: readonly T[], is: (entry: T) => boolean, name: string): T {
  const entry = list.find(is);
  if (!entry) throw new RangeError(`the scenario has no '${name}'`);
  return entry;
}
