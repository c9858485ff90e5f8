import { liquidChannels, mixingChannel } from './channels.ts';
import type { ChannelState, SiteState, VesselState } from './state.ts';

/**
 * The wall clock was set: what the daemon stamped itself moves along, as if it had been right before.
 * What devices stamped stays.
 */
export function shiftArrivalClock(state: SiteState, byMs: number): void {
  state.nowMs += byMs;
  if (state.ambient?.stamped) state.ambient.atMs += byMs;
  for (const vessel of Object.values(state.vessels)) shiftVessel(vessel, byMs);
  for (const batch of Object.values(state.batches)) {
    for (const span of batch.pass.spans) {
      span.fromMs += byMs;
      if (span.toMs !== null) span.toMs += byMs;
    }
    const settling = batch.settling.span;
    if (settling === null) continue;
    settling.fromMs += byMs;
    if (settling.toMs !== null) settling.toMs += byMs;
    for (const run of settling.runs) {
      run.fromMs += byMs;
      run.toMs += byMs;
    }
  }
}

function shiftVessel(vessel: VesselState, byMs: number): void {
  vessel.stageAtMs += byMs;
  vessel.stageArrivedMs += byMs;
  vessel.watchedFromMs += byMs;
  if (vessel.reactingSinceMs !== null) vessel.reactingSinceMs += byMs;
  if (vessel.batchEndedMs !== null) vessel.batchEndedMs += byMs;
  for (const device of Object.values(vessel.devices)) device.sinceMs += byMs;
  for (const alarm of Object.values(vessel.alarms)) {
    if (alarm.shelved !== null) {
      alarm.shelved.sinceMs += byMs;
      alarm.shelved.untilMs += byMs;
    }
    if (alarm.speaksFromMs !== null) alarm.speaksFromMs += byMs;
  }
  for (const channel of Object.values(vessel.channels)) shiftChannel(channel, byMs);
  const { heater, drive, mixing } = vessel;
  if (heater !== null) {
    heater.sinceArrivedMs += byMs;
    if (isStamped(vessel, 'heater')) heater.sinceMs += byMs;
  }
  if (liquidChannels(vessel).some(([, { stamped }]) => stamped)) {
    vessel.samples.temperature.t = vessel.samples.temperature.t.map((t) => t + byMs);
  }
  if (isStamped(vessel, 'room-vapour')) {
    for (const span of vessel.vapour) {
      span.fromMs += byMs;
      span.toMs += byMs;
    }
  }
  const mixes = mixingChannel(vessel);
  if (mixes !== undefined && isStamped(vessel, mixes)) {
    vessel.samples.mixing.t = vessel.samples.mixing.t.map((t) => t + byMs);
    shiftTimes(mixing, byMs, /(since|lastAtSpeed|lastMoving)Ms$/i);
    drive.readings = drive.readings.map(([t, amperes]) => [t + byMs, amperes]);
    if (drive.low !== null) drive.low.sinceMs += byMs;
    for (const lost of drive.lost) {
      lost.fromMs += byMs;
      if (lost.toMs !== null) lost.toMs += byMs;
    }
  }
  // A rule's own times are those of the readings it goes by, if their keys do not say that they are of
  // arrival; a vessel's devices stamp all or none.
  const ruleTimes = Object.values(vessel.channels).some(({ stamped }) => stamped)
    ? /(since|arrived)Ms$/i
    : /arrivedMs$/i;
  for (const memory of Object.values(vessel.memory)) shiftTimes(memory, byMs, ruleTimes);
}

const isStamped = (vessel: VesselState, channel: string): boolean =>
  vessel.channels[channel]?.stamped === true;

/** Moves the times of an object: its numbers whose keys are of this pattern. */
function shiftTimes(object: object, byMs: number, keys: RegExp): void {
  const fields = object as Record<string, unknown>;
  for (const key in fields) {
    if (!keys.test(key) || typeof fields[key] !== 'number') continue;
    fields[key] = (fields[key] as number) + byMs;
  }
}

function shiftChannel(channel: ChannelState, byMs: number): void {
  channel.newest.arrivedMs += byMs;
  if (channel.sound !== null) channel.sound.arrivedMs += byMs;
  if (!channel.stamped) return;
  channel.newestAtMs += byMs;
  channel.newest.atMs += byMs;
  if (channel.same !== null) channel.same.sinceMs += byMs;
  if (channel.sound !== null) channel.sound.atMs += byMs;
  if (channel.candidate !== null) channel.candidate.atMs += byMs;
  channel.recent = channel.recent.map(([t, value]) => [t + byMs, value]);
  channel.past = channel.past.map(([t, value]) => [t + byMs, value]);
}
