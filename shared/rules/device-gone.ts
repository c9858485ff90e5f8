import type { StandingAlarm, VesselState } from '../engine/state.ts';
import type { Priority } from '../wire/names.ts';
import { isRestingCool } from './resting.ts';
import { clear, type Rule } from './rule.ts';

/** A link may break and come back within so long, ms. */
const AFTER_MS = 10_000;
const SEPARATOR = ' and ';

export const deviceGone: Rule = {
  alarm: 'device-gone',
  wakes: ['device', 'stage', 'heater', 'liquid', 'silence'],

  judge({ vessel, wake, atMs, arrivedMs }) {
    const standing = vessel.alarms['device-gone'];
    // By the clock alone, so that it carries the deadline as its time.
    if (standing === undefined && wake !== 'silence') return null;
    const nowMs = wake === 'silence' ? atMs : arrivedMs;
    const isNamed = namedBy(standing);
    const gone = goneDevices(vessel)
      .filter(([device, sinceMs]) => isNamed(device) || sinceMs + AFTER_MS <= nowMs)
      .map(([device]) => device);
    if (gone.length === 0) return clear;
    const devices = gone.join(SEPARATOR);
    return {
      holds: true,
      priority: gravity(vessel),
      value: null,
      limit: AFTER_MS / 1000,
      facts: { devices, methanol: vessel.methanolPresent, advice: devices },
    };
  },

  deadlineMs(vessel) {
    const standing = vessel.alarms['device-gone'];
    const isNamed = namedBy(standing);
    const due = goneDevices(vessel)
      .filter(([device]) => !isNamed(device))
      .map(([, sinceMs]) => sinceMs + AFTER_MS);
    return due.length === 0 ? null : Math.min(...due);
  },

  describe({ devices, methanol }, _unit) {
    const names = String(devices);
    const what = names.includes(SEPARATOR) ? `The devices ${names} have` : `The device ${names} has`;
    return {
      because: `${what.replace('  ', ' ')} lost the link: nobody sees what is measured there.`,
      todo: methanol
        ? 'Look at the vessel. Heat off if nobody stays with it. Then look at the device’s power and network.'
        : 'Look at the device’s power and network.',
    };
  },
};

const goneDevices = (vessel: VesselState): [device: string, sinceMs: number][] =>
  Object.entries(vessel.devices).flatMap(([device, { presence, sinceMs }]) =>
    presence === 'gone' ? [[device, sinceMs]] : [],
  );

function namedBy(standing: StandingAlarm | undefined): (device: string) => boolean {
  const names = new Set(standing === undefined ? [] : String(standing.facts.devices).split(SEPARATOR));
  return (device) => names.has(device);
}

/** Whether a device that the standing alarm names went no earlier than this, by arrival: it explains a silence since. */
export function wentSince(vessel: VesselState, heardMs: number): boolean {
  const isNamed = namedBy(vessel.alarms['device-gone']);
  return goneDevices(vessel).some(([device, sinceMs]) => sinceMs >= heardMs && isNamed(device));
}

function gravity(vessel: VesselState): Priority {
  if (isRestingCool(vessel)) return 'low';
  return vessel.methanolPresent ? 'high' : 'low';
}
