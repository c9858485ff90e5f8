import { channelKind, isLiquidTemperature } from '../wire/names.ts';

/** What channels are called where people read them: on the pages, and in a printed record. */

const CHANNELS: Readonly<Record<string, string>> = {
  'liquid-temperature': 'Liquid temperature',
  'stirrer-speed': 'Stirrer',
  'stirrer-current': 'Stirrer current',
  'pump-flow': 'Pump',
  'pump-current': 'Pump current',
  pump: 'Pump',
  heater: 'Heater',
  'condensate-temperature': 'Condensate temperature',
  'room-vapour': 'Methanol in the room’s air',
  'vessel-pressure': 'Pressure in the vessel',
  'ambient-pressure': 'Air pressure',
};

/** 'Liquid temperature, probe 2'; a channel that nobody named is called as it is sent. */
export function channelTitle(channel: string): string {
  if (Object.hasOwn(CHANNELS, channel)) return CHANNELS[channel]!;
  if (isLiquidTemperature(channel))
    return `${CHANNELS['liquid-temperature']}, probe ${channel.slice('liquid-temperature-'.length)}`;
  const words = channel.replaceAll('-', ' ');
  return words.charAt(0).toUpperCase() + words.slice(1);
}

const UNITS: Readonly<Record<string, string>> = {
  'stirrer-speed': 'turns a minute',
  'stirrer-current': 'A',
  'pump-flow': 'L/min',
  'pump-current': 'A',
  'room-vapour': 'ppm',
  'vessel-pressure': 'hPa',
  'ambient-pressure': 'hPa',
};

/** Empty for what nobody named a unit of; of temperatures as it is given. */
export const unitOf = (channel: string, temperature = ''): string =>
  channelKind(channel) === 'temperature' ? temperature : Object.hasOwn(UNITS, channel) ? UNITS[channel]! : '';
