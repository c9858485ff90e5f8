import type { WatchPlan } from '../plan/watch-plan.ts';
import type { AlarmName } from '../rules/names.ts';
import type { AlarmFacts } from '../wire/api.ts';
import type { Priority, Role, Stage } from '../wire/names.ts';
import type { EngineInput, Shelved, StatedPressure } from './events.ts';

/**
 * All that the engine knows of a site: plain JSON, so that it can be stored and gone on from.
 * `step` changes it in place; whoever needs the old one copies it before.
 */
export interface SiteState {
  version: 5;
  /** The arrival clock: the latest arrival that the engine was told, epoch ms. */
  nowMs: number;
  stated: StatedPressure | null;
  /** Newest sound barometer reading, whichever vessel it was sent to. */
  ambient: { atMs: number; hPa: number; stamped: boolean } | null;
  vessels: Record<string, VesselState>;
  batches: Record<string, BatchState>;
  /** No rule of silence is due before this, epoch ms by arrival. */
  nothingDueBeforeMs: number;
  /** Readings that came with a backlog and wait to be judged in the order of their times; ms by arrival. */
  held: { readings: HeldReading[]; quietFromMs: number; untilMs: number } | null;
}

export type HeldReading = Extract<EngineInput, { type: 'reading' }>;

export interface VesselState {
  name: string;
  role: Role;
  batch: string | null;
  plan: WatchPlan | null;
  /** Stated in the batch's plan; goes before the site's. */
  stated: StatedPressure | null;
  stage: Stage;
  stageAtMs: number;
  stageArrivedMs: number;
  previousStage: Stage;
  /** Since when it is in `dose` or `react` without a break. */
  reactingSinceMs: number | null;
  /** When its last batch ended, or went on in another vessel. */
  batchEndedMs: number | null;
  methanolPresent: boolean;
  /** It holds the batch's glycerol, not its fuel: nothing of the batch's credit is earned in it. */
  holdsGlycerol?: boolean;
  channels: Record<string, ChannelState>;
  /** How many of them are probes in the liquid. */
  probes: number;
  mixing: MixingState;
  /** What the heater channel shows, and since when; null until it was seen. */
  heater: { on: boolean; sinceMs: number; sinceArrivedMs: number } | null;
  drive: DriveState;
  /** Methanol in the room, the last quarter of an hour. */
  vapour: VapourSpan[];
  /** Devices that serve this vessel, and since when by arrival they are here or gone. */
  devices: Record<string, { presence: 'here' | 'gone'; sinceMs: number }>;
  /** Channels that more than one device sends to, and which, as far as that is known. */
  senders: Record<string, string[]>;
  /** Readings of the stage under way and of the one before it, for credit. */
  samples: Samples;
  alarms: Partial<Record<AlarmName, StandingAlarm>>;
  /**
   * What a rule has noted for itself; keys that end in `sinceMs` or `SinceMs` are times of readings, those
   * that end in `ArrivedMs` of arrival.
   */
  memory: Partial<Record<AlarmName, RuleMemory>>;
  /** Cleared, and nobody has acknowledged them. */
  unacknowledged: ClearedAlarm[];
  /** How many alarms there have been. */
  alarmCount: number;
  /** Since when silence can be judged: the start of the watching, by arrival. */
  watchedFromMs: number;
  /** Channels whose newest reading failed the named check of soundness. */
  suspect: { jump: string[]; range: string[] };
  /** Hottest sound liquid temperature ever, and the least distance from boiling with methanol in. */
  highestLiquidC: number | null;
  smallestHeadroomC: number | null;
}

export type RuleMemory = Record<string, number>;

export interface ChannelState {
  /** A probe in the vessel's liquid. */
  isLiquid: boolean;
  newestAtMs: number;
  newest: { atMs: number; arrivedMs: number; value: number; sound: boolean; typed: boolean };
  sound: { atMs: number; arrivedMs: number; value: number } | null;
  /** A jump that the next reading may confirm. */
  candidate: { atMs: number; value: number } | null;
  /** The last time between messages, ms by arrival, newest last; at most `GAPS_KEPT`. */
  gapsMs: number[];
  /** What the channel itself keeps between its messages, ms, by these gaps; 0 until there is one. */
  ownIntervalMs: number;
  stamped: boolean;
  seenInBatch: boolean;
  seenInStage: boolean;
  /** Distance from boiling at the sound reading before the newest. */
  previousHeadroomC: number | null;
  headroomC: number | null;
  /** Sound readings of the last minutes: [epoch ms, value]. Temperatures of the liquid only. */
  recent: [number, number][];
  /** One of them every 10 s, for as long as rules look back. */
  past: [number, number][];
  /** The value that has come since, and how often. Temperatures of the liquid only. */
  same: { value: number; sinceMs: number; count: number } | null;
}

