import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import { z } from 'zod';
import { call } from '../../api.ts';
import { later, synced, vessels } from '../../store.ts';
import { FORWARDED } from '../../texts/forwarded.ts';
import { AsOf } from './as-of.tsx';
import './forwarded.css';

const sitesSchema = z.object({ sites: z.array(z.object({ site: z.string() })) });

/** Every site that another daemon forwards, with its age; nothing where there is none. */
export function ForwardedSites() {
  const known = useSignal<readonly string[]>([]);
  const connection = synced.value;
  useEffect(() => {
    call(sitesSchema, 'forwarded')
      .then(({ sites }) => {
        known.value = sites.map(({ site }) => site);
      })
      .catch(later);
  }, [connection, known]);
  const shown = new Map(
    [...(vessels.value?.values() ?? [])].flatMap(({ site, forwarded }) =>
      forwarded ? [[site, forwarded] as const] : [],
    ),
  );
  const sites = [...new Set([...known.value, ...shown.keys()])].sort();
  if (sites.length === 0) return null;
  const texts = FORWARDED;
  return (
    <section class="forwarded-sites" aria-label={texts.title}>
      <ul>
        {sites.map((site) => {
          const forwarded = shown.get(site);
          return (
            <li key={site}>
              <b>{site}</b>
              {forwarded === undefined ? (
                <p class="as-of stale">{texts.nothingYet}</p>
              ) : (
                <AsOf forwarded={forwarded} />
              )}
            </li>
          );
        })}
      </ul>
    </section>
  );
}
