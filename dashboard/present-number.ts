import type { Alarm, Vessel } from '../shared/wire/api.ts';
import { liquidReading } from './vessels.ts';

/** How the number that an alarm was raised for stands at present, where the vessel's view has it; pure. */

export interface Present {
  kind: 'headroom' | 'at' | 'rate' | 'mixing' | 'ppm';
  value: number;
  /** Whose reading it is, where that is one. */
  channel: string;
}

/** A reading that is older says nothing of now, ms. */
const FRESH_MS = 60_000;

export function presentNumber(
  { alarm }: Pick<Alarm, 'alarm'>,
  vessel: Vessel,
  nowMs: number,
): Present | undefined {
  const as = (kind: Present['kind'], value: number | null | undefined, channel = ''): Present | undefined =>
    value == null ? undefined : { kind, value, channel };
  const fresh = (channel: string): number | undefined => {
    const reading = vessel.readings[channel];
    return reading?.sound && nowMs - Date.parse(reading.at) <= FRESH_MS ? reading.value : undefined;
  };
  const liquid = liquidReading(vessel);
  const ofLiquid = (kind: Present['kind'], value: number | null): Present | undefined =>
    liquid !== undefined && nowMs - liquid.at <= FRESH_MS ? as(kind, value) : undefined;
  switch (alarm) {
    case 'boiling-reached':
    case 'boiling-near':
    case 'boiling-ahead':
    case 'too-hot-to-dose':
    case 'methoxide-hot':
    case 'restart-hot':
      return ofLiquid('headroom', vessel.headroomC);
    case 'oil-overheated':
    case 'recover-overheated':
    case 'reaction-cold':
    case 'heat-not-seen':
      return ofLiquid('at', vessel.liquidC);
    case 'rising-fast':
    case 'heater-stuck':
      return ofLiquid('rate', vessel.risingCPerMin);
    case 'mixing-slow':
    case 'mixing-stopped':
      return vessel.mixing === null || vessel.mixing.channel === 'pump'
        ? undefined
        : as('mixing', fresh(vessel.mixing.channel), vessel.mixing.channel);
    case 'condenser-warm':
      return as('at', fresh('condensate-temperature'));
    case 'vapour-high':
      return as('ppm', fresh('room-vapour'));
    default:
      return undefined;
  }
}
