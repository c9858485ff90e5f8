import { computed } from '@preact/signals';
import type { Right } from '../shared/wire/session.ts';
import { may } from './session.ts';
import { vessels } from './store.ts';

/** Sites that another daemon watches, of those that anything is shown of. */
export const forwardedSites = computed(
  () =>
    new Set([...(vessels.value?.values() ?? [])].flatMap(({ site, forwarded }) => (forwarded ? site : []))),
);

/** Whether whoever is here may change something at a site: one that another daemon watches is changed there. */
export const mayAt = (right: Right, site: string): boolean => may(right) && !forwardedSites.value.has(site);
