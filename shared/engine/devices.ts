import type { EngineInput, EngineOutput } from './events.ts';
import { judge } from './judging.ts';
import { type SiteState, type VesselState, vesselNamed } from './state.ts';

/** A device came or went. */
export function takeDevice(
  state: SiteState,
  input: Extract<EngineInput, { type: 'device' }>,
  out: EngineOutput[],
): void {
  const { device, presence, arrivedMs } = input;
  for (const vessel of servedBy(state, input)) {
    if (vessel.devices[device]?.presence === presence) continue;
    vessel.devices[device] = { presence, sinceMs: arrivedMs };
    judge(state, vessel, ['device'], { atMs: arrivedMs, arrivedMs }, out);
  }
}

/** Who sends to a channel, where that is more than one. */
export function takeSenders(
  state: SiteState,
  { vessel: name, channel, senders, arrivedMs }: Extract<EngineInput, { type: 'senders' }>,
  out: EngineOutput[],
): void {
  const vessel = vesselNamed(state, name);
  if (vessel === undefined) return;
  if (senders.length > 1) vessel.senders[channel] = senders;
  else delete vessel.senders[channel];
  judge(state, vessel, ['senders'], { atMs: arrivedMs, arrivedMs }, out);
}

function servedBy(
  state: SiteState,
  { vessel, device }: Extract<EngineInput, { type: 'device' }>,
): VesselState[] {
  if (vessel !== null) return [vesselNamed(state, vessel)].filter((one) => one !== undefined);
  const named = vesselOfDevice(device, Object.keys(state.vessels));
  if (named !== undefined) return [state.vessels[named]!];
  // Else every vessel of the site that is in a batch.
  return Object.values(state.vessels).filter(
    (one) => one.batch !== null || Object.hasOwn(one.devices, device),
  );
}

/** The vessel that a device is named after (`r1` of `r1` and of `r1-probe`), if there is one. */
export function vesselOfDevice(device: string, vessels: readonly string[]): string | undefined {
  const named = vessels.filter((name) => device === name || device.startsWith(`${name}-`));
  return named.toSorted((a, b) => b.length - a.length)[0];
}
