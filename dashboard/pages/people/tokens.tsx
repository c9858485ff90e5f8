import { useSignal } from '@preact/signals';
import { MOST_TOKEN_DAYS, type Token } from '../../../shared/wire/access.ts';
import { nameFrom } from '../../../shared/wire/name-from.ts';
import type { KnownPerson, Right } from '../../../shared/wire/session.ts';
import { now } from '../../store.ts';
import { PEOPLE } from '../../texts/people.ts';
import { SET_UP } from '../../texts/set-up.ts';
import { parseNumber } from '../../units.ts';
import { focusFirst } from '../../views/focus.ts';
import { Field, Problem, useAction } from '../../views/form.tsx';
import { when } from '../../views/words.ts';
import { NameOf } from '../set-up/name-field.tsx';
import { makeToken, removeToken } from './calls.ts';
import { Ask, FormEnd, inOwnWords, RightBoxes, ShownOnce } from './parts.tsx';
import { isTaken, rightsSaid } from './rights.ts';

const texts = PEOPLE.tokens;
const USUAL_DAYS = '90';

interface Made {
  title: string;
  secret: string;
}

function NewToken({
  own,
  names,
  onMade,
  onCancel,
}: {
  own: KnownPerson;
  names: readonly string[];
  onMade: (made: Made) => unknown;
  onCancel: () => void;
}) {
  const name = useSignal('');
  const days = useSignal(USUAL_DAYS);
  const rights = useSignal<readonly Right[]>(['look']);
  const { busy, problem, run, complain } = useAction();
  const send = async (): Promise<void> => {
    const goes = nameFrom(name.value);
    if (goes === undefined) return complain(SET_UP.name.wrong);
    if (isTaken(names, goes)) return complain(texts.taken(goes));
    const count = parseNumber(days.value);
    if (count === undefined || !Number.isInteger(count) || count < 1 || count > MOST_TOKEN_DAYS)
      return complain(texts.daysWrong(MOST_TOKEN_DAYS));
    let secret = '';
    const done = await run(async () => {
      secret = await makeToken({ name: goes, rights: rights.value, days: count });
    });
    if (done) await onMade({ title: texts.made(goes, count), secret });
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
      {own.rights.length > 1 && <RightBoxes rights={rights} offered={own.rights} />}
      <Field
        label={texts.days}
        value={days.value}
        numeric
        required
        onValue={(typed) => {
          days.value = typed;
        }}
      />
      <Problem problem={inOwnWords(problem)} />
      <FormEnd submit={texts.making} busy={busy} onCancel={onCancel} />
    </form>
  );
}

/** What scripts show instead of signing in; of others, too, for whoever sets up people. */
export function Tokens({
  own,
  tokens,
  again,
}: {
  own: KnownPerson;
  tokens: readonly Token[];
  again: () => Promise<unknown>;
}) {
  const making = useSignal(false);
  const made = useSignal<Made | undefined>(undefined);
  const removing = useSignal<Token | undefined>(undefined);
  const said = useSignal('');
  const isOwn = ({ person }: Token): boolean => person === own.name;
  const titleOf = (token: Token): string => (isOwn(token) ? token.name : texts.of(token.name, token.person));
  const gone = removing.value;
  return (
    <>
      <p class="quiet">{texts.lead}</p>
      {tokens.length === 0 ? (
        <p>{texts.none}</p>
      ) : (
        <ul class="let-in">
          {tokens.map((token) => (
            <li key={`${token.person} ${token.name}`}>
              <p>
                <b>{titleOf(token)}</b>
              </p>
              <p>
                {(Date.parse(token.ends) > now.value ? texts.may : texts.ended)(
                  rightsSaid(token.rights),
                  when(token.ends),
                )}
              </p>
              <div class="actions">
                <button
                  type="button"
                  class="plain"
                  aria-label={`${texts.remove}: ${titleOf(token)}`}
                  onClick={() => {
                    removing.value = token;
                  }}
                >
                  {texts.remove}
                </button>
              </div>
            </li>
          ))}
        </ul>
      )}
      <p role="status">{said.value}</p>
      {made.value !== undefined ? (
        <ShownOnce
          title={made.value.title}
          lines={[{ name: texts.header, line: `Authorization: Bearer ${made.value.secret}` }]}
          onDone={() => {
            made.value = undefined;
          }}
        />
      ) : making.value ? (
        <NewToken
          own={own}
          names={tokens.filter(isOwn).map(({ name }) => name)}
          onMade={async (what) => {
            making.value = false;
            made.value = what;
            await again();
          }}
          onCancel={() => {
            making.value = false;
          }}
        />
      ) : (
        <button
          type="button"
          class="plain"
          onClick={() => {
            said.value = '';
            making.value = true;
          }}
        >
          {texts.make}
        </button>
      )}
      {gone !== undefined && (
        <Ask
          title={texts.removeTitle(titleOf(gone))}
          submit={texts.remove}
          action={() => removeToken(gone.person, gone.name)}
          onDone={async () => {
            said.value = texts.removed(titleOf(gone));
            await again();
          }}
          onClose={() => {
            removing.value = undefined;
          }}
        >
          <p>{texts.removeHelp}</p>
        </Ask>
      )}
    </>
  );
}
