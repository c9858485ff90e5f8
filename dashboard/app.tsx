import { useComputed, useSignalEffect } from '@preact/signals';
import { useErrorBoundary } from 'preact/hooks';
import { PRIORITIES } from '../shared/wire/names.ts';
import { alarmSentence } from './alarm-sentence.ts';
import { isOutdated } from './outdated.ts';
import { helpLink, hrefOf, pathOf, route } from './route.ts';
import { isAsked, isShut } from './session.ts';
import { unit } from './settings.ts';
import {
  alarms,
  heardAt,
  isLive,
  isUnheard,
  lastRaised,
  notKept,
  now,
  refusedCount,
  speed,
  unreached,
} from './store.ts';
import { showOnTab } from './tab.ts';
import { PRIORITY_WORDS, TEXTS } from './texts/live.ts';
import { gravestStanding } from './vessels.ts';
import { PriorityMark } from './views/alarms.tsx';
import { Display } from './views/display.tsx';
import { Late } from './views/late.tsx';
import { LatePage } from './views/late-page.tsx';
import { Overview } from './views/overview.tsx';
import { Hatch } from './views/scale.tsx';
import { SignedIn } from './views/signed-in.tsx';
import { SoundNotice } from './views/sound-notice.tsx';
import { TestWarning } from './views/test-warning.tsx';
import { clock } from './views/words.ts';

const loadSignIn = async () => (await import('./pages/sign-in/sign-in.tsx')).SignIn;
const loadAsked = async () => (await import('./views/asked.tsx')).Asked;
const loadVesselPage = async () => (await import('./views/vessel-page.tsx')).VesselPage;

/** Pages with a place in the line at the top, in the order of their use. */
const NAV = ['overview', 'batches', 'recipe', 'oil', 'stock', 'alarms', 'set-up', 'refused'] as const;

/** Whether what stands below is live, in plain words. */
function Link() {
  if (isLive.value) return <p class="link">{TEXTS.link.live(clock(now.value))}</p>;
  if (heardAt.value !== undefined || isUnheard.value) return null;
  return <p class="link">{TEXTS.link.connecting}</p>;
}

function NotLive() {
  if (isLive.value || (heardAt.value === undefined && !isUnheard.value)) return null;
  return (
    <div class="not-live" role="alert">
      <b>{heardAt.value === undefined ? TEXTS.link.neverLive : TEXTS.link.lost(clock(heardAt.value))}</b>{' '}
      {heardAt.value === undefined ? TEXTS.link.trying : TEXTS.link.lostHelp}
    </div>
  );
}

/** What ails the daemon itself, as long as it says so. */
function Ailing({ title, help }: { title: string; help: string | undefined }) {
  if (!isLive.value || help === undefined) return null;
  return (
    <div class="not-live" role="alert">
      <b>{title}</b> {help}
    </div>
  );
}

/** The daemon has another build by now: what this one fetches late is gone. */
function Outdated() {
  if (!isOutdated.value) return null;
  return (
    <div class="outdated" role="status">
      <p>
        <b>{TEXTS.latePage.outdated}.</b> {TEXTS.latePage.outdatedHelp}
      </p>
      <button type="button" onClick={() => globalThis.location.reload()}>
        {TEXTS.latePage.reload}
      </button>
    </div>
  );
}

/** What a screen reader says when an alarm comes. */
function Announcer() {
  const spoken = useComputed(() => {
    const alarm = alarms.value.find(({ id, standing }) => standing && id === lastRaised.value);
    if (alarm === undefined) return '';
    const { because, todo } = alarmSentence(alarm, unit.value);
    return `${PRIORITY_WORDS[alarm.priority]}, ${alarm.vessel}: ${because} ${todo}`;
  });
  return (
    <p class="unseen" aria-live="assertive" aria-atomic="true">
      {spoken}
    </p>
  );
}

