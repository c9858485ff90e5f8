import { type Signal, useSignal } from '@preact/signals';
import { useId } from 'preact/hooks';
import type { Reach, Way } from '../../../shared/wire/reach.ts';
import { startOf, type Typed } from '../../forms.ts';
import { may, ownName } from '../../session.ts';
import { vessels } from '../../store.ts';
import { RIGHT_WORDS } from '../../texts/people.ts';
import { REACH } from '../../texts/reach.ts';
import { SET_UP } from '../../texts/set-up.ts';
import { whyFailed } from '../../texts/way-codes.ts';
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
import {
  GENERAL,
  generalBody,
  inFormWords,
  typedGeneral,
  typedWishes,
  vesselsIn,
  WISHES,
  wishesBody,
  withVessel,
} from './reach-forms.ts';

const EVERY_MS = 10_000;
type Person = Reach['people'][number];
type Changed = () => Promise<void>;
/** What was done last in this part, and by which form: with the next that is tried it is over. */
type Said = { form: 'person' | 'browser' | 'general'; words: string } | undefined;

interface FormProps {
  reach: Reach;
  said: Signal<Said>;
  onChanged: Changed;
}

function Done({ said, form }: { said: Signal<Said>; form: NonNullable<Said>['form'] }) {
  return <p role="status">{said.value?.form === form && said.value.words}</p>;
}

/** Who is told what, by which way, and whether it arrives. */
export function ReachPart() {
  const said = useSignal<Said>(undefined);
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
      {keeps && reach.smtp === null && <p>{REACH.noServer}</p>}
      {reach.publicUrl === null && <p>{REACH.noLink}</p>}
      <ul class="things">
        {reach.people.map((person) => (
          <PersonWays key={person.name} person={person} onChanged={answer.again} />
        ))}
      </ul>
      <WishesForm reach={reach} said={said} onChanged={answer.again} />
      <ThisBrowser reach={reach} said={said} onChanged={answer.again} />
      {keeps && <GeneralForm reach={reach} said={said} onChanged={answer.again} />}
      <Problem problem={answer.problem} />
    </>
  );
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
                : REACH.failed(when(last.at), whyFailed(last.because ?? ''))}
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

function WishesForm({ reach, said, onChanged }: FormProps) {
  const id = useId();
  const keeps = may('keep');
  const chosen = useSignal(keeps ? '' : ownName.value);
  const newName = useSignal('');
  const typed = useSignal<Typed>(typedFor(reach, chosen.value));
  const { busy, problem, run, complain } = useAction();
  const texts = REACH.person;
  const choose = (name: string): void => {
    chosen.value = name;
    said.value = undefined;
    typed.value = typedFor(reach, name);
  };
  const save = (): void => {
    const name = (chosen.value || newName.value).trim();
    said.value = undefined;
    const made = wishesBody(name, typed.value, theirUnits());
    if ('wrong' in made) {
      complain(made.wrong);
      return;
    }
    void run(async () => {
      await putWishes(name, made.body, by());
      said.value = { form: 'person', words: texts.saved(name) };
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
        <ToldVessels typed={typed} />
        <button type="submit" disabled={busy}>
          {texts.save}
        </button>
        <Problem problem={inFormWords(WISHES, problem)} />
        <Done said={said} form="person" />
      </form>
    </details>
  );
}

/** Of which vessels somebody is told; one that is gone stays to be unticked. */
function ToldVessels({ typed }: { typed: Signal<Typed> }) {
  const told = vesselsIn(typed.value);
  const all = [...new Set([...(vessels.value?.keys() ?? []), ...told])].sort();
  if (all.length === 0) return null;
  return (
    <fieldset>
      <legend>{REACH.person.vessels}</legend>
      <div class="by">
        {all.map((key) => (
          <label key={key} class="check">
            <input
              type="checkbox"
              checked={told.includes(key)}
              onChange={(event) => {
                typed.value = withVessel(typed.peek(), key, event.currentTarget.checked);
              }}
            />
            {key.replace(':', ' / ')}
          </label>
        ))}
      </div>
      <small class="quiet">{REACH.person.vesselsHelp}</small>
    </fieldset>
  );
}

function ThisBrowser({ reach, said, onChanged }: FormProps) {
  const texts = REACH.browser;
  const lacking = useSignal<Lack | null>(null);
  const { busy, problem, run } = useAction();
  const lack = pushLack() ?? lacking.value;
  const allow = (name: string): void =>
    void run(async () => {
      said.value = undefined;
      const got = await subscribe(reach.pushKey);
      if ('lack' in got) {
        lacking.value = got.lack;
        return;
      }
      lacking.value = null;
      await addBrowser(name, got.subscription, by());
      said.value = { form: 'browser', words: texts.done };
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
      <Done said={said} form="browser" />
    </>
  );
}

function GeneralForm({ reach, said, onChanged }: FormProps) {
  const texts = REACH.general;
  const typed = useSignal<Typed>(typedGeneral(reach, theirUnits()));
  const { busy, problem, run, complain } = useAction();
  const save = (): void => {
    said.value = undefined;
    const made = generalBody(typed.value, theirUnits(), reach);
    if ('wrong' in made) {
      complain(made.wrong);
      return;
    }
    void run(async () => {
      await putGeneral({ ...made.body, ...by() });
      said.value = { form: 'general', words: texts.saved };
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
        <Problem problem={inFormWords(GENERAL, problem)} />
        <Done said={said} form="general" />
      </form>
    </details>
  );
}
