import { useSignal } from '@preact/signals';
import { person as personName } from '../../../shared/wire/parts.ts';
import type { KnownPerson, Right } from '../../../shared/wire/session.ts';
import { askSession, person as signedIn } from '../../session.ts';
import { later } from '../../store.ts';
import { PEOPLE } from '../../texts/people.ts';
import { focusFirst } from '../../views/focus.ts';
import { Field, Problem, useAction } from '../../views/form.tsx';
import { PassphraseField } from '../../views/passphrase-field.tsx';
import { bring } from '../sign-in/brought.ts';
import { putPerson, removePerson } from './calls.ts';
import { Ask, FormEnd, inOwnWords, RightBoxes } from './parts.tsx';
import { isOnlyKeeper, isTaken, rightsSaid } from './rights.ts';

const texts = PEOPLE.people;

/** Somebody new; the first is one who keeps, and has everybody sign in. */
function NewPerson({
  people,
  onDone,
  onCancel,
}: {
  people: readonly KnownPerson[];
  onDone: (said: string) => unknown;
  onCancel?: () => void;
}) {
  const isFirst = people.length === 0;
  const name = useSignal('');
  const passphrase = useSignal('');
  const rights = useSignal<readonly Right[]>(isFirst ? ['work', 'keep'] : ['work']);
  const { busy, problem, run, complain } = useAction();
  const send = async (): Promise<void> => {
    const typed = name.value.trim();
    if (!personName.safeParse(typed).success) return complain(texts.nameWrong);
    if (
      isTaken(
        people.map((one) => one.name),
        typed,
      )
    )
      return complain(texts.taken(typed));
    const done = await run(() => putPerson(typed, { rights: rights.value, passphrase: passphrase.value }));
    if (!done) return;
    if (isFirst) {
      bring({ name: typed, why: 'first' });
      // Unanswered, it is asked again with the next connection.
      await askSession().catch(later);
      return;
    }
    await onDone(texts.added(typed));
  };
  return (
    <form
      class="stack"
      {...(isFirst ? {} : { ref: focusFirst })}
      onSubmit={(event) => {
        event.preventDefault();
        void send();
      }}
    >
      <Field
        label={texts.name}
        value={name.value}
        required
        onValue={(typed) => {
          name.value = typed;
        }}
      />
      <PassphraseField label={texts.passphrase} text={passphrase} isNew />
      <RightBoxes rights={rights} fixed={isFirst ? ['keep'] : []} note={isFirst ? texts.first : undefined} />
      <Problem problem={inOwnWords(problem)} />
      <FormEnd submit={isFirst ? texts.addFirst : texts.adding} busy={busy} onCancel={onCancel} />
    </form>
  );
}

interface ChangeProps {
  one: KnownPerson;
  isLastKeeper: boolean;
  onDone: () => unknown;
  onCancel: () => void;
}

function ChangeRights({ one, isLastKeeper, onDone, onCancel }: ChangeProps) {
  const rights = useSignal<readonly Right[]>(one.rights);
  const { busy, problem, run } = useAction();
  return (
    <form
      class="stack"
      ref={focusFirst}
      onSubmit={async (event) => {
        event.preventDefault();
        if (await run(() => putPerson(one.name, { rights: rights.value }))) await onDone();
      }}
    >
      <RightBoxes
        rights={rights}
        fixed={isLastKeeper ? ['keep'] : []}
        note={isLastKeeper ? texts.onlyKeeper : undefined}
      />
      <Problem problem={inOwnWords(problem)} />
      <FormEnd submit={PEOPLE.save} busy={busy} onCancel={onCancel} />
    </form>
  );
}

function NewPassphrase({ one, onDone, onCancel }: ChangeProps) {
  const passphrase = useSignal('');
  const { busy, problem, run } = useAction();
  return (
    <form
      class="stack"
      ref={focusFirst}
      onSubmit={async (event) => {
        event.preventDefault();
        if (await run(() => putPerson(one.name, { passphrase: passphrase.value }))) await onDone();
      }}
    >
      <PassphraseField label={texts.passphrase} text={passphrase} isNew />
      <p class="quiet">{texts.passphraseHelp}</p>
      <Problem problem={inOwnWords(problem)} />
      <FormEnd submit={PEOPLE.save} busy={busy} onCancel={onCancel} />
    </form>
  );
}

function Person({
  one,
  people,
  onChanged,
}: {
  one: KnownPerson;
  people: readonly KnownPerson[];
  onChanged: (said: string) => unknown;
}) {
  const open = useSignal<'rights' | 'passphrase' | 'remove' | undefined>(undefined);
  const isSelf = one.name === signedIn.value?.name;
  const isLastKeeper = isOnlyKeeper(people, one.name);
  const close = (): void => {
    open.value = undefined;
  };
  const changed = async (): Promise<void> => {
    close();
    // Their own: what they may, and whether they are still signed in, is another now.
    if (isSelf) await askSession().catch(later);
    await onChanged(texts.changed(one.name));
  };
  const change = { one, isLastKeeper, onDone: changed, onCancel: close };
  return (
    <li>
      <p>
        <b>{one.name}</b> {isSelf && <span class="quiet">({PEOPLE.you})</span>}
      </p>
      <p>{rightsSaid(one.rights)}</p>
      {open.value === 'rights' ? (
        <ChangeRights {...change} />
      ) : open.value === 'passphrase' ? (
        <NewPassphrase {...change} />
      ) : (
        <div class="actions">
          {(['rights', 'passphrase', ...(isLastKeeper ? [] : ['remove' as const])] as const).map((what) => {
            const label =
              what === 'rights'
                ? texts.rights
                : what === 'passphrase'
                  ? isSelf
                    ? undefined
                    : texts.passphraseNew
                  : texts.remove;
            return (
              label !== undefined && (
                <button
                  key={what}
                  type="button"
                  class="plain"
                  aria-label={`${label}: ${one.name}`}
                  onClick={() => {
                    open.value = what;
                  }}
                >
                  {label}
                </button>
              )
            );
          })}
        </div>
      )}
      {open.value === 'remove' && (
        <Ask
          title={texts.removeTitle(one.name)}
          submit={texts.remove}
          action={() => removePerson(one.name)}
          onDone={async () => {
            if (isSelf) await askSession().catch(later);
            await onChanged(texts.removed(one.name));
          }}
          onClose={close}
        >
          <p>{texts.removeHelp}</p>
          {isSelf && <p class="strong">{texts.removeSelf}</p>}
        </Ask>
      )}
    </li>
  );
}

/** Who can sign in, and what each may. */
export function People({ people, again }: { people: readonly KnownPerson[]; again: () => Promise<unknown> }) {
  const adding = useSignal(false);
  const said = useSignal('');
  const changed = async (what: string): Promise<void> => {
    adding.value = false;
    said.value = what;
    await again();
  };
  if (people.length === 0)
    return (
      <>
        <p>{texts.nobody}</p>
        <NewPerson people={people} onDone={changed} />
      </>
    );
  return (
    <>
      <ul class="let-in">
        {people.map((one) => (
          <Person key={one.name} one={one} people={people} onChanged={changed} />
        ))}
      </ul>
      <p role="status">{said.value}</p>
      {adding.value ? (
        <NewPerson
          people={people}
          onDone={changed}
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
