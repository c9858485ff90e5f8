import { useSignal } from '@preact/signals';
import { useId } from 'preact/hooks';
import type { Reach, Way } from '../../../shared/wire/reach.ts';
import { startOf, type Typed } from '../../forms.ts';
import { may, ownName } from '../../session.ts';
import { RIGHT_WORDS } from '../../texts/people.ts';
import { REACH } from '../../texts/reach.ts';
import { SET_UP } from '../../texts/set-up.ts';
import { useAnswer } from '../../views/answer.ts';
import { by, Field, Problem, useAction } from '../../views/form.tsx';
import { TableFields, theirUnits } from '../../views/table-form.tsx';
import { when } from '../../views/words.ts';
import { type Lack, pushLack, subscribe } from './browser-push.ts';
import {
  addBrowser,
  getReach,
  putGeneral,
  putWishes,
  removeBrowser,
  removePerson,
  testWay,
} from './reach-calls.ts';
import { GENERAL, generalBody, typedGeneral, typedWishes, WISHES, wishesBody } from './reach-forms.ts';

const EVERY_MS = 10_000;
type Person = Reach['people'][number];
type Changed = () => Promise<void>;

/** Who is told what, by which way, and whether it arrives. */
export function ReachPart() {
  const answer = useAnswer(getReach, EVERY_MS);
  const reach = answer.value.value;
  // The API shows to others neither who else is told nor the mail server.
  const keeps = may('keep');
  if (reach === undefined) return <p class="quiet">{SET_UP.loading}</p>;
  return (
    <>
      <p class="quiet">{REACH.lead}</p>
      {!keeps && <p class="quiet">{REACH.ownOnly(RIGHT_WORDS.keep)}</p>}
      {reach.people.length === 0 && <p>{keeps ? REACH.nobody : REACH.notYou}</p>}
      {noneWorks(reach) && <p role="alert">{REACH.noneWorks}</p>}
      {keeps && reach.smtp === null && <p>{REACH.noServer}</p>}
      {reach.publicUrl === null && <p>{REACH.noLink}</p>}
      <ul class="things">
        {reach.people.map((person) => (
          <PersonWays key={person.name} person={person} onChanged={answer.again} />
        ))}
      </ul>
      <WishesForm reach={reach} onChanged={answer.again} />
      <ThisBrowser reach={reach} onChanged={answer.again} />
      {keeps && <GeneralForm reach={reach} onChanged={answer.again} />}
      <Problem problem={answer.problem} />
    </>
  );
}

/** By the newest try of each way. */
function noneWorks({ people }: Reach): boolean {
  const tries = people.flatMap(({ ways }) => ways.map(({ last }) => last));
  return tries.length > 0 && tries.every((last) => last !== null && last.result !== 'delivered');
}

function PersonWays({ person, onChanged }: { person: Person; onChanged: Changed }) {
  const { busy, problem, run } = useAction();
  const test = (way: Way) => void run(() => testWay(person.name, way).finally(onChanged));
  return (
    <li>
      <h3>{person.name}</h3>
      {person.ways.length === 0 && <p>{REACH.noWay}</p>}
      {person.ways.map(({ way, last }) => (
        <p key={way}>
          {REACH.ways[way]}:{' '}
          <span role="status">
            {last === null
              ? REACH.untried
              : last.result === 'delivered'
                ? REACH.delivered(when(last.at))
                : REACH.failed(when(last.at), last.because ?? '')}
          </span>{' '}
          <button
            type="button"
            class="plain"
            disabled={busy}
            aria-label={REACH.test(REACH.ways[way], person.name)}
            onClick={() => test(way)}
          >
            {REACH.testShort}
          </button>
        </p>
      ))}
      {person.push.map(({ id, label }) => (
        <button
          key={id}
          type="button"
          class="plain"
          disabled={busy}
          onClick={() => void run(() => removeBrowser(person.name, id, by()).then(onChanged))}
        >
          {REACH.browser.forget(label)}
        </button>
      ))}
      <button
        type="button"
        class="plain"
        disabled={busy}
        onClick={() => void run(() => removePerson(person.name, by()).then(onChanged))}
      >
        {REACH.remove(person.name)}
      </button>
      <Problem problem={problem} />
    </li>
  );
}

/** The people that there are to choose from, this reader first; of others the API tells those who set up people. */
const namesOf = ({ people, others }: Reach): string[] => [
  ...new Set([ownName.value, ...people.map(({ name }) => name), ...others].filter((name) => name !== '')),
];

