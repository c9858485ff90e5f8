import type { AlarmName } from '../../shared/rules/names.ts';

/** What each alarm is called. */
export const ALARM_TITLES: Readonly<Record<AlarmName, string>> = {
  'boiling-reached': 'Boiling',
  'boiling-near': 'Near boiling',
  'boiling-ahead': 'Boiling soon',
  'too-hot-to-dose': 'Too hot for methoxide',
  'methoxide-warm-to-dose': 'Methoxide too warm',
  'oil-overheated': 'Oil or fuel too hot',
  'condenser-warm': 'Condenser too warm',
  'recover-overheated': 'Too hot while methanol is recovered',
  'heat-not-seen': 'Heat not seen',
  'heater-stuck': 'Heater does not go off',
  'heater-on-draining': 'Heater on in an empty vessel',
  'reaction-cold': 'Reaction too cold',
  'methoxide-hot': 'Methoxide gets hot',
  'rising-fast': 'Rising fast',
  'mixing-stopped': 'Not stirred',
  'mixing-slow': 'Stirred too slowly',
  'coupling-lost': 'It turns, the liquid does not',
  'motor-stalled': 'Motor blocked',
  'restart-hot': 'Stirred again while hot',
  'methoxide-short': 'Methoxide mixed too briefly',
  'reaction-short': 'Too short a reaction',
  'settling-short': 'Too short a settling',
  'settling-disturbed': 'Settling disturbed',
  'reading-late': 'No readings',
  'probe-frozen': 'Probe stands still',
  'probe-jump': 'Probe jumped',
  'probe-out-of-range': 'Probe out of range',
  'probes-disagree': 'Probes disagree',
  'two-devices': 'Two devices on one channel',
  'device-gone': 'Device lost',
  'vapour-high': 'Methanol in the air',
  'not-watching': 'Nobody watched',
};

/** One that a newer esterwatch raised goes by its own name. */
export const alarmTitle = (alarm: string): string =>
  Object.hasOwn(ALARM_TITLES, alarm) ? ALARM_TITLES[alarm as AlarmName] : alarm.replaceAll('-', ' ');
