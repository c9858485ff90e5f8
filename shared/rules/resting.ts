import { heatAskedFor, liquidChannels } from '../engine/channels.ts';
import type { VesselState } from '../engine/state.ts';
import type { Stage } from '../wire/names.ts';

/** Stages in which, once it is cool, nothing grave can come of a missing reading. */
const RESTING_STAGES: readonly Stage[] = ['settle', 'drain'];
/** So far below boiling a resting vessel counts as cool, °C. */
const COOL_HEADROOM_C = 20;

/** A vessel at rest, not heated, and far below boiling when it was last heard of. */
export function isRestingCool(vessel: VesselState): boolean {
  if (!RESTING_STAGES.includes(vessel.stage) || heatAskedFor(vessel)) return false;
  const last = lastHeadroomC(vessel);
  return last !== null && last > COOL_HEADROOM_C;
}

function lastHeadroomC(vessel: VesselState): number | null {
  const known = liquidChannels(vessel).flatMap(([, probe]) => probe.headroomC ?? []);
  return known.length === 0 ? null : Math.min(...known);
}
