import type { RefusalCode } from '../../shared/wire/refusals.ts';

/** How to mend what makes a reading refused: what to change where it is sent. */
export const MENDS: Readonly<Record<RefusalCode, string>> = {
  'topic-unknown':
    'Send to esterwatch/v1/reading/SITE/VESSEL/CHANNEL; or, where the device’s topic is fixed, name it under topics in the configuration. If it is not meant for this program, leave it.',
  'topic-misnamed':
    'Count the levels of the topic: five before the channel’s name, none after it. Write names in small letters, digits and hyphens: r1, not R1 or r_1.',
  'topic-reserved':
    'Readings go under reading, presence under presence. alarm, beat and head are spoken by this program alone.',
  'device-not-allowed':
    'Look under which device the sender signs in (its MQTT user name), and for which site that one was set up. Its presence goes under that name, too.',
  'device-not-let-in':
    'Set the device up under People (its password is shown once), and give both to the device as MQTT user name and password. Another password for the same name is made there, too.',
  'site-forwarded':
    'Send it to the daemon that watches the site. If the site is to be watched here, it must not be forwarded here, and needs a store without it.',
  'payload-empty':
    'Send the number as the message itself, such as 54.2. Where an empty one was to clear a retained message, it has done that and needs no mending.',
  'payload-too-large': 'Send what was kept in several arrays, one after the other.',
  'payload-not-utf8': 'Send digits as text, not the bytes of a float.',
  'payload-form': 'Send 54.2, or {"value":54.2,"at":"2026-03-02T10:15:00.000Z"}. No unit behind the number.',
  'payload-field': 'Look for a misspelt name: value, at, seq and unit are all there are.',
  'value-missing': 'Add "value", with the number.',
  'value-not-number':
    'Look at the probe and its wire: many send nan when they cannot read. A comma in the number must be a point.',
  'time-form': 'Send the time as 2026-03-02T10:15:00.000Z or in milliseconds since 1970, or leave it out.',
  'time-before-2000': 'Let the device fetch the time before its first reading, or leave the time out.',
  'clock-ahead':
    'Compare the device’s clock with this machine’s (it is under Set-up). Set whichever is wrong; seconds taken for milliseconds look like this, too.',
  'retained-without-time':
    'Publish readings without the retain flag, or with their time. Clear the old one: publish an empty retained message to this topic.',
  'seq-form': 'Count from 0 in whole numbers, or leave seq out.',
  'unit-unknown':
    'Temperatures take Cel, degF or K; any other channel its own unit, or none. Leave the unit out where the value is in it already.',
  'array-too-long': 'Send at most 5,000 readings an array.',
  'senml-name': 'Send each channel’s pack to that channel’s own topic, with one name in it.',
  'senml-version': 'Send bver 10, or leave it out.',
  'senml-field':
    'Each record needs a number in v. Fields that end in an underscore are refused, as the standard asks.',
  'presence-form': 'Send here or gone, in small letters, retained; gone also as the last will.',
  'value-conflict':
    'Two readings bear the same time and seq: count seq up, or send times in milliseconds. Look whether two devices send to one channel.',
  'too-many-names':
    'Look for a device that makes names up, with a number that grows, say. 1,000 vessels and 64 channels a vessel are the most.',
};

/** Of a code that a later daemon may send. */
export const mendOf = (code: string): string | undefined =>
  Object.hasOwn(MENDS, code) ? MENDS[code as RefusalCode] : undefined;
