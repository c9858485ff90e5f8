import { useSignal } from '@preact/signals';
import { errorC } from '../../../shared/thermometer/correction.ts';
import type { Check, Thermometer } from '../../../shared/wire/thermometers.ts';
import { may } from '../../session.ts';
import { channelWord } from '../../texts/set-up.ts';
import { THERMOMETERS } from '../../texts/thermometers.ts';
import { dayMonthAndYear } from '../../units.ts';
import { keyOf } from '../../vessels.ts';
import { useAnswer } from '../../views/answer.ts';
import { focusFirst, useFocusBack } from '../../views/focus.ts';
import { by, Field, NameField, Problem, useAction } from '../../views/form.tsx';
import { getThermometers, withdrawCheck } from './calls.ts';
import { CheckForm } from './check-form.tsx';
import { errorWords } from './error-words.ts';

const texts = THERMOMETERS;
const EVERY_MS = 60_000;

/** A day (UTC) as it is meant everywhere: noon of it is the same day in nearly every time zone. */
const day = (date: string): string => dayMonthAndYear(Date.parse(`${date}T12:00:00Z`));

/** Each thermometer, of one vessel or of all: how it was checked, and how it is. */
export function Thermometers({ vesselKey }: { vesselKey?: string }) {
  const { value, problem, again } = useAnswer(getThermometers, EVERY_MS);
  const all = value.value?.filter((one) => vesselKey === undefined || keyOf(one) === vesselKey);
  return (
    <>
      <Problem problem={problem} />
      {all?.length === 0 && <p>{texts.none}</p>}
      <ul class="things">
        {all?.map((one) => (
          <One
            key={`${keyOf(one)} ${one.channel}`}
            thermometer={one}
            isAlone={vesselKey !== undefined}
            onChanged={again}
          />
        ))}
      </ul>
    </>
  );
}

function One({
  thermometer,
  isAlone,
  onChanged,
}: {
  thermometer: Thermometer;
  isAlone: boolean;
  onChanged: () => Promise<void>;
}) {
  const open = useSignal<'check' | 'withdraw' | undefined>(undefined);
  const said = useSignal('');
  const { vessel, site, channel, check } = thermometer;
  const word = channelWord(channel);
  const name = isAlone ? word : `${vessel}, ${word}`;
  const close = (): void => {
    open.value = undefined;
  };
  const done = async (saying: string): Promise<void> => {
    await onChanged();
    close();
    said.value = saying;
  };
  return (
    <li>
      <h3>
        {word} {!isAlone && <span class="quiet">{texts.at(vessel, site)}</span>}
      </h3>
      <State thermometer={thermometer} />
      {may('keep') && open.value === undefined && (
        <div class="actions">
          <button
            type="button"
            class="plain"
            aria-label={texts.openOf(name)}
            onClick={() => {
              said.value = '';
              open.value = 'check';
            }}
          >
            {texts.open}
          </button>
          {check !== null && (
            <button
              type="button"
              class="plain"
              aria-label={texts.withdrawOf(name)}
              onClick={() => {
                said.value = '';
                open.value = 'withdraw';
              }}
            >
              {texts.withdraw}
            </button>
          )}
        </div>
      )}
      {open.value === 'check' && (
        <CheckForm thermometer={thermometer} onKept={() => done(texts.kept)} onCancel={close} />
      )}
      {open.value === 'withdraw' && (
        <WithdrawForm thermometer={thermometer} onDone={() => done(texts.withdrawn)} onCancel={close} />
      )}
      <p class="quiet" role="status">
        {said.value}
      </p>
    </li>
  );
}

function State({ thermometer: { check, overdue } }: { thermometer: Thermometer }) {
  if (check === null) return <p>{texts.notChecked}</p>;
  return (
    <>
      <p>
        {texts.checked(day(check.at.slice(0, 'YYYY-MM-DD'.length)), check.by)}
        {!overdue && `; ${texts.due(day(check.due))}`}.
      </p>
      <p class="quiet">{errorsOf(check)}</p>
      {overdue && <p class="strong">{texts.overdue(day(check.due))}</p>}
    </>
  );
}

const errorsOf = ({ ice, boiling }: Check): string =>
  [ice && errorWords('ice', errorC(ice)), boiling && errorWords('boiling', errorC(boiling))]
    .filter(Boolean)
    .join(' ');

function WithdrawForm({
  thermometer,
  onDone,
  onCancel,
}: {
  thermometer: Thermometer;
  onDone: () => unknown;
  onCancel: () => void;
}) {
  const reason = useSignal('');
  const { busy, problem, run } = useAction();
  useFocusBack();
  return (
    <form
      ref={focusFirst}
      class="stack"
      onSubmit={(event) => {
        event.preventDefault();
        void run(async () => {
          await withdrawCheck(thermometer, { reason: reason.value, ...by() });
          await onDone();
        });
      }}
    >
      <p class="quiet">{texts.withdrawHelp}</p>
      <Field
        label={texts.reason}
        value={reason.value}
        required
        onValue={(value) => {
          reason.value = value;
        }}
      />
      <NameField label={texts.name} />
      <Problem problem={problem} />
      <div class="actions">
        <button type="submit" disabled={busy}>
          {texts.withdraw}
        </button>
        <button type="button" class="plain" onClick={onCancel}>
          {texts.cancel}
        </button>
      </div>
    </form>
  );
}
