import { intervalMs } from '../engine/channels.ts';
import { POWER_UP_C } from '../engine/soundness.ts';
import type { RuleMemory, VesselState } from '../engine/state.ts';
import { formatTemperature } from '../units/temperature.ts';
import { channelKind, isLiquidTemperature } from '../wire/names.ts';
import { clear, type Rule, type Sight, type Verdict } from './rule.ts';

/** So many jumps between the same two readings are no loose plug, which goes anywhere. Ours, no source. */
const HOPS = 4;
/** Each within so long of the one before, ms by arrival, or so many intervals of the channel where it is slow. */
const HOP_WITHIN_MS = 120_000;
const HOP_WITHIN_INTERVALS = 5;
/** What each of the two may have changed by from one hop to the next, °C. */
const SAME_C = 3;
const SEPARATOR = ' and ';

/**
 * Two devices send to one channel. Who sends is known where the broker is the daemon's own; elsewhere the readings
 * of a temperature say so by hopping between two values. One alarm stands all the while, in place of a `probe-jump`
 * at every hop.
 */
export const twoDevices: Rule = {
  alarm: 'two-devices',
  wakes: ['temperature', 'senders', 'stage', 'silence'],

  judge(sight) {
    const { vessel, memory, wake, channel } = sight;
    if (wake === 'temperature' && channel !== null) noteHop(sight, channel);
    const nowMs = wake === 'silence' ? sight.atMs : sight.arrivedMs;
    for (const name of hopping(memory)) if (nowMs >= endOfHopping(vessel, memory, name)) forget(memory, name);
    const shared = [...new Set([...Object.keys(vessel.senders), ...hopping(memory)])].sort();
    if (shared.length === 0) return vessel.alarms['two-devices'] === undefined ? null : clear;
    return verdict(vessel, memory, shared);
  },

  deadlineMs(vessel) {
    const memory = vessel.memory['two-devices'];
    if (vessel.alarms['two-devices'] === undefined || memory === undefined) return null;
    const ends = hopping(memory).map((name) => endOfHopping(vessel, memory, name));
    return ends.length === 0 ? null : Math.min(...ends);
  },

  describe(facts, unit) {
    const { channel, senders, lowC, highC, methanol } = facts;
    const between =
      lowC == null || highC == null
        ? null
        : `about ${formatTemperature(Number(lowC), unit)} and about ${formatTemperature(Number(highC), unit)}`;
    const because =
      senders == null
        ? `The readings of ${channel} hop to and fro between ${between}: two devices seem to send to it.`
        : `More than one device sends to ${channel}: ${senders}.${between === null ? '' : ` The readings hop between ${between}.`}`;
    const channels = String(channel).split(SEPARATOR);
    // A second stirrer is no second probe, and neither of two speeds is the safe one to go by.
    const another = channels.some(isLiquidTemperature)
      ? ' (a second probe of this vessel: liquid-temperature-2)'
      : '';
    const until = channels.every((name) => channelKind(name) === 'temperature')
      ? 'Until then go by the warmer reading, or measure another way.'
      : 'Until then measure another way.';
    const todo = `Give one of them another channel in its topic${another}, or its own vessel; or switch it off.`;
    return { because, todo: methanol ? `${until} ${todo}` : todo };
  },
};

/** Whether the alarm stands for this channel: it says enough of what its readings do. */
export const isShared = ({ alarms: { 'two-devices': standing } }: VesselState, channel: string): boolean =>
  standing !== undefined && String(standing.facts.channel).split(SEPARATOR).includes(channel);

function verdict(vessel: VesselState, memory: RuleMemory, shared: readonly string[]): Verdict {
  const channel = shared.join(SEPARATOR);
  const senders = [...new Set(shared.flatMap((name) => vessel.senders[name] ?? []))].join(SEPARATOR);
  const [first] = hopping(memory);
  return {
    holds: true,
    priority: vessel.methanolPresent ? 'high' : 'medium',
    value: null,
    limit: null,
    facts: {
      channel,
      senders: senders || null,
      lowC: first === undefined ? null : memory[`${first} lowC`]!,
      highC: first === undefined ? null : memory[`${first} highC`]!,
      methanol: vessel.methanolPresent,
      // What else is found out while it stands is told with it: who they are, a second channel.
      advice: `${channel}: ${senders}`,
    },
  };
}

// ---- hops ----

/** Notes a reading that went where no liquid goes, if it went between the two that the channel hops between. */
function noteHop({ vessel, memory, arrivedMs }: Sight, channel: string): void {
  if (!vessel.suspect.jump.includes(channel)) return;
  const { newest, sound } = vessel.channels[channel]!;
  // A probe that loses its power again and again says that each time.
  if (sound === null || newest.value === POWER_UP_C || newest.typed) return;
  const lowC = Math.min(sound.value, newest.value);
  const highC = Math.max(sound.value, newest.value);
  const count = memory[`${channel} hops`];
  const isSame =
    count !== undefined &&
    Math.abs(lowC - memory[`${channel} lowC`]!) <= SAME_C &&
    Math.abs(highC - memory[`${channel} highC`]!) <= SAME_C &&
    arrivedMs < endOfHopping(vessel, memory, channel);
  // One that goes elsewhere ends no hopping that was seen: that ends by itself.
  if (!isSame && (count ?? 0) >= HOPS) return;
  memory[`${channel} hops`] = isSame ? count + 1 : 1;
  memory[`${channel} lowC`] = lowC;
  memory[`${channel} highC`] = highC;
  memory[`${channel} hopArrivedMs`] = arrivedMs;
}

/** Channels that hop, by what was noted. */
const hopping = (memory: RuleMemory): string[] =>
  Object.keys(memory)
    .filter((key) => key.endsWith(' hops') && memory[key]! >= HOPS)
    .map((key) => key.slice(0, -' hops'.length));

const endOfHopping = (vessel: VesselState, memory: RuleMemory, channel: string): number =>
  memory[`${channel} hopArrivedMs`]! +
  Math.max(HOP_WITHIN_MS, HOP_WITHIN_INTERVALS * intervalMs(vessel, vessel.channels[channel]));

function forget(memory: RuleMemory, channel: string): void {
  for (const what of ['hops', 'lowC', 'highC', 'hopArrivedMs']) delete memory[`${channel} ${what}`];
}
