import { useComputed, useSignal } from '@preact/signals';
import { useId } from 'preact/hooks';
import type { Publisher } from '../../../shared/wire/access.ts';
import { nameFrom } from '../../../shared/wire/name-from.ts';
import { vessels } from '../../store.ts';
import { PEOPLE } from '../../texts/people.ts';
import { SET_UP } from '../../texts/set-up.ts';
import { focusFirst } from '../../views/focus.ts';
import { Problem, useAction } from '../../views/form.tsx';
import { NameOf } from '../set-up/name-field.tsx';
import { putPublisher, removePublisher } from './calls.ts';
import { Ask, FormEnd, inOwnWords, ShownOnce } from './parts.tsx';
import { isTaken } from './rights.ts';

const texts = PEOPLE.devices;
/** In the list of places; no place has such a name. */
const ANY = '*';
const OTHER = '+';

interface Made {
  name: string;
  secret: string;
}

function NewDevice({
  devices,
  onMade,
  onCancel,
}: {
  devices: readonly Publisher[];
  onMade: (made: Made) => unknown;
  onCancel: () => void;
}) {
  const isFirst = devices.length === 0;
  const sites = useComputed(() =>
    [...new Set([...(vessels.value?.values() ?? [])].map(({ site }) => site))].sort(),
  ).value;
  const name = useSignal('');
  const site = useSignal(sites[0] ?? ANY);
  const otherSite = useSignal('');
  const { busy, problem, run, complain } = useAction();
  const id = useId();
  const send = async (): Promise<void> => {
    const goes = nameFrom(name.value);
    const place = site.value === OTHER ? nameFrom(otherSite.value) : site.value === ANY ? null : site.value;
    if (goes === undefined || place === undefined) return complain(SET_UP.name.wrong);
    if (
      isTaken(
        devices.map((one) => one.name),
        goes,
      )
    )
      return complain(texts.taken(goes));
    let secret = '';
    const done = await run(async () => {
      secret = await putPublisher(goes, place);
    });
    if (done) await onMade({ name: goes, secret });
  };
  return (
    <form
      class="stack"
      ref={focusFirst}
      onSubmit={(event) => {
        event.preventDefault();
        void send();
      }}
    >
      <NameOf label={texts.name} text={name} />
      <div class="field">
        <label for={id}>{texts.site}</label>
        <select
          id={id}
          value={site.value}
          onChange={(event) => {
            site.value = event.currentTarget.value;
          }}
        >
          {sites.map((one) => (
            <option key={one} value={one}>
              {one}
            </option>
          ))}
          <option value={OTHER}>{texts.otherSite}</option>
          <option value={ANY}>{texts.anySite}</option>
        </select>
      </div>
      {site.value === OTHER && <NameOf label={texts.siteName} text={otherSite} />}
      {isFirst && (
        <label class="check">
          <input type="checkbox" required />
          {texts.firstCheck}
        </label>
      )}
      <Problem problem={inOwnWords(problem)} />
      <FormEnd submit={texts.adding} busy={busy} onCancel={onCancel} />
    </form>
  );
}

function Device({
  device: { name, site },
  isLast,
  onMade,
  onRemoved,
}: {
  device: Publisher;
  isLast: boolean;
  onMade: (made: Made) => unknown;
  onRemoved: () => unknown;
}) {
  const asked = useSignal<'another' | 'remove' | undefined>(undefined);
  const close = (): void => {
    asked.value = undefined;
  };
  const button = (what: 'another' | 'remove') => (
    <button
      type="button"
      class="plain"
      aria-label={`${texts[what]}: ${name}`}
      onClick={() => {
        asked.value = what;
      }}
    >
      {texts[what]}
    </button>
  );
  const made: Made = { name, secret: '' };
  return (
    <li>
      <p>
        <b class="code">{name}</b>
      </p>
      <p>{site === null ? texts.forAny : texts.forSite(site)}</p>
      <div class="actions">
        {button('another')}
        {button('remove')}
      </div>
      {asked.value === 'another' && (
        <Ask
          title={texts.anotherTitle(name)}
          submit={texts.another}
          action={async () => {
            made.secret = await putPublisher(name, site);
          }}
          onDone={() => onMade(made)}
          onClose={close}
        >
          <p>{texts.anotherHelp}</p>
        </Ask>
      )}
      {asked.value === 'remove' && (
        <Ask
          title={texts.removeTitle(name)}
          submit={texts.remove}
          action={() => removePublisher(name)}
          onDone={onRemoved}
          onClose={close}
        >
          <p>{texts.removeHelp}</p>
          {isLast && <p class="strong">{texts.removeLast}</p>}
        </Ask>
      )}
    </li>
  );
}

/** What may publish readings, each with a name and a password of its own. */
export function Publishers({
  devices,
  again,
}: {
  devices: readonly Publisher[];
  again: () => Promise<unknown>;
}) {
  const adding = useSignal(false);
  const made = useSignal<Made | undefined>(undefined);
  const said = useSignal('');
  const show = async (what: Made): Promise<void> => {
    adding.value = false;
    made.value = what;
    await again();
  };
  return (
    <>
      {devices.length === 0 ? (
        <>
          <p>{texts.nobody}</p>
          <p>{texts.first}</p>
        </>
      ) : (
        <>
          <p class="quiet">{texts.lead}</p>
          <ul class="let-in">
            {devices.map((device) => (
              <Device
                key={device.name}
                device={device}
                isLast={devices.length === 1}
                onMade={show}
                onRemoved={async () => {
                  said.value = texts.removed(device.name);
                  await again();
                }}
              />
            ))}
          </ul>
        </>
      )}
      <p role="status">{said.value}</p>
      {made.value !== undefined ? (
        <ShownOnce
          key={made.value.secret}
          title={texts.made(made.value.name)}
          lines={[
            { name: texts.user, line: made.value.name },
            { name: texts.password, line: made.value.secret },
          ]}
          onDone={() => {
            made.value = undefined;
          }}
        />
      ) : adding.value ? (
        <NewDevice
          devices={devices}
          onMade={show}
          onCancel={() => {
            adding.value = false;
          }}
        />
      ) : (
        <button
          type="button"
          class="plain"
          onClick={() => {
            said.value = '';
            adding.value = true;
          }}
        >
          {texts.add}
        </button>
      )}
    </>
  );
}
