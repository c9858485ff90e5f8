import type { Vessel } from '../../shared/wire/api.ts';
import { idHref, vesselHref } from '../route.ts';
import { firstStart } from '../settings.ts';
import { TEXTS } from '../texts/live.ts';
import { gravestStanding } from '../vessels.ts';
import { AlarmList } from './alarms.tsx';
import { Boils } from './altitude.tsx';
import { Late } from './late.tsx';
import { Scale } from './scale.tsx';
import { GoOn } from './stage-form.tsx';
import { Behind, Counted, Direction, Headline, Mixing, Way } from './vessel-state.tsx';

const loadUnitDoubt = async () => (await import('./unit-doubt.tsx')).VesselUnitDoubt;
const loadAsOf = async () => (await import('../pages/forwarded/as-of.tsx')).AsOf;

/** One vessel: how it is, where it is on its way, what is wrong. `large` on its own page. */
export function VesselSheet({ vessel, large }: { vessel: Vessel; large?: boolean }) {
  const gravest = gravestStanding(vessel.alarms);
  const Title = large ? 'h1' : 'h2';
  const idle = vessel.batch === null && gravest === undefined;
  // The first start above it asks already.
  const isAsked = vessel.untried && (large || firstStart.value === 'no');
  return (
    <article class={`vessel ${large ? 'large' : ''} ${idle ? 'idle' : ''}`} data-gravest={gravest?.priority}>
      <div class="sheet">
        <header>
          <Title>
            {large ? vessel.vessel : <a href={vesselHref(vessel)}>{vessel.vessel}</a>}{' '}
            <span class="site">{TEXTS.vessel.at(vessel.site)}</span>
          </Title>
          {vessel.forwarded && (
            <Late part quiet name="as-of" load={loadAsOf} props={{ forwarded: vessel.forwarded }} />
          )}
          {vessel.batchName !== null && (
            <p class="batch">
              {vessel.batch === null ? (
                <bdi>{vessel.batchName}</bdi>
              ) : (
                <a href={idHref('batch', vessel.batch)}>
                  <bdi>{vessel.batchName}</bdi>
                </a>
              )}
              {large && (
                <>
                  {' '}
                  <a href={`/api/v1/batches/${vessel.batch}/record`} target="_blank" rel="noreferrer">
                    {TEXTS.vessel.record}
                  </a>
                </>
              )}
            </p>
          )}
        </header>
        <Way vessel={vessel} />
        <div class="state">
          {!idle && <Scale vessel={vessel} />}
          <div class="said">
            <Headline vessel={vessel} />
            <Direction vessel={vessel} />
            <Behind vessel={vessel} />
            <Mixing vessel={vessel} />
            <Boils vessel={vessel} />
            {isAsked && <Late name="unit-doubt" part quiet load={loadUnitDoubt} props={{ vessel }} />}
          </div>
        </div>
        <div class="side">
          <AlarmList alarms={vessel.alarms} />
          <Counted vessel={vessel} />
          <div class="below">
            <GoOn vessel={vessel} />
            {!large && (
              <a
                class="button plain"
                href={vesselHref(vessel)}
                aria-label={TEXTS.vessel.openLink(vessel.vessel)}
              >
                {TEXTS.vessel.open}
              </a>
            )}
          </div>
        </div>
      </div>
    </article>
  );
}
