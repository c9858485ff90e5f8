import { vessels } from '../store.ts';
import { TEXTS } from '../texts/live.ts';
import { inOrder, keyOf } from '../vessels.ts';
import { AltitudeNotice } from './altitude.tsx';
import { Cautions } from './cautions.tsx';
import { VesselSheet } from './vessel-sheet.tsx';

/** How a first reading is sent, where none has come yet. */
function FirstStart() {
  const texts = TEXTS.firstStart;
  return (
    <section class="first-start">
      <h1>{texts.title}</h1>
      <p>{texts.lead}</p>
      <pre>
        <code>{texts.command}</code>
      </pre>
      <p>{texts.broker}</p>
      <p class="quiet">{texts.parts}</p>
    </section>
  );
}

/** All vessels, those that need a person first. */
export function Overview() {
  if (vessels.value === undefined) return null;
  const all = inOrder(vessels.value.values());
  if (all.length === 0) return <FirstStart />;
  const assumed = new Map(
    all.flatMap(({ site, boilingAssumed, boilingC }) => (boilingAssumed ? [[site, boilingC] as const] : [])),
  );
  const underWay = all.filter(({ batch }) => batch !== null);
  return (
    <>
      <h1 class="unseen">{TEXTS.nav.overview}</h1>
      {[...assumed].map(([site, boilingC]) => (
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
