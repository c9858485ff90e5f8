import { holdsLastPressure, VESSEL_PRESSURE_MAX_AGE_MS } from '../engine/boiling.ts';
import { heatAskedFor, liquidChannels, mixingChannel, silenceMs } from '../engine/channels.ts';
import type { VesselState } from '../engine/state.ts';
import { isGraver, MIXING_STAGES, type Priority, type Stage } from '../wire/names.ts';
import { describeTime } from './describe-time.ts';
import { wentSince } from './device-gone.ts';
import { isRestingCool } from './resting.ts';
import { clear, type Rule } from './rule.ts';

/** Without it, under vacuum, nobody knows where methanol boils. */
const VACUUM_CHANNEL = 'vessel-pressure';
/** From these on a vessel may well be without its probe. */
const PROBE_MAY_BE_OUT: readonly Stage[] = [
  'settle',
  'drain',
  'recover',
  'wash',
  'dry-fuel',
  'filter',
  'test',
];

export const readingLate: Rule = {
  alarm: 'reading-late',
  wakes: ['liquid', 'mixing', 'heater', 'pressure', 'stage', 'silence'],
  explainedBy: ['device-gone', 'probe-out-of-range', 'probe-jump'],

  followsFrom(vessel, { channel }, cause) {
    const isTemperature = channel === 'liquid-temperature';
    const silent = isTemperature
      ? liquidChannels(vessel).map(([, probe]) => probe)
      : [vessel.channels[String(channel)]!];
    if (cause === 'device-gone') {
      return wentSince(vessel, Math.max(0, ...silent.map(({ newest }) => newest.arrivedMs)));
    }
    return isTemperature && silent.every(({ newest }) => !newest.sound);
  },

  judge(sight) {
    const { vessel, wake, arrivedMs } = sight;
    // Silence is judged by the clock alone, so that what raises it carries the deadline as its time.
    if (wake !== 'silence' && vessel.alarms['reading-late'] === undefined) return null;
    const now = wake === 'silence' ? sight.atMs : arrivedMs;
    const silent = silences(vessel).filter(({ deadlineMs }) => deadlineMs <= now);
    if (silent.length === 0) return clear;
    const { channel, deadlineMs, sinceMs } = silent[0]!;
    return {
      holds: true,
      priority: gravestOf(silent.map((silence) => lateness(vessel, silence.channel))),
      value: (deadlineMs - sinceMs) / 1000,
      limit: (deadlineMs - sinceMs) / 1000,
      facts: {
        channel,
        seconds: (deadlineMs - sinceMs) / 1000,
        methanol: vessel.methanolPresent,
        advice: channel,
      },
    };
  },

  deadlineMs(vessel) {
    const standing = vessel.alarms['reading-late'];
    let earliestMs: number | null = null;
    for (const { channel, deadlineMs } of silences(vessel)) {
      // While the alarm stands, another channel's silence matters only where it is graver.
      if (standing !== undefined && !isGraver(lateness(vessel, channel), standing.priority)) continue;
      if (earliestMs === null || deadlineMs < earliestMs) earliestMs = deadlineMs;
    }
    return earliestMs;
  },

  describe(facts, _unit) {
    const what = describeChannel(String(facts.channel));
    const look =
      what === 'mixing'
        ? 'Look whether it turns, and at the device and its link.'
        : 'Look at the vessel, and at the probe, its device and its link.';
    return {
      because: `For ${describeTime(Number(facts.seconds))} no ${what} reading came that can be trusted.`,
      todo: facts.methanol
        ? `${look} Until readings come again, nobody is warned of boiling: heat off if nobody is there.`
        : look,
    };
  },
};

const describeChannel = (channel: string): string =>
  channel === 'liquid-temperature' ? 'temperature' : channel === VACUUM_CHANNEL ? 'pressure' : 'mixing';

interface Silence {
  channel: string;
  sinceMs: number;
  deadlineMs: number;
}

/** The channels whose silence counts in the present stage, each with when it becomes an alarm. */
function silences(vessel: VesselState): Silence[] {
  if (vessel.batch === null || vessel.stage === 'idle') return [];
  const found: Silence[] = [];
  const earliestMs = Math.max(vessel.stageArrivedMs, vessel.watchedFromMs);
  const standingFor = vessel.alarms['reading-late']?.facts.channel;
  const expect = (channel: string, heardMs: number, allowedMs: number) => {
    // A silence that stands goes on through the start of a stage or of the watching.
    const sinceMs = channel === standingFor ? heardMs : Math.max(heardMs, earliestMs);
    found.push({ channel, sinceMs, deadlineMs: sinceMs + allowedMs });
  };

  const probes = liquidChannels(vessel);
  const known = probes.filter(([, probe]) => probe.sound !== null);
  const measured = known.filter(([, probe]) => !probe.newest.typed);
  // What a person types in besides is no word of a probe; where all is typed, nobody is expected to.
  const heard = measured.length > 0 ? measured : known;
  const newest = heard.reduce(
    (latest, [, probe]) => (probe.sound!.arrivedMs > (latest?.sound?.arrivedMs ?? -1) ? probe : latest),
    undefined as (typeof heard)[number][1] | undefined,
  );
  const wanted =
    vessel.stage === 'methoxide'
      ? heard.some(([, probe]) => probe.seenInBatch)
      : PROBE_MAY_BE_OUT.includes(vessel.stage)
        ? heard.some(([, probe]) => probe.seenInStage)
        : true;
  if (wanted && newest?.newest.typed !== true) {
    expect('liquid-temperature', newest?.sound?.arrivedMs ?? 0, silenceMs(vessel, newest));
  }

  const mixing = mixingChannel(vessel);
  if (mixing !== undefined && MIXING_STAGES.includes(vessel.stage)) {
    const channel = vessel.channels[mixing]!;
    if (channel.seenInBatch && !channel.newest.typed) {
      expect(mixing, channel.sound!.arrivedMs, silenceMs(vessel, channel));
    }
  }

  const vacuum = vessel.channels[VACUUM_CHANNEL];
  if (vacuum !== undefined && holdsLastPressure(vessel)) {
    const seen = PROBE_MAY_BE_OUT.includes(vessel.stage) ? vacuum.seenInStage : vacuum.seenInBatch;
    if (seen && !vacuum.newest.typed) {
      const allowedMs = Math.max(VESSEL_PRESSURE_MAX_AGE_MS, silenceMs(vessel, vacuum));
      expect(VACUUM_CHANNEL, vacuum.sound!.arrivedMs, allowedMs);
    }
  }
  return found;
}

function lateness(vessel: VesselState, channel: string): Priority {
  if (channel === VACUUM_CHANNEL) return 'high';
  if (isRestingCool(vessel)) return 'low';
  if (!vessel.methanolPresent) return 'medium';
  return heatAskedFor(vessel) ? 'critical' : 'high';
}

const gravestOf = (priorities: readonly Priority[]): Priority =>
  priorities.reduce((gravest, priority) => (isGraver(priority, gravest) ? priority : gravest));
