import { effect, type Signal, signal } from '@preact/signals';
import type { TemperatureUnit } from '../shared/units/temperature.ts';
import type { HeightUnit, HourCycle, VolumeUnit } from './units.ts';

/** What the reader chose, kept in this browser. */

export function kept<T extends string>(key: string, fallback: T, allowed?: readonly T[]): Signal<T> {
  let start = fallback;
  try {
    const found = localStorage.getItem(key) as T | null;
    if (found !== null && (allowed === undefined || allowed.includes(found))) start = found;
  } catch {
    // Storage can be forbidden; the choice then lasts as long as the page.
  }
  const choice = signal<T>(start);
  effect(() => {
    const value = choice.value;
    try {
      localStorage.setItem(key, value);
    } catch {}
  });
  return choice;
}

export const unit = kept<TemperatureUnit>('esterwatch.unit', 'C', ['C', 'F']);
export const hourCycle = kept<HourCycle>('esterwatch.clock', '24', ['24', '12']);
export const volumeUnit = kept<VolumeUnit>('esterwatch.volume', 'L', ['L', 'gal']);
export const heightUnit = kept<HeightUnit>('esterwatch.height', 'm', ['m', 'ft']);
/** What is heavy and sinks: the trade says glycerol or glycerine. */
export const glycerolWord = kept<'glycerol' | 'glycerine'>('esterwatch.glycerol', 'glycerol', [
  'glycerol',
  'glycerine',
]);
export const theme = kept<'system' | 'light' | 'dark'>('esterwatch.theme', 'system', [
  'system',
  'light',
  'dark',
]);
/** Whether alarms are heard as well as seen. */
export const soundOn = kept<'off' | 'on'>('esterwatch.sound', 'off', ['off', 'on']);
/** Whether the reader is being led through a first start. */
export const firstStart = kept<'no' | 'under-way'>('esterwatch.first-start', 'no', ['no', 'under-way']);
export const personName = kept<string>('esterwatch.name', '');
