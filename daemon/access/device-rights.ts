import { TOPIC_ROOT } from '../../shared/wire/topics.ts';
import type { Destination } from '../intake/topic-map.ts';
import type { KnownDevice } from './access.ts';

/** Whether a device may publish there: readings of its site, and its own presence. */
export function mayPublish({ name, site }: KnownDevice, to: Destination): boolean {
  const isOwn = (of: { site: string }): boolean => site === null || of.site === site;
  if (to.kind === 'mapped') return to.mappings.every(isOwn);
  if (!('site' in to) || !isOwn(to)) return false;
  return to.kind !== 'presence' || to.device === name;
}

/** Whether a device may listen to a topic filter: what is of its site, such as the alarms for a lamp. */
export function maySubscribe({ site }: KnownDevice, filter: string): boolean {
  const [root, version, , ofSite] = filter.split('/');
  if (`${root}/${version}` !== TOPIC_ROOT) return false;
  return site === null || ofSite === site;
}
