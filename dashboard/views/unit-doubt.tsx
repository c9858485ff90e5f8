import type { Vessel } from '../../shared/wire/api.ts';
import { helpLink } from '../route.ts';
import { doubtedReading } from '../sent-doubt.ts';
import { SENT_DOUBT } from '../texts/sent-doubt.ts';
import { amount, degrees } from './words.ts';

/** Asks whether a temperature was sent in °F and taken for °C. */
export function UnitDoubt({ value, celsius }: { value: number; celsius: number }) {
  return (
    <p class="unit-doubt">
      <b>{SENT_DOUBT.title}</b> {SENT_DOUBT.help(degrees(value), amount(value), degrees(celsius))}{' '}
      <a {...helpLink('troubleshooting', 'f-sent-as-c')}>{SENT_DOUBT.more}</a>
    </p>
  );
}

/** The same of what a vessel's sensors sent, where that is worth asking. */
export function VesselUnitDoubt({ vessel }: { vessel: Vessel }) {
  const doubted = doubtedReading(vessel);
  return doubted === null ? null : <UnitDoubt {...doubted} />;
}
