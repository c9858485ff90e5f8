import { useSignal } from '@preact/signals';
import { useId } from 'preact/hooks';
import type { SiteBody } from '../../../shared/wire/api.ts';
import { nameFrom } from '../../../shared/wire/name-from.ts';
import type { SiteAnswer } from '../../../shared/wire/set-up.ts';
import { readingTopic } from '../../../shared/wire/topics.ts';
import { putSite } from '../../api.ts';
import { mayAt } from '../../forwarded.ts';
import { typedAltitudeM } from '../../height.ts';
import { may } from '../../session.ts';
import { heightUnit } from '../../settings.ts';
import { later, now, refetch } from '../../store.ts';
import { SET_UP } from '../../texts/set-up.ts';
import { duration, formatHeight } from '../../units.ts';
import { Field, Problem, useAction } from '../../views/form.tsx';
import { degrees, when } from '../../views/words.ts';
import { HeightField } from './height-field.tsx';
import { NameOf } from './name-field.tsx';
import { typedPressureHPa } from './place.ts';

const texts = SET_UP.places;
const hPa = (value: number): string => value.toFixed(1);

function goesBy({ barometer, pressureAssumed, altitudeM, pressureHPa }: SiteAnswer): string {
  if (barometer?.counts) return texts.byBarometer(hPa(barometer.pressureHPa));
  if (altitudeM !== null)
    return texts.byAltitude(formatHeight(altitudeM, heightUnit.value), hPa(pressureHPa));
  return pressureAssumed ? texts.assumed : texts.byPressure(hPa(pressureHPa));
}

/** Altitude or pressure of a place; of a new one its name, too. */
export function PlaceForm({
  site,
  submit,
  onDone,
  onCancel,
  start = '',
  onlyAltitude,
}: {
  site?: string | undefined;
  submit: string;
  start?: string;
  onlyAltitude?: boolean;
  onDone: (site: string) => unknown;
  onCancel?: () => void;
}) {
  const name = useSignal(site ?? start);
  const way = useSignal<'altitude' | 'pressure'>('altitude');
  const height = useSignal('');
  const lengthUnit = useSignal(heightUnit.peek());
  const pressure = useSignal('');
  const { busy, problem, run, complain } = useAction();
  const id = useId();

  const send = async (): Promise<void> => {
    const goes = site ?? nameFrom(name.value);
    if (goes === undefined) return complain(SET_UP.name.wrong);
    let body: SiteBody;
    if (way.value === 'altitude') {
      const altitudeM = typedAltitudeM(height.value, lengthUnit.value);
      if (altitudeM === undefined) return complain(SET_UP.height.wrong);
      body = { altitudeM };
    } else {
      const pressureHPa = typedPressureHPa(pressure.value);
      if (pressureHPa === undefined) return complain(texts.pressureWrong);
      body = { pressureHPa };
    }
    const done = await run(async () => {
      await putSite(goes, body);
      await refetch().catch(later);
    });
    if (done) await onDone(goes);
  };

  return (
    <form
      class="stack"
      onSubmit={(event) => {
        event.preventDefault();
        void send();
      }}
    >
      {site === undefined && <NameOf label={texts.name} text={name} />}
      {!onlyAltitude && (
        <fieldset class="by">
          <legend>{texts.by}</legend>
          {(['altitude', 'pressure'] as const).map((one) => (
            <label key={one} class="check">
              <input
                type="radio"
                name={`${id}-way`}
                checked={way.value === one}
                onChange={() => {
                  way.value = one;
                }}
              />
              {texts.ways[one]}
            </label>
          ))}
        </fieldset>
      )}
      {way.value === 'altitude' ? (
        <HeightField text={height} unit={lengthUnit} />
      ) : (
        <Field
          label={texts.pressure}
          value={pressure.value}
          numeric
          required
          onValue={(typed) => {
            pressure.value = typed;
          }}
        />
      )}
      <Problem problem={problem} />
      <div class="actions">
        <button type="submit" disabled={busy}>
          {submit}
        </button>
        {onCancel !== undefined && (
          <button type="button" class="plain" onClick={onCancel}>
            {texts.cancel}
          </button>
        )}
      </div>
    </form>
  );
}

function Place({ place, onChanged }: { place: SiteAnswer; onChanged: () => unknown }) {
  const open = useSignal(false);
  const { site, boilingC, barometer, warningTested: tested, pressureAssumed } = place;
  return (
    <li>
      <h3>{site}</h3>
      <p>
        <b>{texts.boils(degrees(boilingC))}</b>, {goesBy(place)}
        {pressureAssumed ? '' : '.'}
      </p>
      <p class="quiet">
        {texts.barometer}:{' '}
        {barometer === null
          ? texts.notHeard(readingTopic(site, '…', 'ambient-pressure'))
          : `${texts.heard(hPa(barometer.pressureHPa), duration(now.value - Date.parse(barometer.at)))}; ${
              barometer.counts ? texts.counts : texts.countsNot
            }.`}
      </p>
      <p class="quiet">{tested === null ? texts.neverTested : texts.tested(when(tested.at), tested.by)}.</p>
      {!mayAt('keep', site) ? null : open.value ? (
        <PlaceForm
          site={site}
          submit={texts.save}
          onDone={async () => {
            open.value = false;
            await onChanged();
          }}
          onCancel={() => {
            open.value = false;
          }}
        />
      ) : (
        <button
          type="button"
          class="plain"
          aria-label={`${pressureAssumed ? texts.set : texts.change}: ${site}`}
          onClick={() => {
            open.value = true;
          }}
        >
          {pressureAssumed ? texts.set : texts.change}
        </button>
      )}
    </li>
  );
}

/** Places, and what their boiling point goes by. */
export function Places({ places, onChanged }: { places: readonly SiteAnswer[]; onChanged: () => unknown }) {
  const adding = useSignal(false);
  return (
    <>
      {places.length === 0 && <p>{texts.none}</p>}
      <ul class="things">
        {places.map((place) => (
          <Place key={place.site} place={place} onChanged={onChanged} />
        ))}
      </ul>
      {!may('keep') ? null : adding.value ? (
        <PlaceForm
          submit={texts.adding}
          onDone={async () => {
            adding.value = false;
            await onChanged();
          }}
          onCancel={() => {
            adding.value = false;
          }}
        />
      ) : (
        <button
          type="button"
          class="plain"
          onClick={() => {
            adding.value = true;
          }}
        >
          {texts.add}
        </button>
      )}
    </>
  );
}
