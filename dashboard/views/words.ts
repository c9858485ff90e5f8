import { formatTemperature, formatTemperatureDifference } from '../../shared/units/temperature.ts';
import type { Vessel } from '../../shared/wire/api.ts';
import { glycerolWord, hourCycle, unit, volumeUnit } from '../settings.ts';
import { now } from '../store.ts';
import { STAGE_NAMES, TEXTS } from '../texts/live.ts';
import { clockTime, formatVolume, momentNear, type TimeDetail } from '../units.ts';

/** Quantities in the reader's present choice; views that use them follow it. */

export const degrees = (celsius: number): string => formatTemperature(celsius, unit.value);

export const degreesApart = (celsius: number): string => formatTemperatureDifference(celsius, unit.value);

export const litres = (volumeL: number): string => formatVolume(volumeL, volumeUnit.value);

/** A text with the reader's word for glycerol in it. */
export const inTheirWords = (text: string): string =>
  glycerolWord.value === 'glycerol'
    ? text
    : text.replaceAll('glycerol', 'glycerine').replaceAll('Glycerol', 'Glycerine');

/** A moment by the daemon's clock, with its day where that is not today. */
export const when = (time: number | string, detail: TimeDetail = 'minute'): string =>
  momentNear(typeof time === 'string' ? Date.parse(time) : time, now.value, hourCycle.value, detail);

export const clock = (ms: number): string => clockTime(ms, hourCycle.value, 'second');

/** A plain reading such as a stirrer's speed: whole numbers from 100, else one decimal. */
export const amount = (value: number): string =>
  Math.abs(value) >= 100 || Number.isInteger(value) ? value.toFixed(0) : value.toFixed(1);

/** What a vessel is doing; a batch that was opened has begun nothing yet. */
export const stageNow = ({ batch, stage }: Vessel): string =>
  batch !== null && stage === 'idle' ? TEXTS.vessel.notBegun : STAGE_NAMES[stage];

export const capital = (text: string): string => text.charAt(0).toUpperCase() + text.slice(1);
