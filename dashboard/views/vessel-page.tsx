import { vesselHref } from '../route.ts';
import { vesselAt, vessels } from '../store.ts';
import { TEXTS } from '../texts/live.ts';
import { AloneLine } from './alone.tsx';
import { AltitudeNotice } from './altitude.tsx';
import { Cautions } from './cautions.tsx';
import { Charts } from './charts.tsx';
import { Late } from './late.tsx';
import { PastAlarms } from './past-alarms.tsx';
import { TypedReading } from './typed-reading.tsx';
import { VesselSheet } from './vessel-sheet.tsx';

const loadThermometers = async () =>
  (await import('../pages/thermometers/vessel-thermometers.tsx')).VesselThermometers;

/** One vessel opened: the same as on the overview, large, with its history. */
export function VesselPage({ vesselKey }: { vesselKey: string }) {
  const vessel = vesselAt(vesselKey);
  return (
    <>
      <p class="back">
        <a class="button plain" href="#/">
          <span aria-hidden="true">← </span>
          {TEXTS.vessel.back}
        </a>
        {vessel !== undefined && (
          <a class="button plain" href={vesselHref(vessel, 'wall')}>
            {TEXTS.vessel.wall}
          </a>
        )}
      </p>
      {vessel === undefined ? (
        <>
          <h1>{vesselKey.slice(vesselKey.indexOf(':') + 1)}</h1>
          {vessels.value !== undefined && <p>{TEXTS.vessel.unknown}</p>}
        </>
      ) : (
        <>
          {vessel.boilingAssumed && <AltitudeNotice site={vessel.site} boilingC={vessel.boilingC} />}
          <VesselSheet vessel={vessel} large />
          <AloneLine key={`${vesselKey} alone`} vesselKey={vesselKey} />
          <Charts key={vesselKey} vesselKey={vesselKey} />
          <TypedReading vesselKey={vesselKey} />
          {vessel.forwarded === undefined && (
            <Late part quiet name="vessel-thermometers" load={loadThermometers} props={{ vesselKey }} />
          )}
          <PastAlarms key={`${vesselKey} alarms`} vesselKey={vesselKey} />
          <Cautions stages={[vessel.stage]} withMethanol={vessel.methanolPresent} />
        </>
      )}
    </>
  );
}