const typedFor = ({ people }: Reach, name: string): Typed => {
  const known = people.find((person) => person.name === name);
  return known === undefined ? startOf(WISHES) : typedWishes(known, theirUnits());
};

function WishesForm({ reach, onChanged }: { reach: Reach; onChanged: Changed }) {
  const id = useId();
  const keeps = may('keep');
  const chosen = useSignal(keeps ? '' : ownName.value);
  const newName = useSignal('');
  const typed = useSignal<Typed>(typedFor(reach, chosen.value));
  const said = useSignal('');
  const { busy, problem, run, complain } = useAction();
  const texts = REACH.person;
  const choose = (name: string): void => {
    chosen.value = name;
    said.value = '';
    typed.value = typedFor(reach, name);
  };
  const save = (): void => {
    const name = (chosen.value || newName.value).trim();
    const made = wishesBody(typed.value, theirUnits());
    if ('wrong' in made || name === '') {
      complain(REACH.wrong('wrong' in made ? made.wrong.label : texts.name));
      return;
    }
    void run(async () => {
      await putWishes(name, made.body, by());
      said.value = texts.saved(name);
      await onChanged();
    });
  };
  return (
    <details>
      <summary>{keeps ? texts.title : texts.own}</summary>
      <form
        onSubmit={(event) => {
          event.preventDefault();
          save();
        }}
      >
        {keeps && (
          <div class="field">
            <label for={id}>{texts.choose}</label>
            <select id={id} value={chosen.value} onChange={(event) => choose(event.currentTarget.value)}>
              <option value="">{texts.other}</option>
              {namesOf(reach).map((name) => (
                <option key={name} value={name}>
                  {name}
                </option>
              ))}
            </select>
          </div>
        )}
        {chosen.value === '' && (
          <Field
            label={texts.name}
            value={newName.value}
            required
            onValue={(name) => {
              newName.value = name;
            }}
          />
        )}
        <TableFields fields={WISHES} typed={typed} />
        <button type="submit" disabled={busy}>
          {texts.save}
        </button>
        <Problem problem={problem} />
        <p role="status">{said.value}</p>
      </form>
    </details>
  );
}

function ThisBrowser({ reach, onChanged }: { reach: Reach; onChanged: Changed }) {
  const texts = REACH.browser;
  const lacking = useSignal<Lack | null>(null);
  const said = useSignal('');
  const { busy, problem, run } = useAction();
  const lack = pushLack() ?? lacking.value;
  const allow = (name: string): void =>
    void run(async () => {
      const got = await subscribe(reach.pushKey);
      if ('lack' in got) {
        lacking.value = got.lack;
        return;
      }
      lacking.value = null;
      await addBrowser(name, got.subscription, by());
      said.value = texts.done;
      await onChanged();
    });
  return (
    <>
      <h3>{texts.title}</h3>
      <p class="quiet">{texts.lead}</p>
      {lack !== null && <p role="status">{texts.lacks[lack]}</p>}
      {(lack === null || lack === 'service') &&
        namesOf(reach).map((name) => (
          <button key={name} type="button" class="plain" disabled={busy} onClick={() => allow(name)}>
            {texts.allow(name)}
          </button>
        ))}
      <Problem problem={problem} />
      <p role="status">{said.value}</p>
    </>
  );
}

function GeneralForm({ reach, onChanged }: { reach: Reach; onChanged: Changed }) {
  const texts = REACH.general;
  const typed = useSignal<Typed>(typedGeneral(reach, theirUnits()));
  const said = useSignal('');
  const { busy, problem, run, complain } = useAction();
  const save = (): void => {
    const made = generalBody(typed.value, theirUnits(), reach);
    if ('wrong' in made) {
      complain(REACH.wrong(made.wrong.label));
      return;
    }
    void run(async () => {
      await putGeneral({ ...made.body, ...by() });
      said.value = texts.saved;
      await onChanged();
    });
  };
  return (
    <details>
      <summary>{texts.title}</summary>
      <form
        // What belongs to no server may be left empty; what cannot be understood is said.
        noValidate
        onSubmit={(event) => {
          event.preventDefault();
          save();
        }}
      >
        <TableFields fields={GENERAL} typed={typed} />
        <button type="submit" disabled={busy}>
          {texts.save}
        </button>
        <Problem problem={problem} />
        <p role="status">{said.value}</p>
      </form>
    </details>
  );
}
