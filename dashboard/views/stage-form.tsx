import { type Signal, useSignal } from '@preact/signals';
import { useEffect, useRef } from 'preact/hooks';
import type { Missing, Vessel } from '../../shared/wire/api.ts';
import type { Batch } from '../../shared/wire/batch.ts';
import { MIXING_STAGES, type Stage } from '../../shared/wire/names.ts';
import { getConditions, goOn, startBatch } from '../api.ts';
import { mayAt } from '../forwarded.ts';
import { unit } from '../settings.ts';
import { isEnded, OTHER_STAGES, usualNext } from '../stages.ts';
import { batches, later, passedStages, refetch, vessels } from '../store.ts';
import { isToSee, missingName, STAGE_NAMES, TEXTS, toSee } from '../texts/live.ts';
import { decimal, degree, fromUnit, parseNumber, toUnit } from '../units.ts';
import { keyOf, plannedNearBoiling } from '../vessels.ts';
import { Cautions } from './cautions.tsx';
import { by, Dialog, Field, NameField, Problem, useAction } from './form.tsx';
import { amount, degrees, degreesApart, stageNow } from './words.ts';

function missingText(what: string, has: number, needs: number): string {
  const { name, unit: unitName } = missingName(what);
  // 0 of 1 is what nobody ticked or tested.
  if (has === 0 && needs === 1)
    return isToSee(what) ? TEXTS.stage.missingSeen(toSee(what)) : TEXTS.stage.missingTest(name);
  return what === 'below-boiling'
    ? TEXTS.stage.missingBoiling(degreesApart(has), degreesApart(needs))
    : TEXTS.stage.missingRow(name, amount(has), `${amount(needs)} ${unitName}`);
}

function MissingList({ missing }: { missing: Missing }) {
  return (
    <div class="missing">
      <p>
        <b>{TEXTS.stage.missing}</b>
      </p>
      <ul>
        {missing.map(({ what, has, needs }) => (
          <li key={what}>{missingText(what, has, needs)}</li>
        ))}
      </ul>
    </div>
  );
}

/** What is to be looked at before a stage, each with a box to tick. */
function Ticks({ toLookAt, ticked }: { toLookAt: readonly string[]; ticked: Signal<readonly string[]> }) {
  return (
    <fieldset class="ticks">
      <legend>{TEXTS.stage.toSee}</legend>
      {toLookAt.map((what) => (
        <label key={what} class="check">
          <input
            type="checkbox"
            checked={ticked.value.includes(what)}
            onChange={(event) => {
              const others = ticked.value.filter((one) => one !== what);
              ticked.value = event.currentTarget.checked ? [...others, what] : others;
            }}
          />
          {toSee(what)}
        </label>
      ))}
      <small class="quiet">{TEXTS.stage.unseen}</small>
    </fieldset>
  );
}

interface StageDialogProps {
  batch: string;
  vessel: Vessel;
  stage: Stage;
  /** Whether it is under way: what is heard of it then is no news. */
  onSending: (isUnderWay: boolean) => void;
  onClose: () => void;
}

