import { useSignal } from '@preact/signals';
import { useEffect, useRef } from 'preact/hooks';
import type { Vessel } from '../../../shared/wire/api.ts';
import type { Batch } from '../../../shared/wire/batch.ts';
import { vesselHref } from '../../route.ts';
import { may } from '../../session.ts';
import { isLive, refetch, vessels } from '../../store.ts';
import { RECIPE_TEXTS } from '../../texts/recipe.ts';
import { keyOf } from '../../vessels.ts';
import { by, Field, NameField, Problem, useAction } from '../../views/form.tsx';
import { openBatch } from './calls.ts';
import { gravityOf } from './caution-note.tsx';
import { shownText } from './form.ts';
import { height, unitOf } from './quantities.ts';
import { form, recipe, type, units } from './state.ts';

/** A batch in a vessel, from the recipe as it stands. */

const TEXTS = RECIPE_TEXTS.begin;
const ALTITUDE = 'site.altitudeM';

/** Vessels that a batch can be opened in. */
const freeVessels = (): Vessel[] =>
  [...(vessels.value?.values() ?? [])]
    .filter(({ forwarded }) => forwarded === undefined)
    .filter(({ batch, role }) => batch === null && role === 'reactor')
    .sort((a, b) => keyOf(a).localeCompare(keyOf(b)));

export function Begin() {
  const key = useSignal('');
  const name = useSignal('');
  const understood = useSignal(false);
  const started = useSignal<Batch | undefined>(undefined);
  const opened = useRef<HTMLAnchorElement>(null);
  // With the last free vessel the form goes, and the focus in it.
  useEffect(() => opened.current?.focus(), [started.value]);
  const { busy, problem, run, complain } = useAction();
  const { answer, request, wrong, place, placeTells } = recipe.value;
  const free = freeVessels();
  const vessel =
    free.find((one) => keyOf(one) === key.value) ?? free.find(({ site }) => site === place?.site) ?? free[0];
  const isGrave = answer.cautions.some(({ code }) => gravityOf(code) === 'high');
  const lacksAltitude = problem?.missing.some(({ what }) => what === 'altitude') === true;
  const atOwnPlace = placeTells && place?.site === vessel?.site;
  const from =
    place?.site ??
    (request.site?.altitudeM === undefined ? undefined : height(request.site.altitudeM, units.value));

  const begin = async (event: Event): Promise<void> => {
    event.preventDefault();
    if (vessel === undefined) return;
    if (wrong.size > 0) {
      complain(RECIPE_TEXTS.keep.wrongFirst);
      return;
    }
    // What a place is known to be, it knows best itself: its barometer too.
    const { site: _, ...elsewhere } = request;
    const plan = placeTells ? elsewhere : request;
    const title = name.value.trim();
    await run(async () => {
      try {
        started.value = await openBatch({
          vessel: keyOf(vessel),
          ...(title === '' ? {} : { name: title }),
          ...by(),
          plan,
        });
        name.value = '';
        understood.value = false;
      } finally {
        // Whoever was refused may have looked at a vessel that is taken meanwhile.
        await refetch().catch(() => {});
      }
    });
  };

  const batch = started.value;
  if (!may('work')) return null;
  return (
    <section class="begin">
      <h2>{TEXTS.title}</h2>
      {!isLive.value && <p>{TEXTS.notLive}</p>}
      {vessel === undefined ? (
        started.value === undefined && <p class="quiet">{TEXTS.noVessels}</p>
      ) : (
        <form class="inline" onSubmit={begin}>
          <div class="field">
            <label for="begin-vessel">{TEXTS.vessel}</label>
            <select
              id="begin-vessel"
              value={keyOf(vessel)}
              onChange={(event) => {
                key.value = event.currentTarget.value;
              }}
            >
              {free.map((one) => (
                <option key={keyOf(one)} value={keyOf(one)}>
                  {TEXTS.free(one.vessel, one.site)}
                </option>
              ))}
            </select>
          </div>
          <Field
            label={TEXTS.name}
            value={name.value}
            onValue={(text) => {
              name.value = text;
            }}
          />
          <NameField label={RECIPE_TEXTS.keep.by} />
          <p class="quiet wide">
            {atOwnPlace
              ? TEXTS.usesPlace(vessel.site)
              : placeTells && from !== undefined
                ? TEXTS.otherPlace(from, vessel.site)
                : vessel.boilingAssumed && from !== undefined
                  ? TEXTS.tells(vessel.site)
                  : ''}
          </p>
          {isGrave && (
            <label class="check wide">
              <input
                type="checkbox"
                required
                checked={understood.value}
                onChange={(event) => {
                  understood.value = event.currentTarget.checked;
                }}
              />
              {TEXTS.understood}
            </label>
          )}
          {lacksAltitude ? (
            <div class="wide mend">
              <p class="problem" role="alert">
                {TEXTS.altitudeMissing(vessel.site)}
              </p>
              <Field
                label={`${TEXTS.altitude}, ${unitOf('height', units.value)}`}
                numeric
                required
                value={shownText(form.value, ALTITUDE, 'height', units.value)}
                onValue={(text) => {
                  type('place', '');
                  type(ALTITUDE, text);
                }}
              />
            </div>
          ) : (
            <Problem problem={problem} />
          )}
          <button type="submit" disabled={busy || !isLive.value}>
            {TEXTS.submit}
          </button>
        </form>
      )}
      <p role="status">
        {batch !== undefined && (
          <>
            {TEXTS.started(batch.name, batch.vessel)}{' '}
            <a ref={opened} href={vesselHref(batch)}>
              {TEXTS.open}
            </a>
          </>
        )}
      </p>
    </section>
  );
}
