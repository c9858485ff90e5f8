import { useSignal } from '@preact/signals';
import { z } from 'zod';
import type { Alone } from '../../shared/wire/reach.ts';
import { call, segment } from '../api.ts';
import { may } from '../session.ts';
import { now } from '../store.ts';
import { ALONE } from '../texts/reach.ts';
import { parseNumber } from '../units.ts';
import { fetchAlone, isAsked, alone as known } from '../working-alone.ts';
import { by, Field, NameField, Problem, useAction } from './form.tsx';
import { clock } from './words.ts';

/** Who works here alone, with the two buttons: well, and done. */
export function AloneLine({ vesselKey }: { vesselKey: string }) {
  const { busy, problem, run } = useAction();
  const alone = known.value?.find(({ site, vessel }) => `${site}:${vessel}` === vesselKey);
  const path = `vessels/${segment(vesselKey)}/alone`;
  if (known.value === undefined) return null;
  if (alone === undefined) return may('work') ? <Offer path={path} onBegun={fetchAlone} /> : null;
  const act = (method: string, at: string, body?: object): void =>
    void run(() => call(z.unknown(), at, method, body).finally(fetchAlone));
  return (
    <section class="alone" aria-label={ALONE.title}>
      {/* That it is asked is an alert at the top of the page. */}
      <p role="status">{aloneWords(alone, now.value)}</p>
      {may('work') && (
        <p class="actions">
          <button type="button" disabled={busy} onClick={() => act('POST', `${path}/answer`, by())}>
            {ALONE.well}
          </button>
          <button
            type="button"
            class="plain"
            disabled={busy}
            onClick={() => act('DELETE', `${path}?${new URLSearchParams(by())}`)}
          >
            {ALONE.end}
          </button>
        </p>
      )}
      <Problem problem={problem} />
    </section>
  );
}

function aloneWords(alone: Alone, nowMs: number): string {
  if (alone.unanswered) return ALONE.unanswered(alone.by, alone.tell);
  if (isAsked(alone, nowMs)) return ALONE.asked(alone.tell, clock(Date.parse(alone.tells)));
  return ALONE.running(alone.by, clock(Date.parse(alone.asks)), alone.tell);
}

function Offer({ path, onBegun }: { path: string; onBegun: () => Promise<void> }) {
  const tell = useSignal('');
  const every = useSignal('15');
  const wait = useSignal('3');
  const { busy, problem, run, complain } = useAction();
  const begin = (): void => {
    const [everyMinutes, answerMinutes] = [parseNumber(every.value), parseNumber(wait.value)];
    if (tell.value.trim() === '' || everyMinutes === undefined || answerMinutes === undefined) {
      complain(ALONE.wrong);
      return;
    }
    const body = { tell: tell.value, everyMinutes, answerMinutes, ...by() };
    void run(() => call(z.unknown(), path, 'POST', body).then(onBegun));
  };
  const field = (label: string, value: typeof tell, numeric = false) => (
    <Field
      label={label}
      value={value.value}
      numeric={numeric}
      required
      onValue={(text) => {
        value.value = text;
      }}
    />
  );
  return (
    <details class="alone">
      <summary>{ALONE.title}</summary>
      <p>{ALONE.offer}</p>
      <form
        class="inline"
        onSubmit={(event) => {
          event.preventDefault();
          begin();
        }}
      >
        <NameField label={ALONE.name} />
        {field(ALONE.tell, tell)}
        {field(ALONE.every, every, true)}
        {field(ALONE.answer, wait, true)}
        <button type="submit" disabled={busy}>
          {ALONE.begin}
        </button>
      </form>
      <Problem problem={problem} />
    </details>
  );
}
