import type { ComponentChildren } from 'preact';
import { useEffect } from 'preact/hooks';
import { hrefOf } from '../../route.ts';
import { may } from '../../session.ts';
import { firstStart } from '../../settings.ts';
import { fetchRefused, refused, refusedCount } from '../../store.ts';
import { RIGHT_WORDS } from '../../texts/people.ts';
import { SET_UP } from '../../texts/set-up.ts';
import { THERMOMETERS } from '../../texts/thermometers.ts';
import { useAnswer } from '../../views/answer.ts';
import { Choices } from '../../views/choices.tsx';
import { Problem } from '../../views/form.tsx';
import { RefusedTable } from '../refused/refused-table.tsx';
import { Thermometers } from '../thermometers/thermometers.tsx';
import { getDevices, getHealth, getSites } from './calls.ts';
import { Channels } from './channels.tsx';
import { Devices } from './devices.tsx';
import { Install } from './install.tsx';
import { Link } from './link.tsx';
import { Places } from './places.tsx';
import { ReachPart } from './reach.tsx';
import './set-up.css';
import { Tones } from './tones.tsx';
import { Vessels } from './vessels.tsx';

const SITES_EVERY_MS = 10_000;
const DEVICES_EVERY_MS = 5000;
const HEALTH_EVERY_MS = 5000;

const PARTS = [
  'places',
  'vessels',
  'channels',
  'thermometers',
  'devices',
  'reach',
  'refused',
  'own',
  'install',
  'link',
] as const;
type Part = (typeof PARTS)[number];

const idOf = (part: Part): string => `set-up-${part}`;

function Section({ part, children }: { part: Part; children: ComponentChildren }) {
  return (
    <section aria-labelledby={idOf(part)}>
      <h2 id={idOf(part)} tabIndex={-1}>
        {SET_UP[part].title}
      </h2>
      {children}
    </section>
  );
}

/** The hash names the page, so that a link within it would leave the page. */
function goTo(part: Part): void {
  const heading = document.getElementById(idOf(part));
  heading?.scrollIntoView();
  heading?.focus({ preventScroll: true });
}

const askHealth = async () => {
  const is = await getHealth();
  return { is, askedMs: Date.now() };
};

/** Places, vessels, channels, devices, what was refused, this browser's own, and how the daemon is. */
export function SetUpPage() {
  const sites = useAnswer(getSites, SITES_EVERY_MS);
  const devices = useAnswer(getDevices, DEVICES_EVERY_MS);
  const health = useAnswer(askHealth, HEALTH_EVERY_MS);
  useEffect(() => {
    fetchRefused().catch(() => {});
  }, []);

  const loading = <p class="quiet">{SET_UP.loading}</p>;
  const places = sites.value.value;
  const names = places?.map(({ site }) => site) ?? [];
  const found = refused.value;
  return (
    <div class="set-up">
      <h1>{SET_UP.title}</h1>
      <p>{SET_UP.lead}</p>
      {!may('keep') && (
        <p class="quiet">
          {may('work')
            ? SET_UP.lacks(RIGHT_WORDS.keep)
            : SET_UP.lacksBoth(RIGHT_WORDS.work, RIGHT_WORDS.keep)}
        </p>
      )}
      <Problem problem={sites.problem ?? devices.problem ?? health.problem} />
      <nav class="parts" aria-label={SET_UP.parts}>
        {PARTS.map((part) => (
          <button key={part} type="button" class="plain" onClick={() => goTo(part)}>
            {SET_UP[part].title}
          </button>
        ))}
        <a class="button plain" href={hrefOf('people')}>
          {SET_UP.people}
        </a>
      </nav>
      <Section part="places">
        {places === undefined ? loading : <Places places={places} onChanged={sites.again} />}
      </Section>
      <Section part="vessels">
        <Vessels sites={names} />
      </Section>
      <Section part="channels">
        <Channels />
      </Section>
      <Section part="thermometers">
        <p class="quiet">{THERMOMETERS.lead}</p>
        <Thermometers />
      </Section>
      <Section part="devices">
        {devices.value.value === undefined ? loading : <Devices devices={devices.value.value} />}
      </Section>
      <Section part="reach">
        <ReachPart />
      </Section>
      <Section part="refused">
        {found === undefined ? (
          loading
        ) : refusedCount.value === 0 ? (
          <p>{SET_UP.refused.none}</p>
        ) : (
          <details>
            <summary>
              {SET_UP.refused.some(refusedCount.value)} {SET_UP.refused.open}
            </summary>
            <RefusedTable found={found} />
          </details>
        )}
      </Section>
      <Section part="own">
        <p class="quiet">{SET_UP.own.lead}</p>
        <Choices />
        <Tones />
      </Section>
      <Section part="install">
        <Install />
      </Section>
      <Section part="link">
        <Link health={health.value.value} sites={names} />
      </Section>
      {may('keep') && (
        <p>
          <a
            class="button plain"
            href={hrefOf('overview')}
            onClick={() => {
              firstStart.value = 'under-way';
            }}
          >
            {SET_UP.firstStart}
          </a>
        </p>
      )}
    </div>
  );
}
