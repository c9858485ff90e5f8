import { isName } from './names.ts';

/** The topics of the project's own; everything a device publishes and everything the daemon does. */
export const TOPIC_ROOT = 'esterwatch/v1';

export const readingTopic = (site: string, vessel: string, channel: string): string =>
  `${TOPIC_ROOT}/reading/${site}/${vessel}/${channel}`;
export const presenceTopic = (site: string, device: string): string =>
  `${TOPIC_ROOT}/presence/${site}/${device}`;
export const alarmTopic = (site: string, vessel: string): string => `${TOPIC_ROOT}/alarm/${site}/${vessel}`;
export const beatTopic = (site: string): string => `${TOPIC_ROOT}/beat/${site}`;
export const headTopic = (site: string): string => `${TOPIC_ROOT}/head/${site}`;

/** What an outside broker is asked for, besides the topics of the configuration. */
export const DEVICE_TOPIC_FILTERS = [`${TOPIC_ROOT}/reading/#`, `${TOPIC_ROOT}/presence/#`] as const;

export type DeviceTopic =
  | { kind: 'reading'; site: string; vessel: string; channel: string }
  | { kind: 'presence'; site: string; device: string }
  /** One that only the daemon may publish on. */
  | { kind: 'reserved' }
  /** One of ours with too few or many levels, or a name that is none. */
  | { kind: 'misnamed' }
  | { kind: 'unknown' };

export function parseDeviceTopic(topic: string): DeviceTopic {
  const [root, version, kind, ...names] = topic.split('/');
  if (`${root}/${version}` !== TOPIC_ROOT) return { kind: 'unknown' };
  if (kind === 'alarm' || kind === 'beat' || kind === 'head') return { kind: 'reserved' };
  if (kind === 'reading') {
    return names.length === 3 && names.every(isName)
      ? { kind, site: names[0]!, vessel: names[1]!, channel: names[2]! }
      : { kind: 'misnamed' };
  }
  if (kind === 'presence') {
    return names.length === 2 && names.every(isName)
      ? { kind, site: names[0]!, device: names[1]! }
      : { kind: 'misnamed' };
  }
  return { kind: 'unknown' };
}