/** Asks before a stage begins; shows what is missing, and takes a reason where one goes on anyway. */
function StageDialog({ batch, vessel, stage, onSending, onClose }: StageDialogProps) {
  const { busy, problem, run } = useAction();
  const sure = useSignal(false);
  const reason = useSignal('');
  const texts = TEXTS.stage;
  const name = STAGE_NAMES[stage];
  const ends = isEnded(stage);
  /** Undefined while it is not known. */
  const toLookAt = useSignal<readonly string[] | undefined>(undefined);
  /** The batch as it was when this was asked: who comes second is told of what the first has done. */
  const stagesKnown = useRef(batches.peek().get(batch)?.stages.length);
  const ticked = useSignal<readonly string[]>([]);
  // What was ticked since is missing no more.
  const missing = (problem?.missing ?? []).filter(({ what }) => !ticked.value.includes(what));
  const short = missing.length > 0;
  const at = keyOf(vessel);
  useEffect(() => {
    // Without an answer the stage can be said all the same: it is then noted as not confirmed.
    getConditions(batch, stage, at).then(
      ({ conditions }) => {
        toLookAt.value = conditions
          .filter(({ kind, met }) => kind === 'seen' && met === null)
          .map(({ what }) => what);
      },
      () => {},
    );
  }, [batch, stage, at, toLookAt]);

  const send = async (): Promise<void> => {
    onSending(true);
    const done = await run(async () => {
      await goOn(batch, {
        stage,
        vessel: at,
        ...by(),
        ...(stage === vessel.stage ? { again: true } : {}),
        // What is left open is missing; where it is not known what is to be looked at, that is noted as not seen.
        ...(toLookAt.value === undefined ? {} : { seen: ticked.value }),
        ...(stagesKnown.current === undefined ? {} : { stagesKnown: stagesKnown.current }),
        ...(short ? { anyway: { reason: reason.value.trim() } } : {}),
      });
      await refetch(batch).catch(later);
    });
    onSending(false);
    if (done) onClose();
  };

  return (
    <Dialog title={ends ? texts.titleEnd(name) : texts.title(name)} onClose={onClose} onSubmit={send}>
      <p class="quiet">
        {vessel.vessel} {TEXTS.vessel.at(vessel.site)}. {texts.now(stageNow(vessel))}.
      </p>
      <Cautions stages={[stage]} withMethanol={MIXING_STAGES.includes(stage)} open />
      {toLookAt.value !== undefined && toLookAt.value.length > 0 && (
        <Ticks toLookAt={toLookAt.value} ticked={ticked} />
      )}
      <NameField label={texts.by} />
      {ends && (
        <label class="check">
          <input
            type="checkbox"
            checked={sure.value}
            onChange={(event) => {
              sure.value = event.currentTarget.checked;
            }}
          />
          {texts.endCheck}
        </label>
      )}
      {short ? (
        <>
          <MissingList missing={missing} />
          <Field
            label={texts.reason}
            value={reason.value}
            required
            onValue={(text) => {
              reason.value = text;
            }}
          />
        </>
      ) : (
        <Problem problem={problem?.missing.length === 0 ? problem : undefined} />
      )}
      <div class="actions">
        <button type="button" class="plain" onClick={onClose}>
          {texts.cancel}
        </button>
        <button
          type="submit"
          disabled={busy || (ends && !sure.value) || (short && reason.value.trim() === '')}
        >
          {short ? texts.anyway : ends ? texts.confirmEnd(name) : texts.confirm(name)}
        </button>
      </div>
    </Dialog>
  );
}

const plannedCaution = (plannedC: number, boilingC: number): string => {
  const [planned, boiling] = [degrees(plannedC), degrees(boilingC)];
  if (plannedC < boilingC) {
    return TEXTS.batch.nearBoiling(planned, boiling, degreesApart(boilingC - plannedC));
  }
  return TEXTS.batch.wouldBoil(planned, boiling, planned === boiling ? 'at' : 'above');
};

const START = { temperatureC: 55, minutes: '60', settleHours: '24', stirrerSpeed: '200' } as const;

function StartDialog({ vessel, onClose }: { vessel: Vessel; onClose: () => void }) {
  const { busy, problem, run, complain } = useAction();
  const name = useSignal('');
  const temperature = useSignal(decimal(toUnit(START.temperatureC, unit.peek()), 0));
  const minutes = useSignal<string>(START.minutes);
  const settle = useSignal<string>(START.settleHours);
  const stirrer = useSignal<string>(START.stirrerSpeed);
  /** The temperature that was ticked as meant: another one asks again. */
  const meant = useSignal('');
  const texts = TEXTS.batch;
  const typedC = parseNumber(temperature.value);
  const plannedC = typedC === undefined ? undefined : fromUnit(typedC, unit.value);
  const caution = plannedC === undefined ? undefined : plannedNearBoiling(plannedC, vessel.boilingC);
  const fields = [
    {
      label: texts.temperature(degree(unit.value)),
      value: temperature,
      required: true,
      caution: caution && plannedCaution(plannedC!, vessel.boilingC),
    },
    { label: texts.minutes, value: minutes, required: true },
    { label: texts.settle, value: settle, required: true },
    { label: texts.speed, value: stirrer, required: false },
  ];

  const send = async (): Promise<void> => {
    const wrong = fields.find(
      ({ value, required }) =>
        parseNumber(value.value) === undefined && (required || value.value.trim() !== ''),
    );
    if (wrong !== undefined) {
      complain(texts.wrong(wrong.label));
      return;
    }
    const typedName = name.value.trim();
    const done = await run(async () => {
      await startBatch({
        vessel: keyOf(vessel),
        ...(typedName === '' ? {} : { name: typedName }),
        ...by(),
        plan: {
          reaction: { temperatureC: fromUnit(parseNumber(temperature.value)!, unit.value) },
          watch: {
            requiredReactionMinutes: parseNumber(minutes.value)!,
            requiredSettleHours: parseNumber(settle.value)!,
            lowestStirrerSpeed: parseNumber(stirrer.value) ?? null,
          },
        },
      });
      await refetch().catch(later);
    });
    if (done) onClose();
  };

  return (
    <Dialog title={texts.start} onClose={onClose} onSubmit={send}>
      <p class="quiet">
        {vessel.vessel} {TEXTS.vessel.at(vessel.site)}
      </p>
      <Field
        label={texts.name}
        value={name.value}
        onValue={(text) => {
          name.value = text;
        }}
      />
      {fields.map(({ label, value, required, caution: said }) => (
        <Field
          key={label}
          label={label}
          value={value.value}
          numeric
          required={required}
          caution={said}
          onValue={(text) => {
            value.value = text;
          }}
        />
      ))}
      {caution === 'boils' && (
        <label class="check">
          <input
            type="checkbox"
            checked={meant.value === temperature.value}
            onChange={(event) => {
              meant.value = event.currentTarget.checked ? temperature.value : '';
            }}
          />
          {texts.meant}: {degrees(plannedC!)}
        </label>
      )}
      <NameField label={TEXTS.stage.by} />
      <Problem problem={problem} />
      <div class="actions">
        <button type="button" class="plain" onClick={onClose}>
          {texts.cancel}
        </button>
        <button type="submit" disabled={busy || (caution === 'boils' && meant.value !== temperature.value)}>
          {texts.submit}
        </button>
      </div>
    </Dialog>
  );
}

