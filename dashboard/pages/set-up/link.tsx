import { useSignal } from '@preact/signals';
import type { ComponentChildren } from 'preact';
import { mayAt } from '../../forwarded.ts';
import { elapsedMs } from '../../link.ts';
import { heardAt, isLive, now, speed } from '../../store.ts';
import { SET_UP } from '../../texts/set-up.ts';
import { duration } from '../../units.ts';
import { Problem, useAction } from '../../views/form.tsx';
import { clock, when } from '../../views/words.ts';
import { getHealth, type Health } from './calls.ts';
import { useTestWarning } from './test-warning.ts';

const texts = SET_UP.link;
/** Less than this may be the way of the answer, ms. */
const CLOCKS_AGREE_MS = 2000;
const QUESTIONS = 5;

const median = (values: readonly number[]): number => [...values].sort((a, b) => a - b)[values.length >> 1]!;
const ms = (value: number): string => (value < 10 ? value.toFixed(1) : value.toFixed(0));

/** Five questions over HTTP, one after the other. */
function LinkTest() {
  const said = useSignal('');
  const { busy, problem, run } = useAction();
  const test = (): void => {
    said.value = '';
    void run(async () => {
      const took: number[] = [];
      for (let i = 0; i < QUESTIONS; i++) {
        const asked = performance.now();
        await getHealth();
        took.push(performance.now() - asked);
      }
      said.value = texts.tested(ms(median(took)), ms(Math.max(...took)));
    });
  };
  return (
    <>
      <p>
        {isLive.value && heardAt.value !== undefined
          ? texts.live(duration((now.value - heardAt.value) / speed.value))
          : texts.notLive}
        .
      </p>
      <button type="button" class="plain" disabled={busy} onClick={test}>
        {texts.test}
      </button>
      <Problem problem={problem} />
      <p role="status">{said.value}</p>
    </>
  );
}

function Warn({ site }: { site: string }) {
  const { state, tookMs, action, send } = useTestWarning();
  return (
    <>
      <button
        type="button"
        class="plain"
        aria-disabled={action.busy || state === 'waiting'}
        onClick={() => void send(site)}
      >
        {texts.warn(site)}
      </button>
      <Problem problem={action.problem} />
      <p role="status">
        {state === 'waiting' && texts.waiting}
        {state === 'arrived' && texts.warned(ms(tookMs))}
        {state === 'lost' && texts.lost}
      </p>
    </>
  );
}

function clockWords(daemonMs: number, askedMs: number): string {
  if (speed.value !== 1) return texts.clockDemo(clock(daemonMs));
  const apart = elapsedMs(
    { monotonicMs: 0, wallMs: Math.min(daemonMs, askedMs) },
    { monotonicMs: 0, wallMs: Math.max(daemonMs, askedMs) },
  );
  return apart < CLOCKS_AGREE_MS
    ? texts.clockHere(clock(daemonMs))
    : texts.clockOff(clock(daemonMs), duration(apart));
}

function brokerWords({ kind, connected, listens }: Health['broker']): string {
  const link = connected ? texts.connected : texts.notConnected;
  if (listens === null) return `${kind === 'outside' ? texts.outside : ''}, ${link}`;
  const isHere = /^(127\.|localhost$|::1$)/.test(listens.host);
  return [
    texts.embedded(`${listens.host}:${listens.port}`),
    link,
    ...(isHere ? [texts.thisMachineOnly] : []),
  ].join(', ');
}

function backupWords(backup: Health['backup']): string {
  if (backup === null) return texts.noBackup;
  const last = backup.last === null ? texts.backupNone : texts.backupLast(when(backup.last));
  return backup.because === null ? last : `${last}; ${texts.backupFailed(backup.because)}`;
}

function Row({ name, bad, children }: { name: string; bad?: boolean; children: ComponentChildren }) {
  return (
    <div>
      <dt>{name}</dt>
      <dd class={bad ? 'strong' : ''}>{children}</dd>
    </div>
  );
}

/** How the link and the daemon are. */
export function Link({
  health,
  sites,
}: {
  health: { is: Health; askedMs: number } | undefined;
  sites: readonly string[];
}) {
  return (
    <>
      <LinkTest />
      {sites.map((site) => mayAt('work', site) && <Warn key={site} site={site} />)}
      {health === undefined ? (
        <p class="quiet">{SET_UP.loading}</p>
      ) : (
        <HealthRows {...health.is} askedMs={health.askedMs} />
      )}
    </>
  );
}

/** Up to when the centre has what a site is like, or why it does not go over. */
function forwardWords({ site, pictureAt, because }: NonNullable<Health['forward']>['sites'][number]): string {
  const until = pictureAt === null ? null : when(pictureAt, 'second');
  if (because !== null) return texts.notForwarded(site, because, until);
  return until === null ? texts.notYetForwarded(site) : texts.forwarded(site, until);
}

function HealthRows({
  ready,
  because,
  version,
  broker,
  store,
  clock: daemonClock,
  backup,
  reach,
  forward,
  oldestUnstoredMs,
  askedMs,
}: Health & { askedMs: number }) {
  const { rows } = texts;
  const { steps, lastStepMs } = daemonClock;
  return (
    <dl class="health">
      <Row name={rows.ready} bad={!ready}>
        {ready ? texts.ready : texts.notReady(because.join('; '))}
      </Row>
      <Row name={rows.store} bad={!store.writing || store.unsealedBecause !== null}>
        {store.writing ? texts.writing : texts.notWriting(store.because ?? '')}
        {store.unsealedBecause !== null && `. ${texts.unsealed(store.unsealedBecause)}`}
      </Row>
      <Row name={rows.waiting}>
        {oldestUnstoredMs === null ? texts.noneWaiting : texts.oldestWaiting(duration(oldestUnstoredMs))}
      </Row>
      <Row name={rows.broker} bad={!broker.connected}>
        {brokerWords(broker)}
      </Row>
      <Row name={rows.clock}>{clockWords(Date.parse(daemonClock.now), askedMs)}</Row>
      <Row name={rows.steps}>
        {steps === 0 ? texts.noSteps : texts.stepsSome(steps, duration(Math.abs(lastStepMs ?? 0)))}
      </Row>
      <Row name={rows.backup} bad={(backup?.because ?? null) !== null}>
        {backupWords(backup)}
      </Row>
      <Row name={rows.reach} bad={reach?.works !== true}>
        {reach === null ? texts.reachNobody : reach.works ? texts.reachWorks : reach.because}
      </Row>
      {forward?.sites.map((site) => (
        <Row key={site.site} name={rows.forward} bad={site.because !== null}>
          {forwardWords(site)}
        </Row>
      ))}
      <Row name={rows.version}>{version}</Row>
    </dl>
  );
}
