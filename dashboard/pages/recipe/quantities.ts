import type { TemperatureUnit } from '../../../shared/units/temperature.ts';
import {
  decimal,
  degree,
  differenceToUnit,
  feetToMetres,
  formatHeight,
  fromUnit,
  type HeightUnit,
  metresToFeet,
  toUnit,
  type VolumeUnit,
  volumeFromUnit,
  volumeToUnit,
} from '../../units.ts';

/** What a person types, and reads, in units of their choice: everything is computed in °C, L, m, kg and g. */

export interface Units {
  temperature: TemperatureUnit;
  volume: VolumeUnit;
  height: HeightUnit;
}

export const SI: Units = { temperature: 'C', volume: 'L', height: 'm' };

/** `apart` is a difference of temperatures. */
export type Quantity = 'temperature' | 'apart' | 'volume' | 'height' | 'plain';

export function toSI(quantity: Quantity, value: number, units: Units): number {
  switch (quantity) {
    case 'temperature':
      return fromUnit(value, units.temperature);
    case 'apart':
      return units.temperature === 'C' ? value : value / 1.8;
    case 'volume':
      return volumeFromUnit(value, units.volume);
    case 'height':
      return units.height === 'm' ? value : feetToMetres(value);
    case 'plain':
      return value;
  }
}

export function fromSI(quantity: Quantity, value: number, units: Units): number {
  switch (quantity) {
    case 'temperature':
      return toUnit(value, units.temperature);
    case 'apart':
      return differenceToUnit(value, units.temperature);
    case 'volume':
      return volumeToUnit(value, units.volume);
    case 'height':
      return units.height === 'm' ? value : metresToFeet(value);
    case 'plain':
      return value;
  }
}

/** The unit's sign; '' for a plain quantity, whose unit its field knows. */
export function unitOf(quantity: Quantity, units: Units): string {
  switch (quantity) {
    case 'temperature':
    case 'apart':
      return degree(units.temperature);
    case 'volume':
      return units.volume === 'L' ? 'L' : 'US gal';
    case 'height':
      return units.height;
    case 'plain':
      return '';
  }
}

/** A number as one would type it: five figures at most, no zeros behind. */
export const asTyped = (value: number): string => String(Number(value.toPrecision(5))).replace('-', '−');

export const height = (metres: number, units: Units): string => formatHeight(metres, units.height);

/** Grams as a bench reads them: to 0.01 g in a jar, to 1 g in a drum, from 10 kg on in kg. */
export function weight(grams: number): string {
  if (grams >= 10_000) return `${decimal(grams / 1000, grams >= 100_000 ? 1 : 2)} kg`;
  return `${decimal(grams, grams === 0 || grams >= 100 ? 0 : grams < 10 ? 2 : 1)} g`;
}

/** A volume as a bench measures it: under a litre, or under a quart, in millilitres. */
export function measured(litres: number, unit: VolumeUnit): string {
  if (litres < 0.95) return `${decimal(litres * 1000, litres < 0.01 ? 2 : litres < 0.1 ? 1 : 0)} mL`;
  const volume = volumeToUnit(litres, unit);
  return `${decimal(volume, volume >= 1000 ? 0 : volume >= 100 ? 1 : 2)} ${unit === 'L' ? 'L' : 'US gal'}`;
}