/** Open batches of the vessel's place that it could take part in. */
const batchesAt = (vessel: Vessel): Batch[] => {
  const ids = new Set(
    [...(vessels.value?.values() ?? [])].filter(({ site }) => site === vessel.site).map(({ batch }) => batch),
  );
  return [...batches.value.values()].filter(({ id, open }) => open && ids.has(id));
};

function OtherStages({ stages, onChoose }: { stages: readonly Stage[]; onChoose: (stage: Stage) => void }) {
  return (
    <ul class="choices">
      {stages.map((stage) => (
        <li key={stage}>
          <button type="button" class="plain" onClick={() => onChoose(stage)}>
            {STAGE_NAMES[stage]}
          </button>
        </li>
      ))}
    </ul>
  );
}

/** Stages that another vessel can have in a batch. */
const GUEST_STAGES: readonly Stage[] = ['methoxide', 'settle', 'wash', 'dry-fuel', 'recover', 'filter'];

/** What a person can do next with a vessel: start a batch, or take it on. */
export function GoOn({ vessel }: { vessel: Vessel }) {
  const asked = useSignal<{ batch: string; stage: Stage } | 'start' | undefined>(undefined);
  const close = (): void => {
    asked.value = undefined;
  };
  const isSending = useRef(false);
  const stageAsked = useRef(vessel.stage);
  if (!isSending.current) stageAsked.current = vessel.stage;
  const { batch } = vessel;
  const next = usualNext(vessel.stage, passedStages(vessel));
  const guests = batch === null ? batchesAt(vessel) : [];
  if (!mayAt('work', vessel.site)) return null;
  return (
    <div class="go-on">
      {batch === null ? (
        <button
          type="button"
          class="plain"
          onClick={() => {
            asked.value = 'start';
          }}
        >
          {TEXTS.batch.start}
        </button>
      ) : (
        <>
          {next !== undefined && (
            <button
              type="button"
              onClick={() => {
                asked.value = { batch, stage: next };
              }}
            >
              {TEXTS.stage.next(STAGE_NAMES[next])}
            </button>
          )}
          <details>
            <summary class="button plain">{TEXTS.stage.other}</summary>
            <OtherStages
              stages={OTHER_STAGES.filter((stage) => stage !== next)}
              onChoose={(stage) => {
                asked.value = { batch, stage };
              }}
            />
          </details>
        </>
      )}
      {guests.length > 0 && (
        <details>
          <summary class="button plain">{TEXTS.batch.join}</summary>
          {guests.map((guest) => (
            <section key={guest.id} class="guest" aria-label={guest.name}>
              <p>
                <bdi>{guest.name}</bdi>
              </p>
              <OtherStages
                stages={GUEST_STAGES}
                onChoose={(stage) => {
                  asked.value = { batch: guest.id, stage };
                }}
              />
            </section>
          ))}
        </details>
      )}
      {asked.value === 'start' && <StartDialog vessel={vessel} onClose={close} />}
      {typeof asked.value === 'object' && (
        <StageDialog
          // A changed stage under an open question is another question.
          key={`${asked.value.stage} after ${stageAsked.current}`}
          batch={asked.value.batch}
          vessel={vessel}
          stage={asked.value.stage}
          onSending={(isUnderWay) => {
            isSending.current = isUnderWay;
          }}
          onClose={close}
        />
      )}
    </div>
  );
}
