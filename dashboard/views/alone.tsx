import { useSignal } from '@preact/signals';
import { useId } from 'preact/hooks';
import { z } from 'zod';
import { person as personName } from '../../shared/wire/parts.ts';
import { type Alone, reachSchema } from '../../shared/wire/reach.ts';
import { call, segment } from '../api.ts';
import { mayAt } from '../forwarded.ts';
import { may, ownName } from '../session.ts';
import { later, now } from '../store.ts';
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
  if (alone === undefined)
    return mayAt('work', vesselKey.split(':')[0]!) ? <Offer path={path} onBegun={fetchAlone} /> : null;
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

/** As the daemon takes them, minutes. */
const isWithin = (minutes: number | undefined, most: number): boolean =>
  minutes !== undefined && minutes >= 1 && minutes <= most;

function Offer({ path, onBegun }: { path: string; onBegun: () => Promise<void> }) {
  const tell = useSignal('');
  const every = useSignal('15');
  const wait = useSignal('3');
  const names = useSignal<string[]>([]);
  const id = useId();
  const { busy, problem, run, complain } = useAction();
  /** Those who can be told, as far as the API says who they are; any other name can be typed. */
  const askNames = (): void =>
    void call(reachSchema, 'reach').then(({ people }) => {
      names.value = people
        .filter(({ name, ways }) => ways.length > 0 && name !== ownName.peek())
        .map(({ name }) => name);
    }, later);
  const begin = (): void => {
    const [everyMinutes, answerMinutes] = [parseNumber(every.value), parseNumber(wait.value)];
    const told = tell.value.trim();
    if (!personName.safeParse(told).success) {
      complain(ALONE.wrongTell);
      return;
    }
    if (!isWithin(everyMinutes, 240) || !isWithin(answerMinutes, 60)) {
      complain(ALONE.wrong);
      return;
    }
    const body = { tell: told, everyMinutes, answerMinutes, ...by() };
    void run(() => call(z.unknown(), path, 'POST', body).then(onBegun));
  };
  const field = (label: string, value: typeof tell, numeric = false) => (
    <Field
      label={label}
      list={numeric ? undefined : id}
      value={value.value}
      numeric={numeric}
      required
      onValue={(text) => {
        value.value = text;
      }}
    />
  );
  return (
    <details class="alone" onToggle={({ currentTarget }) => currentTarget.open && askNames()}>
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
        <datalist id={id}>
          {names.value.map((name) => (
            <option key={name} value={name} />
          ))}
        </datalist>
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
