import type { ComponentChildren } from 'preact';
import { hrefOf } from '../../route.ts';
import { may, person } from '../../session.ts';
import { PEOPLE, RIGHT_WORDS } from '../../texts/people.ts';
import { SET_UP } from '../../texts/set-up.ts';
import { useAnswer } from '../../views/answer.ts';
import { Problem } from '../../views/form.tsx';
import { Part } from '../../views/part.tsx';
import { getPeople, getPublishers, getTokens } from './calls.ts';
import { Noted } from './noted.tsx';
import { OwnPassphrase } from './own-passphrase.tsx';
import './people.css';
import { People } from './people.tsx';
import { Publishers } from './publishers.tsx';
import { Tokens } from './tokens.tsx';

/** Others may change it meanwhile, ms. */
const AGAIN_MS = 30_000;

/** A part whose list is asked for; its forms stay as they are while it is asked for anew. */
function Asked<T>({
  ask,
  children,
}: {
  ask: () => Promise<T>;
  children: (found: T, again: () => Promise<void>) => ComponentChildren;
}) {
  const { value, problem, again } = useAnswer(ask, AGAIN_MS);
  const found = value.value;
  return (
    <>
      <Problem problem={problem} />
      {found !== undefined
        ? children(found, again)
        : problem === undefined && <p class="quiet">{PEOPLE.loading}</p>}
    </>
  );
}

/** People, scripts and devices; whoever does not set them up has their own passphrase and tokens here. */
export function PeoplePage() {
  const keeps = may('keep');
  const own = person.value;
  return (
    <div class="people">
      <p class="back">
        <a class="button plain" href={hrefOf('set-up')}>
          <span aria-hidden="true">← </span>
          {SET_UP.title}
        </a>
      </p>
      <h1>{PEOPLE.title}</h1>
      <p>{PEOPLE.lead}</p>
      {!keeps && <p class="quiet">{PEOPLE.lacksMore(RIGHT_WORDS.keep)}</p>}
      {keeps && (
        <Part title={PEOPLE.people.title}>
          <Asked ask={getPeople}>{(people, again) => <People people={people} again={again} />}</Asked>
        </Part>
      )}
      {own !== undefined && (
        <>
          <Part title={PEOPLE.own.title}>
            <OwnPassphrase name={own.name} />
          </Part>
          <Part title={PEOPLE.tokens.title}>
            <Asked ask={getTokens}>
              {(tokens, again) => <Tokens own={own} tokens={tokens} again={again} />}
            </Asked>
          </Part>
        </>
      )}
      {keeps && (
        <>
          <Part title={PEOPLE.devices.title}>
            <Asked ask={getPublishers}>
              {(devices, again) => <Publishers devices={devices} again={again} />}
            </Asked>
          </Part>
          <Part title={PEOPLE.noted.title}>
            <Noted />
          </Part>
        </>
      )}
    </div>
  );
}
