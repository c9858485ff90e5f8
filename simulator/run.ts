import type { Stage } from '../shared/wire/names.ts';
import type { Channel, Cue, Scenario } from './scenario.ts';
import { type Measured, Scene, type SceneDevice } from './scene.ts';
import type { TrueMoment } from './truth.ts';
import type { VesselState } from './vessel.ts';

export interface ReadingItem {
  kind: 'reading';
  /** The reading's own time, by its device's clock. */
  atMs: number;
  /** When it reaches the broker. */
  sentMs: number;
  /** Null where a person types it in. */
  device: string | null;
  vessel: string;
  channel: Channel;
  /** As reported: °C, 1/min, A, L/min, hPa, ppm, or 0 and 1. */
  value: number;
  /** Counts a channel's readings, from 1; 0 where a person types it in. */
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

export interface RunSettings {
  /** Noise and the ways of the links differ from seed to seed; the story does not. */
  seed: number;
  /** Epoch ms of the scenario's start. */
  startMs: number;
  /** Time between a channel's readings, ms, at least 1: the scenario's own where left out; cues may lengthen it. */
  readingEveryMs?: number;
}

/** Longest physical step that is stable. */
const STEP_MS = 2000;
/** From a look at the thermometer to the key that sends it. Chosen. */
const TYPING_MS = 15_000;

/** When an item reaches the broker, or the operator acts. */
export const dueMs = (item: RunItem): number => (item.kind === 'reading' ? item.sentMs : item.atMs);

/**
 * Plays a scenario: what is published and what the operator does, in the order in which it happens. The
 * same scenario and settings give the same run. `observe` is told what really is, at each physical step.
 * @throws RangeError where a setting is out of range, or a cue names a vessel or device that is not there
 */
export function* run(
  scenario: Scenario,
  settings: RunSettings,
  observe?: (moment: TrueMoment) => void,
): Generator<RunItem, void, undefined> {
  const shortestMs = settings.readingEveryMs ?? scenario.readingEveryMs;
  if (!(shortestMs >= 1)) throw new RangeError('readingEveryMs must be at least 1');
  const scene = new Scene(scenario, settings.seed);
  const underWay = new UnderWay();
  const endMs = scenario.lengthMinutes * 60_000;
  let readingEveryMs = shortestMs;
  let nowMs = 0;
  let nextReadingMs = 0;
  let nextCue = 0;

  for (const device of scene.devices) yield presence(settings.startMs, device.name, 'here');
  while (nowMs <= endMs) {
    const atMs = settings.startMs + nowMs;
    yield* underWay.arrived(atMs);
    observe?.(momentOf(scene, nowMs));
    for (let cue = scenario.cues[nextCue]; cue && cueMs(cue) <= nowMs; cue = scenario.cues[++nextCue]) {
      if (cue.do === 'stage') yield { kind: 'stage', atMs, vessel: cue.vessel, stage: cue.stage };
      else if (cue.do === 'link') yield* switchLink(scene.device(cue.device), cue.up, atMs);
      else if (cue.do === 'type-in') underWay.add(typedIn(scene.vessel(cue.vessel).typeIn(), atMs));
      else if (cue.do === 'reading-every') {
        readingEveryMs = Math.max(shortestMs, cue.ms);
        for (const device of scene.devices) device.link.paceChanges(nowMs);
      } else scene.act(cue);
    }
    if (nextReadingMs <= nowMs) {
      for (const vessel of scene.vessels) {
        if (vessel.device === null) continue;
        const device = scene.device(vessel.device);
        for (const reading of vessel.read(nowMs, scene.surroundings, scene.room.vapourPpm)) {
          if (device.up) yield* send(device, reading, nowMs, atMs, underWay);
          else device.keep(atMs + device.link.clockAheadMs, reading);
        }
      }
      nextReadingMs = nowMs + readingEveryMs;
    }
    const cue = scenario.cues[nextCue];
    const untilMs = Math.min(nextReadingMs, nowMs + STEP_MS, cue ? cueMs(cue) : Number.POSITIVE_INFINITY);
    scene.advance(untilMs - nowMs);
    nowMs = untilMs;
  }
  // What is still under way then, nobody sees.
  yield* underWay.arrived(settings.startMs + endMs);
}

const cueMs = (cue: Cue): number => Math.round(cue.atMinutes * 60_000);

const presence = (atMs: number, device: string, is: 'here' | 'gone'): PresenceItem => ({
  kind: 'presence',
  atMs,
  device,
  presence: is,
});

const typedIn = (reading: Measured, atMs: number): ReadingItem => ({
  kind: 'reading',
  atMs,
  sentMs: atMs + TYPING_MS,
  device: null,
  ...reading,
});

/** A reading goes out; what the link delays is under way until its time. */
function* send(
  device: SceneDevice,
  reading: Measured,
  nowMs: number,
  atMs: number,
  underWay: UnderWay,
): Generator<RunItem> {
  for (const delayMs of device.link.delays(nowMs)) {
    const item: ReadingItem = {
      kind: 'reading',
      atMs: atMs + device.link.clockAheadMs,
      sentMs: atMs + delayMs,
      device: device.name,
      ...reading,
    };
    if (delayMs === 0) yield item;
    else underWay.add(item);
  }
}

/** Readings that have not arrived yet: few at any time. */
class UnderWay {
  #items: ReadingItem[] = [];

  add(item: ReadingItem): void {
    const behind = this.#items.findIndex(({ sentMs }) => sentMs > item.sentMs);
    this.#items.splice(behind === -1 ? this.#items.length : behind, 0, item);
  }

  *arrived(byMs: number): Generator<ReadingItem> {
    while (this.#items.length > 0 && this.#items[0]!.sentMs <= byMs) yield this.#items.shift()!;
  }
}

function* switchLink(device: SceneDevice, up: boolean, atMs: number): Generator<RunItem> {
  device.up = up;
  yield presence(atMs, device.name, up ? 'here' : 'gone');
  if (!up) return;
  for (const kept of device.kept.values()) {
    const { vessel, channel } = kept[0]!.reading;
    const readings = kept.map(({ atMs, reading: { value, seq } }) => ({ atMs, value, seq }));
    yield { kind: 'backlog', atMs, device: device.name, vessel, channel, readings };
  }
  device.kept.clear();
}

function momentOf(scene: Scene, nowMs: number): TrueMoment {
  const vessels: Record<string, VesselState> = {};
  for (const { name, state } of scene.vessels) vessels[name] = state;
  return {
    minutes: nowMs / 60_000,
    ambientC: scene.surroundings.ambientC,
    pressureHPa: scene.surroundings.pressureHPa,
    vapourPpm: scene.room.vapourPpm,
    vessels,
  };
}
