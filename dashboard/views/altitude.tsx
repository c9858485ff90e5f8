import { signal, useSignal } from '@preact/signals';
import { useId } from 'preact/hooks';
import type { Vessel } from '../../shared/wire/api.ts';
import { putSite } from '../api.ts';
import { mayAt } from '../forwarded.ts';
import { typedAltitudeM } from '../height.ts';
import { heightUnit } from '../settings.ts';
import { later, refetch } from '../store.ts';
import { TEXTS } from '../texts/live.ts';
import { formatHeight } from '../units.ts';
import { Dialog, Field, Problem, useAction } from './form.tsx';
import { degrees } from './words.ts';

/** What was set last, in the words of who set it: said on the vessels of that site. */
const lastSet = signal<{ site: string; height: string } | undefined>(undefined);

function AltitudeDialog({ site, onClose }: { site: string; onClose: () => void }) {
  const height = useSignal('');
  const lengthUnit = useSignal(heightUnit.peek());
  const { busy, problem, run, complain } = useAction();
  const id = useId();
  const texts = TEXTS.altitude;

  const send = async (): Promise<void> => {
    const altitudeM = typedAltitudeM(height.value, lengthUnit.value);
    if (altitudeM === undefined) {
      complain(texts.wrong);
      return;
    }
    const done = await run(async () => {
      await putSite(site, { altitudeM });
      // What was stored, not what was typed: a misread number is to be seen.
      lastSet.value = { site, height: formatHeight(altitudeM, lengthUnit.value) };
      await refetch().catch(later);
    });
    if (done) onClose();
  };

  return (
    <Dialog title={texts.dialog(site)} onClose={onClose} onSubmit={send}>
      <div class="inline">
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
      </div>
      <Problem problem={problem} />
      <div class="actions">
        <button type="button" class="plain" onClick={onClose}>
          {texts.cancel}
        </button>
        <button type="submit" disabled={busy}>
          {texts.save}
        </button>
      </div>
    </Dialog>
  );
}

/** Opens the form for a site's altitude. */
function AltitudeButton({ site, label, small }: { site: string; label: string; small?: boolean }) {
  const open = useSignal(false);
  if (!mayAt('keep', site)) return null;
  return (
    <>
      <button
        type="button"
        class={small ? 'plain small' : 'plain'}
        onClick={() => {
          open.value = true;
        }}
      >
        {label}
      </button>
      {open.value && (
        <AltitudeDialog
          site={site}
          onClose={() => {
            open.value = false;
          }}
        />
      )}
    </>
  );
}

/** Where a site's altitude was never said: what that means, and a way to say it. */
export function AltitudeNotice({ site, boilingC }: { site: string; boilingC: number }) {
  const texts = TEXTS.altitude;
  return (
    <section class="notice">
      <p>
        <b>{texts.title}</b> <span class="quiet">{TEXTS.vessel.at(site)}</span>
      </p>
      <p>{texts.help(degrees(boilingC))}</p>
      <AltitudeButton site={site} label={texts.save} />
    </section>
  );
}

/** Where the boiling point comes from, and the way to mend it. */
export function Boils({ vessel }: { vessel: Vessel }) {
  const { site, boilingC, boilingAssumed, pressureHPa } = vessel;
  const set = lastSet.value;
  return (
    <div class="boils-at quiet">
      {boilingAssumed
        ? TEXTS.vessel.boilsAssumed(degrees(boilingC))
        : TEXTS.vessel.boilsAt(degrees(boilingC), pressureHPa.toFixed(0))}
      {'. '}
      <span role="status">{set?.site === site && TEXTS.altitude.saved(set.height)}</span>{' '}
      <AltitudeButton site={site} label={boilingAssumed ? TEXTS.altitude.set : TEXTS.altitude.change} small />
    </div>
  );
}
