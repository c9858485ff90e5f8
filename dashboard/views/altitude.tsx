import { useSignal } from '@preact/signals';
import { useId } from 'preact/hooks';
import { putSite } from '../api.ts';
import { refetch } from '../store.ts';
import { TEXTS } from '../texts.ts';
import { feetToMetres, parseNumber } from '../units.ts';
import { Field, Problem, useAction } from './form.tsx';
import { degrees } from './words.ts';

const LOWEST_M = -500;
const HIGHEST_M = 6000;

/** Where a site's altitude was never said: what that means, and a way to say it. */
export function AltitudeNotice({ site, boilingC }: { site: string; boilingC: number }) {
  const height = useSignal('');
  const lengthUnit = useSignal<'m' | 'ft'>('m');
  const { busy, problem, run, complain } = useAction();
  const id = useId();
  const texts = TEXTS.altitude;

  const send = (): void => {
    const typed = parseNumber(height.value);
    const altitudeM = typed === undefined || lengthUnit.value === 'm' ? typed : feetToMetres(typed);
    if (altitudeM === undefined || altitudeM < LOWEST_M || altitudeM > HIGHEST_M) {
      complain(texts.wrong);
      return;
    }
    void run(async () => {
      await putSite(site, { altitudeM });
      await refetch();
    });
  };

  return (
    <details class="notice">
      <summary>
        <b>{texts.title}</b> <span class="quiet">{TEXTS.vessel.at(site)}</span>
      </summary>
      <p>{texts.help(degrees(boilingC))}</p>
      <form
        class="inline"
        onSubmit={(event) => {
          event.preventDefault();
          send();
        }}
      >
        <Field
          label={texts.field}
          value={height.value}
          numeric
          required
          onValue={(text) => {
            height.value = text;
          }}
        />
        <div class="field narrow">
          <label for={id}>{texts.unit}</label>
          <select
            id={id}
            value={lengthUnit.value}
            onChange={(event) => {
              lengthUnit.value = event.currentTarget.value === 'ft' ? 'ft' : 'm';
            }}
          >
            <option value="m">{texts.metres}</option>
            <option value="ft">{texts.feet}</option>
          </select>
        </div>
        <button type="submit" disabled={busy}>
          {texts.save}
        </button>
        <Problem problem={problem} />
      </form>
    </details>
  );
}
