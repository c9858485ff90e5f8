/** Every alarm that a rule of this project raises. */
export const ALARM_NAMES = [
  'boiling-reached',
  'boiling-near',
  'too-hot-to-dose',
  'mixing-stopped',
  'reaction-short',
  'settling-short',
  'reading-late',
  'probe-jump',
  'probe-out-of-range',
] as const;
export type AlarmName = (typeof ALARM_NAMES)[number];