export interface MixingState {
  /** First reading of the present run of readings under a tenth of the lowest speed. */
  stoppedSinceMs: number | null;
  /** Mixing was at speed since the mixing stages last began. */
  seenAtSpeed: boolean;
  /** Since when it is at rest in these stages, a run of under 30 s passed over. */
  restSinceMs: number | null;
  /** Since when it moves, without a gap between the readings that show it, and the last of them. */
  movingSinceMs: number | null;
  lastMovingMs: number | null;
}

/** Some of the readings of methanol in the room, one after the other without a gap. */
export interface VapourSpan {
  fromMs: number;
  /** The newest of them, epoch ms and ppm. */
  toMs: number;
  ppm: number;
  /** The time that they show, ms, and their sum over it, ppm·ms. */
  shownMs: number;
  sum: number;
}

/** What the drive draws when the liquid loads it. */
export interface DriveState {
  /** Readings at the present speed, [epoch ms, A], the last 5 min. */
  readings: [number, number][];
  /** The speed that they belong to; 0 without any. */
  speed: number;
  /** Their median, A, once they cover 30 s; kept when it stops. */
  settledA: number | null;
  /** Since when it draws far too little for its speed, and whether a speed reading since then says so. */
  low: { sinceMs: number; atSpeed: boolean } | null;
  /** When it did so for 10 s and more: it turned, and the liquid did not. The last may go on. */
  lost: { fromMs: number; toMs: number | null }[];
}

/**
 * Columns, ascending by time. `hold` is the longest gap to the sample before that still counts as
 * shown, ms: three intervals of the channel, as it kept them when the reading came.
 */
export interface SampleColumns {
  temperature: { t: number[]; c: number[]; below: boolean[]; hold: number[] };
  mixing: { t: number[]; ratio: number[]; hold: number[] };
}

/** Whoever reads the columns calls `mergeLate` before. */
export interface Samples extends SampleColumns {
  /** Those that belong far back, until there are enough of them to be put there in one go; ascending as well. */
  late?: SampleColumns;
}

export interface BatchState {
  id: string;
  pass: PassState;
  /** Time that earlier passes reacted for, weighted as the present one's, ms each. */
  earlierPassesMs: number[];
  /** Vessel of the newest `react`: its plan says what reacts. */
  reactor: string | null;
  settling: SettlingState;
  /** Mixed time of the methoxide, ms, where a channel showed it, since the last dose. */
  methoxide: { mixedMs: number } | null;
}

/** A pass is one dose of methoxide and the reaction after it. */
export interface PassState {
  /** A `dose` or `react` came, and no `settle` since. */
  reacting: boolean;
  /** What spans of `react` earned that are over and whose samples are gone. */
  banked: ReactionTime;
  spans: { vessel: string; fromMs: number; toMs: number | null }[];
  /** What a test of the conversion said of it; absent while there was none. */
  testPassed?: boolean;
}

/** Time in `react`, ms, by what the readings show of it. */
export interface ReactionTime {
  elapsedMs: number;
  /** Mixed, below boiling, without a gap. */
  earnedMs: number;
  /** The same, weighted by how fast the reaction runs against the planned temperature. */
  weightedMs: number;
  notMixedMs: number;
  boilingMs: number;
  noReadingsMs: number;
}

export interface SettlingState {
  /** Credit of earlier spans at rest in the same vessel, ms. */
  bankedMs: number;
  span: {
    vessel: string;
    fromMs: number;
    toMs: number | null;
    /** Runs of speed readings: from, to, whether they moved. */
    runs: { fromMs: number; toMs: number; moving: boolean }[];
  } | null;
  /** The fuel has gone on since: short settling is told once. */
  goneOn: boolean;
}

export interface StandingAlarm {
  number: number;
  priority: Priority;
  late: boolean;
  atMs: number;
  value: number | null;
  limit: number | null;
  facts: AlarmFacts;
  /** A standing alarm that this one follows from: it is kept, and nobody is told of it. */
  explainedBy: AlarmName | null;
  /** Its explanation is over: when it is told, if it stands until then, epoch ms by arrival. */
  speaksFromMs: number | null;
  shelved: Shelved | null;
  acknowledged: { by: string; reason: string | null; atMs: number } | null;
}

export interface ClearedAlarm extends StandingAlarm {
  alarm: AlarmName;
  clearedAtMs: number;
}

/** A vessel by its name, which may be any valid one: `constructor` is no vessel until it is made. */
export const vesselNamed = (site: SiteState, name: string): VesselState | undefined =>
  Object.hasOwn(site.vessels, name) ? site.vessels[name] : undefined;

export const emptySiteState = (): SiteState => ({
  version: 5,
  nowMs: 0,
  stated: null,
  ambient: null,
  vessels: {},
  batches: {},
  nothingDueBeforeMs: 0,
  held: null,
});
