import { expect, test } from 'vitest';
import { doubtedReading, ifFahrenheitC } from '../../dashboard/sent-doubt.ts';
import { SENT_DOUBT } from '../../dashboard/texts/sent-doubt.ts';

const sent = (value: number) => ({ value, typed: false, at: '', ageMs: 0, sound: true });

test('a number that is a room’s in °F is doubted, of the liquid and from a device alone', () => {
  const doubted = (value: number) => ifFahrenheitC('liquid-temperature', sent(value));
  expect(doubted(68)).toBeCloseTo(20, 10);
  expect([41, 95].map(doubted).every((celsius) => celsius !== null)).toBe(true);
  expect([40.9, 95.1, 20, 131, -127].map(doubted)).toEqual([null, null, null, null, null]);
  expect(ifFahrenheitC('liquid-temperature-2', sent(68))).not.toBeNull();
  expect(ifFahrenheitC('stirrer-speed', sent(68))).toBeNull();
  expect(ifFahrenheitC('liquid-temperature', { ...sent(68), typed: true })).toBeNull();
});

test('a vessel is asked about unasked only while it has been in no batch', () => {
  const readings = { 'stirrer-speed': sent(68), 'liquid-temperature-2': sent(70) };
  expect(doubtedReading({ untried: true, readings })).toMatchObject({ value: 70 });
  expect(doubtedReading({ untried: false, readings })).toBeNull();
  expect(doubtedReading({ untried: true, readings: { 'liquid-temperature': sent(21) } })).toBeNull();
});

test('the question has the number as it was sent, and how to send it', () => {
  const text = SENT_DOUBT.help('154.4 °F', '68', '68.0 °F');
  expect(text).toContain('154.4 °F');
  expect(text).toContain('{"value":68,"unit":"degF"}');
});
