import { AHEAD_MS } from '../wire/payload.ts';
import { liquidChannels, mixingChannel } from './channels.ts';
import { mergeLate } from './reaction-time.ts';
import type { ChannelState, SiteState, VesselState } from './state.ts';

/**
 * The wall clock was set: what the daemon stamped itself moves along, as if it had been right before.
 * What devices stamped stays, unless it would lie further ahead of the clock now than any reading may: then
 * the device's clock goes back as well, or it would be judged no more until it has caught up.
 */
export function shiftArrivalClock(state: SiteState, byMs: number): void {
  state.nowMs += byMs;
  if (state.ambient !== null && (state.ambient.stamped || state.ambient.atMs > state.nowMs + AHEAD_MS))
    state.ambient.atMs += byMs;
  for (const vessel of Object.values(state.vessels)) {
    const channels = Object.entries(vessel.channels);
    const along = channels.filter(
      ([, { stamped, newestAtMs }]) => stamped || newestAtMs > state.nowMs + AHEAD_MS,
    );
    shiftVessel(vessel, new Set(along.map(([name]) => name)), byMs);
  }
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

/** `along`: the channels whose times go along with the clock. */
function shiftVessel(vessel: VesselState, along: ReadonlySet<string>, byMs: number): void {
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
  for (const [name, channel] of Object.entries(vessel.channels)) shiftChannel(channel, along.has(name), byMs);
  const { heater, drive, mixing } = vessel;
  if (heater !== null) {
    heater.sinceArrivedMs += byMs;
    if (along.has('heater')) heater.sinceMs += byMs;
  }
  mergeLate(vessel.samples);
  if (liquidChannels(vessel).some(([name]) => along.has(name))) {
    vessel.samples.temperature.t = vessel.samples.temperature.t.map((t) => t + byMs);
  }
  if (along.has('room-vapour')) {
    for (const span of vessel.vapour) {
      span.fromMs += byMs;
      span.toMs += byMs;
    }
  }
  const mixes = mixingChannel(vessel);
  if (mixes !== undefined && along.has(mixes)) {
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
  const ruleTimes = along.size > 0 ? /(since|arrived)Ms$/i : /arrivedMs$/i;
  for (const memory of Object.values(vessel.memory)) shiftTimes(memory, byMs, ruleTimes);
}

/** Moves the times of an object: its numbers whose keys are of this pattern. */
function shiftTimes(object: object, byMs: number, keys: RegExp): void {
  const fields = object as Record<string, unknown>;
  for (const key in fields) {
    if (!keys.test(key) || typeof fields[key] !== 'number') continue;
    fields[key] = (fields[key] as number) + byMs;
  }
}

function shiftChannel(channel: ChannelState, goesAlong: boolean, byMs: number): void {
  channel.newest.arrivedMs += byMs;
  if (channel.sound !== null) channel.sound.arrivedMs += byMs;
  if (!goesAlong) return;
  channel.newestAtMs += byMs;
  channel.newest.atMs += byMs;
  if (channel.same !== null) channel.same.sinceMs += byMs;
  if (channel.sound !== null) channel.sound.atMs += byMs;
  if (channel.candidate !== null) channel.candidate.atMs += byMs;
  channel.recent = channel.recent.map(([t, value]) => [t + byMs, value]);
  channel.past = channel.past.map(([t, value]) => [t + byMs, value]);
}
