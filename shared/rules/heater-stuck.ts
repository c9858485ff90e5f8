import { formatTemperature, formatTemperatureDifference } from '../units/temperature.ts';
import { clear, heldMs, off, type Rule } from './rule.ts';

/** An element goes on giving off its own heat for a while, ms. */
const OFF_FOR_MS = 5 * 60_000;
const RISING_C_PER_MIN = 0.5;
const RISING_FOR_MS = 3 * 60_000;
const OVER_C_PER_MIN = 0.2;

export const heaterStuck: Rule = {
  alarm: 'heater-stuck',
  wakes: ['liquid'],
  stages: ['warm', 'dry-oil', 'settle'],

  judge(sight) {
    const { vessel, atMs, liquidC, memory } = sight;
    if (liquidC === null) return null;
    const isOff = vessel.heater?.on === false;
    if (!isOff && vessel.alarms['heater-stuck'] === undefined) return off;
    const trend = sight.trendCPerMin;
    const risingMs = heldMs(memory, isOff && trend !== null && trend >= RISING_C_PER_MIN, atMs);
    if (trend !== null && trend < OVER_C_PER_MIN) return clear;
    if (!isOff || atMs - vessel.heater!.sinceMs < OFF_FOR_MS || risingMs < RISING_FOR_MS) return null;
    return {
      holds: true,
      priority: 'high',
      value: trend,
      limit: RISING_C_PER_MIN,
      facts: { trendCPerMin: trend, liquidC },
    };
  },

  describe(facts, unit) {
    const rate = formatTemperatureDifference(Number(facts.trendCPerMin), unit);
    return {
      because: `No heat is asked for, and the liquid rises by ${rate} a minute, at ${formatTemperature(Number(facts.liquidC), unit)}: the heater may be stuck on.`,
      todo: 'Cut the heater’s power at the plug or the breaker.',
    };
  },
};