/** How many alarms of each priority stand and are to be told, and how many are set aside, on every page. */
function Standing() {
  const standing = alarms.value.filter((alarm) => alarm.standing && alarm.told);
  const gravest = gravestStanding(standing)?.priority;
  const shelved = alarms.value.filter((alarm) => alarm.shelved !== null);
  if (standing.length + shelved.length === 0) return null;
  return (
    <a class="standing" href="#/">
      {[...PRIORITIES].reverse().map((priority) => {
        const count = standing.filter((alarm) => alarm.priority === priority).length;
        return (
          count > 0 && (
            // The gravest says its word, the others their shape: what is most is not crowded out.
            <span key={priority} class={priority === gravest ? '' : 'shape-only'}>
              {count} <PriorityMark priority={priority} />
            </span>
          )
        );
      })}
      {shelved.length > 0 && TEXTS.alarms.shelvedCount(shelved.length)}
    </a>
  );
}

/** The page that the address names. One that fails says so: what it showed before may be wrong by now. */
function Content() {
  const [error] = useErrorBoundary((thrown) => {
    // For whoever looks into the browser's console.
    queueMicrotask(() => {
      throw thrown;
    });
  });
  const here = route.value;
  if (error !== undefined) {
    return (
      <div role="alert">
        <h1>{TEXTS.latePage.broken}</h1>
        <p>{TEXTS.latePage.brokenHelp}</p>
        <button type="button" onClick={() => globalThis.location.reload()}>
          {TEXTS.latePage.reload}
        </button>
      </div>
    );
  }
  // Whoever has the link of a message was sent it.
  if (isShut.value && here.page !== 'answer') return <Late name="sign-in" load={loadSignIn} props={{}} />;
  // Whether anything may be shown is not known yet; without an answer the page shows what it can.
  if (!(isAsked.value || isUnheard.value)) return null;
  return here.page === 'vessel' ? (
    <Late name="vessel" load={loadVesselPage} props={{ vesselKey: here.key }} />
  ) : here.page === 'overview' ? (
    <Overview />
  ) : (
    <LatePage page={here.page} route={here} />
  );
}

export function App() {
  useSignalEffect(showOnTab);
  const here = route.value;
  const shut = isShut.value;
  return (
    <div class={`page ${isLive.value ? 'live' : 'stale-page'}`}>
      <Hatch />
      <button type="button" class="skip" onClick={toContent}>
        {TEXTS.toContent}
      </button>
      {!shut && isAsked.value && <Late part quiet name="asked" load={loadAsked} props={{}} />}
      <header class="top">
        <div class="own">
          <p class="product">{TEXTS.product}</p>
          {!shut && <Link />}
        </div>
        {!shut && (
          <nav aria-label={TEXTS.nav.label}>
            {NAV.map((page) => (
              <a key={page} href={hrefOf(page)} aria-current={here.page === page ? 'page' : undefined}>
                {TEXTS.nav[page]}
                {page === 'refused' &&
                  refusedCount.value > 0 &&
                  ` (${TEXTS.nav.refusedCount(refusedCount.value)})`}
              </a>
            ))}
            <a {...helpLink('index')}>{TEXTS.nav.help}</a>
          </nav>
        )}
        <Standing />
        <div class="at-end">{!shut && <SoundNotice />}</div>
      </header>
      {!shut && <NotLive />}
      {/* The record has a hole: whoever looks on must know. */}
      <Ailing
        title={TEXTS.link.notKept}
        help={notKept.value === undefined ? undefined : TEXTS.link.notKeptHelp(notKept.value)}
      />
      {/* Somebody wants to be told and cannot be: whoever looks on may be the only one who knows. */}
      <Ailing title={TEXTS.link.unreached} help={unreached.value} />
      <Outdated />
      <TestWarning />
      {speed.value !== 1 && <p class="demo">{TEXTS.link.demo(String(speed.value))}</p>}
      <main id="content" tabIndex={-1}>
        {/* Another address is another page, with nothing left of the one before. */}
        <Content key={shut ? 'sign-in' : pathOf(here)} />
      </main>
      <footer>
        <div class="actions">
          <SignedIn />
          <Display />
        </div>
        <p>{TEXTS.footer}</p>
      </footer>
      <Announcer />
    </div>
  );
}

/** Moves the focus itself: the hash names the page, so a link within it would leave the page. */
function toContent(): void {
  document.querySelector<HTMLElement>('main')?.focus();
}
