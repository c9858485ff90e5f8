import { useSignal } from '@preact/signals';
import { useId } from 'preact/hooks';
import type { Vessel } from '../../../shared/wire/api.ts';
import { nameFrom } from '../../../shared/wire/name-from.ts';
import type { Role } from '../../../shared/wire/names.ts';
import { mayAt } from '../../forwarded.ts';
import { vesselHref } from '../../route.ts';
import { may } from '../../session.ts';
import { later, refetch, vessels } from '../../store.ts';
import { ROLE_NAMES, SET_UP } from '../../texts/set-up.ts';
import { keyOf } from '../../vessels.ts';
import { by, Problem, useAction } from '../../views/form.tsx';
import { putVessel } from './calls.ts';
import { NameOf } from './name-field.tsx';
import { RoleField } from './role-field.tsx';

const texts = SET_UP.vessels;

/** A vessel that nothing has measured yet. */
export function NewVessel({
  sites,
  submit,
  start = '',
  onDone,
  onCancel,
}: {
  sites: readonly string[];
  submit: string;
  start?: string;
  onDone: (vessel: { site: string; vessel: string }) => unknown;
  onCancel?: () => void;
}) {
  const site = useSignal(sites[0]!);
  const name = useSignal(start);
  const role = useSignal<Role>('reactor');
  const { busy, problem, run, complain } = useAction();
  const id = useId();

  const send = async (): Promise<void> => {
    const vessel = nameFrom(name.value);
    if (vessel === undefined) return complain(SET_UP.name.wrong);
    const at = { site: site.value, vessel };
    const done = await run(async () => {
      await putVessel(keyOf(at), { role: role.value, ...by() });
      await refetch().catch(later);
    });
    if (done) await onDone(at);
  };

  return (
    <form
      class="stack"
      onSubmit={(event) => {
        event.preventDefault();
        void send();
      }}
    >
      {sites.length > 1 && (
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
          </select>
        </div>
      )}
      <NameOf label={texts.name} text={name} />
      <RoleField label={texts.roleLabel} role={role} />
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

function OneVessel({ vessel }: { vessel: Vessel }) {
  const role = useSignal<Role>(vessel.role);
  const sure = useSignal(false);
  const said = useSignal('');
  const { busy, problem, run } = useAction();
  const { vessel: name, batch, batchName, methanolPresent } = vessel;

  const put = async (body: Parameters<typeof putVessel>[1], saying: string): Promise<void> => {
    said.value = '';
    const done = await run(async () => {
      await putVessel(keyOf(vessel), { ...body, ...by() });
      await refetch().catch(later);
    });
    if (done) said.value = saying;
  };

  return (
    <li>
      <h3>
        <a href={vesselHref(vessel)}>{name}</a> <span class="quiet">{texts.at(vessel.site)}</span>
      </h3>
      <p>
        {ROLE_NAMES[vessel.role]}, {batch === null ? texts.free : texts.inBatch(batchName ?? '')}
        {methanolPresent && `; ${texts.methanol}`}
      </p>
      {mayAt('work', vessel.site) && (
        <form
          class="inline"
          onSubmit={(event) => {
            event.preventDefault();
            void put({ role: role.value }, texts.saved(name, ROLE_NAMES[role.value]));
          }}
        >
          <RoleField label={texts.role(name)} role={role} />
          <button type="submit" class="plain" disabled={busy || role.value === vessel.role}>
            {SET_UP.places.save}
          </button>
        </form>
      )}
      {mayAt('work', vessel.site) && batch === null && methanolPresent && (
        <div class="actions">
          {sure.value ? (
            <>
              <span>{texts.emptyHelp}</span>
              <button
                type="button"
                disabled={busy}
                onClick={() => {
                  sure.value = false;
                  void put({ empty: true }, texts.emptied(name));
                }}
              >
                {texts.emptySure}
              </button>
              <button
                type="button"
                class="plain"
                onClick={() => {
                  sure.value = false;
                }}
              >
                {texts.cancel}
              </button>
            </>
          ) : (
            <button
              type="button"
              class="plain"
              aria-label={`${texts.empty}: ${name}`}
              onClick={() => {
                sure.value = true;
              }}
            >
              {texts.empty}
            </button>
          )}
        </div>
      )}
      <Problem problem={problem} />
      <p class="quiet" role="status">
        {said.value}
      </p>
    </li>
  );
}

export const byName = (all: Iterable<Vessel>): Vessel[] =>
  [...all].sort((a, b) => keyOf(a).localeCompare(keyOf(b)));

/** Vessels: what each is, and whether anything is left in it. */
export function Vessels({ sites }: { sites: readonly string[] }) {
  const adding = useSignal(false);
  const all = byName(vessels.value?.values() ?? []);
  return (
    <>
      {all.length === 0 && <p>{texts.none}</p>}
      <ul class="things">
        {all.map((vessel) => (
          <OneVessel key={keyOf(vessel)} vessel={vessel} />
        ))}
      </ul>
      {may('work') &&
        sites.length > 0 &&
        (adding.value ? (
          <NewVessel
            sites={sites}
            submit={texts.adding}
            onDone={() => {
              adding.value = false;
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
        ))}
    </>
  );
}
