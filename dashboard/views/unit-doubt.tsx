import { helpLink } from '../route.ts';
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
