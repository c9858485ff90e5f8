import { firstStart } from '../settings.ts';
import { vessels } from '../store.ts';
import { TEXTS } from '../texts/live.ts';
import { inOrder, keyOf } from '../vessels.ts';
import { AltitudeNotice } from './altitude.tsx';
import { Cautions } from './cautions.tsx';
import { Late } from './late.tsx';
import { PowerCutNotice } from './power-cut-notice.tsx';
import { VesselSheet } from './vessel-sheet.tsx';

const loadFirstStart = async () => (await import('../pages/first-start/first-start.tsx')).FirstStart;

const loadForwarded = async () => (await import('../pages/forwarded/forwarded-sites.tsx')).ForwardedSites;

/** All vessels, those that need a person first. */
export function Overview() {
  if (vessels.value === undefined) return null;
  const all = inOrder(vessels.value.values());
  const isFirst = all.length === 0 || firstStart.value === 'under-way';
  const assumed = new Map(
    all.flatMap(({ site, boilingAssumed, boilingC }) => (boilingAssumed ? [[site, boilingC] as const] : [])),
  );
  const underWay = all.filter(({ batch }) => batch !== null);
  return (
    <>
      {isFirst ? (
        <Late name="first-start" load={loadFirstStart} props={{}} />
      ) : (
        <h1 class="unseen">{TEXTS.nav.overview}</h1>
      )}
      <Late part quiet name="forwarded" load={loadForwarded} props={{}} />
      <PowerCutNotice />
      {(isFirst ? [] : [...assumed]).map(([site, boilingC]) => (
        <AltitudeNotice key={site} site={site} boilingC={boilingC} />
      ))}
      <div class={`vessels ${all.length === 1 ? 'single' : ''}`}>
        {all.map((vessel) => (
          <VesselSheet key={keyOf(vessel)} vessel={vessel} />
        ))}
      </div>
      <Cautions
        stages={underWay.map(({ stage }) => stage)}
        withMethanol={underWay.some(({ methanolPresent }) => methanolPresent)}
      />
    </>
  );
}
