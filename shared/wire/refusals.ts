/**
 * Why something published was not taken in. The codes are stable and never used again for another
 * reason; the sentence is what a person is told.
 */
export const REFUSALS = {
  'topic-unknown':
    'No reading belongs to this topic. Readings go to esterwatch/v1/reading/SITE/VESSEL/CHANNEL.',
  'topic-misnamed':
    'A topic is esterwatch/v1/reading/SITE/VESSEL/CHANNEL or esterwatch/v1/presence/SITE/DEVICE; names have small letters, digits and hyphens only, at most 40.',
  'topic-reserved': 'Only the daemon publishes on this topic.',
  'device-not-allowed':
    'A device publishes readings of its own site and its own presence: the topic’s device name is its user name.',
  'device-not-let-in':
    'A device was not let in: its MQTT user name is not one that is set up, or its password is another.',
  'site-forwarded': 'Another daemon watches this site and forwards it: its readings go there.',
  'payload-empty': 'There is nothing in it.',
  'payload-too-large': 'More than 256 KiB at once: send what was kept in smaller arrays.',
  'payload-not-utf8': 'It is not UTF-8 text.',
  'payload-form':
    'It is neither a decimal number, nor {"value":…,"at":…,"seq":…}, nor an array of these, nor a SenML pack.',
  'payload-field': 'It has a field that a reading does not have; fields are value, at, seq and unit.',
  'value-missing': 'It has no value.',
  'value-not-number': 'The value is not a finite decimal number.',
  'time-form': 'The time is neither ISO 8601 UTC (2026-03-02T10:15:00.000Z) nor epoch milliseconds.',
  'time-before-2000': 'The time is before 2000: the device’s clock is not set.',
  'clock-ahead': 'The time is more than 60 s ahead of the daemon’s clock.',
  'retained-without-time': 'It is retained and has no time: nobody can tell how old it is.',
  'seq-form': 'seq is not a whole number from 0.',
  'unit-unknown': 'The unit is not one that this channel can have.',
  'array-too-long': 'More than 5,000 readings at once: send what was kept in smaller arrays.',
  'senml-name': 'A SenML pack for a channel has one name, and it begins with a letter or digit.',
  'senml-version': 'This SenML version is not known here; 10 is.',
  'senml-field': 'A SenML field has the wrong form, or one that must be understood is not known here.',
  'presence-form': 'Presence is here or gone.',
  'value-conflict': 'Another value was stored for the same time and seq; the first stays.',
  'too-many-names': 'There are too many vessels or channels already.',
} as const;

export type RefusalCode = keyof typeof REFUSALS;
