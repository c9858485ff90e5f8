import type { PlanAnswer } from '../../../shared/plan/answer.ts';
import { glycerolWord, volumeUnit } from '../../settings.ts';
import { RECIPE_TEXTS as ALL, CAUTION_NAMES } from '../../texts/recipe.ts';
import { WORKING_TEXTS } from '../../texts/workings.ts';
import { decimal } from '../../units.ts';
import { PriorityMark } from '../../views/alarms.tsx';
import { Opened, type OpenedProps } from '../../views/opened.tsx';
import { capital, degrees, degreesApart, inTheirWords, litres } from '../../views/words.ts';
import { CautionNote, gravityOf } from './caution-note.tsx';
import { cautionEntry, goToEntry, labelOf } from './entries.tsx';
import { asTyped, fromSI, measured, weight } from './quantities.ts';
import { recipe, units } from './state.ts';

/** What the recipe comes to. */

const TEXTS = ALL.answer;
/** The estimate of the reaction's time that says: not within a day, min. */
const NOT_IN_A_DAY = 1440;

const volume = (L: number): string => measured(L, volumeUnit.value);
const percent = (value: number): string => `${decimal(value, value < 10 ? 2 : 1)} %`;
const minutes = (value: number): string =>
  value >= NOT_IN_A_DAY ? TEXTS.notInADay : `${decimal(value, value < 10 ? 1 : 0)} min`;
const hours = (value: number): string => `${decimal(value, value < 10 ? 1 : 0)} h`;
const kilograms = (value: number): string =>
  value < 1 ? weight(value * 1000) : `${decimal(value, value < 100 ? 2 : 1)} kg`;

type Estimate = {
  [K in keyof PlanAnswer]: `${K & string}Low` extends keyof PlanAnswer ? K : never;
}[keyof PlanAnswer] &
  string;

const bandOf = (plan: PlanAnswer, field: Estimate, say: (value: number) => string): string => {
  const [low, high] = [`${field}Low`, `${field}High`].map((name) => plan[name as 'fuelLLow']);
  return WORKING_TEXTS.band(say(low!), say(high!));
};

/** A number of the plan, with its working. */
function Row(props: Omit<OpenedProps, 'workings'>) {
  return <Opened {...props} workings={recipe.value.answer.workings} />;
}

function EstimateRow({
  label,
  field,
  say,
}: {
  label: string;
  field: Estimate;
  say: (value: number) => string;
}) {
  const plan = recipe.value.answer;
  return (
    <Row label={label} value={say(plan[field] as number)} band={bandOf(plan, field, say)} field={field} />
  );
}

/** What to mind, each with the way to where it comes from; on paper in full. */
function ToMind() {
  const { cautions } = recipe.value.answer;
  if (cautions.length === 0) return <p class="quiet">{TEXTS.noCautions}</p>;
  return (
    <section class="to-mind">
      <h3>{TEXTS.cautions(cautions.length)}</h3>
      <ul class="screen-only">
        {cautions.map((caution) => {
          const entry = cautionEntry(caution);
          return (
            <li key={`${caution.code} ${caution.text}`}>
              {entry === undefined ? (
                <CautionNote caution={caution} />
              ) : (
                <>
                  <PriorityMark priority={gravityOf(caution.code)} /> {CAUTION_NAMES[caution.code]},{' '}
                  <button type="button" class="link-button" onClick={() => goToEntry(entry)}>
                    {TEXTS.toField(labelOf(entry))}
                  </button>
                </>
              )}
            </li>
          );
        })}
      </ul>
      <ul class="paper-only">
        {cautions.map(({ code, text, source }) => (
          <li key={`${code} ${text}`}>
            <b>{CAUTION_NAMES[code]}.</b> {inTheirWords(text)}. {TEXTS.source(source)}
          </li>
        ))}
      </ul>
    </section>
  );
}

function Portions({ plan }: { plan: PlanAnswer }) {
  const { methoxidePortions: portions } = plan;
  return (
    <p class="portions">
      {portions === null
        ? TEXTS.noPortion
        : portions === 1
          ? TEXTS.oncePortion
          : TEXTS.portions(portions, weight(plan.methoxidePortionG), degrees(plan.methoxideNextBelowC))}
    </p>
  );
}

function WeighOut() {
  const { answer: plan, resolved } = recipe.value;
  const { esterification: acid, passes, catalyst: kind } = plan;
  const purity = decimal(resolved.catalyst.purityPercent, resolved.catalyst.purityPercent % 1 === 0 ? 0 : 1);
  const parts = [TEXTS.lyePurity(purity)];
  if (resolved.catalyst.grams !== null) parts.push(TEXTS.lyeGiven(weight(plan.catalystNeededG)));
  else if (plan.catalystForAcidG > 0)
    parts.push(TEXTS.lyeParts(weight(plan.catalystG - plan.catalystForAcidG), weight(plan.catalystForAcidG)));
  // An oil that is too acid is not for lye alone: what it would take is not set out to be weighed.
  const isForLye = acid === null;
  return (
    <section class="weigh">
      <h3>{TEXTS.weigh}</h3>
      <Row
        label={TEXTS.oil}
        value={volume(resolved.oil.volumeL)}
        note={kilograms(plan.oilKg)}
        field="oilKg"
        large
      />
      {acid !== null && (
        <>
          <div class="acid">
            <h4>{TEXTS.acidFirst}</h4>
            <Row
              label={TEXTS.acidMethanol}
              value={volume(acid.methanolL)}
              note={kilograms(acid.methanolKg)}
              field="esterification.methanolKg"
              large
            />
            <Row
              label={TEXTS.sulphuric(asTyped(acid.sulphuricAcidPurityPercent))}
              value={kilograms(acid.sulphuricAcidKg)}
              field="esterification.sulphuricAcidKg"
              large
            />
            <p>
              {TEXTS.acidAfter(
                `${decimal(acid.acidNumberLeftMgKOHPerG, 1)} (${WORKING_TEXTS.band(decimal(acid.acidNumberLeftMgKOHPerGLow, 1), decimal(acid.acidNumberLeftMgKOHPerGHigh, 1))})`,
              )}
            </p>
          </div>
          <h4>{TEXTS.asIs}</h4>
          <p>{TEXTS.asIsWhy}</p>
        </>
      )}
      <Row
        label={TEXTS.methanol}
        value={volume(plan.methanolL)}
        note={kilograms(plan.methanolKg)}
        field="methanolL"
        large={isForLye}
      />
      <Row
        label={TEXTS.lye(kind)}
        value={weight(plan.catalystG)}
        note={parts.join('; ')}
        field={resolved.catalyst.grams === null ? 'catalystG' : 'catalystNeededG'}
        large={isForLye}
      />
      {passes.length > 1 && (
        <ul class="pass-list">
          {passes.map((pass, i) => (
            <li key={i}>
              <b>{TEXTS.perPass(i + 1, asTyped(pass.sharePercent))}</b> {volume(pass.methanolL)},{' '}
              {weight(pass.catalystG)} {kind}
            </li>
          ))}
        </ul>
      )}
      <Portions plan={plan} />
      <p class="paper-only by-hand">{ALL.print.byHand}</p>
    </section>
  );
}

function Temperatures() {
  const plan = recipe.value.answer;
  const { temperatureC } = recipe.value.resolved.reaction;
  const apart = plan.methanolBoilingC - temperatureC;
  return (
    <section>
      <h3>{TEXTS.temperatures}</h3>
      <Row
        label={TEXTS.react}
        value={degrees(temperatureC)}
        note={apart > 0 ? TEXTS.belowBoiling(degreesApart(apart)) : TEXTS.aboveBoiling(degreesApart(-apart))}
      />
      <EstimateRow label={TEXTS.boils} field="methanolBoilingC" say={degrees} />
      <Row label={TEXTS.dosing} value={degrees(plan.highestDosingC)} field="highestDosingC" />
      <Row label={TEXTS.peak} value={degrees(plan.methoxidePeakC)} field="methoxidePeakC" />
      <Row label={TEXTS.allowed} value={degrees(plan.methoxideAllowedC)} how={TEXTS.allowedHow} />
      <Row label={TEXTS.mixed} value={degrees(plan.mixedC)} field="mixedC" />
      <EstimateRow label={TEXTS.water} field="waterBoilingC" say={degrees} />
      {plan.glycerolSetsBelowC !== null && (
        <Row
          label={TEXTS.sets(capital(glycerolWord.value))}
          value={degrees(plan.glycerolSetsBelowC)}
          how={TEXTS.setsHow}
        />
      )}
    </section>
  );
}

function Times() {
  const { watch, passes } = recipe.value.answer;
  return (
    <section>
      <h3>{TEXTS.times}</h3>
      <Row
        label={TEXTS.mixMethoxide}
        value={minutes(watch.limits.methoxideMinutes!)}
        how={TEXTS.mixMethoxideHow}
      />
      <Row
        label={passes.length > 1 ? TEXTS.reactionEach : TEXTS.reaction}
        value={minutes(watch.requiredReactionMinutes)}
        how={TEXTS.asAsked}
      />
      <EstimateRow label={TEXTS.estimatedReaction} field="reactionMinutes" say={minutes} />
      <Row label={TEXTS.settle} value={hours(watch.requiredSettleHours)} how={TEXTS.asAsked} />
      <EstimateRow label={TEXTS.estimatedSettle} field="settleHours" say={hours} />
    </section>
  );
}

function Outcome() {
  const word = glycerolWord.value;
  const grams = (value: number) => weight(value);
  return (
    <section>
      <h3>{TEXTS.outcome}</h3>
      <EstimateRow label={TEXTS.washed} field="washedFuelL" say={volume} />
      <EstimateRow label={TEXTS.yield} field="yieldPercent" say={percent} />
      <EstimateRow label={TEXTS.conversion} field="expectedConversionPercent" say={percent} />
      <EstimateRow label={TEXTS.crude} field="fuelL" say={volume} />
      <EstimateRow label={TEXTS.layer(capital(word))} field="glycerolLayerL" say={volume} />
      <EstimateRow label={TEXTS.soap} field="soapG" say={grams} />
      <EstimateRow label={TEXTS.left} field="methanolLeftKg" say={kilograms} />
      <EstimateRow label={TEXTS.recoverable(word)} field="recoveredFromGlycerolKg" say={kilograms} />
      <EstimateRow label={TEXTS.recoverableFuel} field="recoveredFromFuelKg" say={kilograms} />
      <p class="quiet">{TEXTS.noTest}</p>
    </section>
  );
}

function More() {
  const { answer: plan, resolved } = recipe.value;
  const titrated = plan.titration;
  const tall = fromSI('height', plan.liquidHeightM, units.value);
  return (
    <details class="rarer">
      <summary>{TEXTS.more}</summary>
      {titrated !== null && resolved.oil.titration !== null && (
        <>
          <p>
            {TEXTS.mean(
              asTyped(titrated.meanMl),
              resolved.oil.titration.titrant,
              decimal(titrated.spreadMl, 2),
              titrated.runs,
            )}
          </p>
          <Row
            label={TEXTS.titrated}
            value={`${decimal(titrated.molPerL, 4)} mol/L`}
            field="titration.molPerL"
          />
          <Row
            label={TEXTS.acidNumber}
            value={`${decimal(plan.acidNumberMgKOHPerG, 2)} mg KOH/g`}
            field="acidNumberMgKOHPerG"
          />
          <Row label={TEXTS.ffa} value={percent(plan.freeFattyAcidPercent)} field="freeFattyAcidPercent" />
          <Row label={TEXTS.esterWater} value={weight(plan.soapWaterG)} field="soapWaterG" />
        </>
      )}
      <Row
        label={TEXTS.molar}
        value={`${decimal(plan.methanolToOilMolar, 2)} ${TEXTS.molarUnit}`}
        field="methanolToOilMolar"
      />
      <Row
        label={TEXTS.ofOil}
        value={percent(plan.catalystPercentOfOilMass)}
        field="catalystPercentOfOilMass"
      />
      <Row label={TEXTS.near} value={degrees(plan.nearBoilingC)} field="nearBoilingC" />
      <Row label={TEXTS.next} value={degrees(plan.methoxideNextBelowC)} how={TEXTS.nextHow} />
      <Row label={TEXTS.pressure} value={`${decimal(plan.pressureHPa, 0)} hPa`} field="pressureHPa" />
      <Row
        label={TEXTS.oilDensity}
        value={`${decimal(plan.oilDensityKgPerM3, 0)} kg/m³`}
        field="oilDensityKgPerM3"
      />
      <Row
        label={TEXTS.oilMolar}
        value={`${decimal(plan.oilMolarMassGPerMol, 0)} g/mol`}
        field="oilMolarMassGPerMol"
      />
      <Row
        label={TEXTS.methanolDensity}
        value={`${decimal(plan.methanolDensityKgPerM3, 0)} kg/m³`}
        field="methanolDensityKgPerM3"
      />
      <Row label={TEXTS.oilMass} value={kilograms(plan.oilKg)} field="oilKg" />
      <Row label={TEXTS.methanol} value={kilograms(plan.methanolKg)} field="methanolKg" />
      <EstimateRow
        label={TEXTS.soapInFuel}
        field="fuelSoapPpm"
        say={(value) => `${Math.round(value).toLocaleString('en')} ppm`}
      />
      <Row label={TEXTS.height} value={`${decimal(tall, 2)} ${units.value.height}`} field="liquidHeightM" />
    </details>
  );
}

export const ANSWER_ID = 'recipe-answer';

export function Answer() {
  return (
    <section class="recipe-answer" id={ANSWER_ID} tabIndex={-1}>
      <h2>{TEXTS.title}</h2>
      <ToMind />
      <WeighOut />
      <div class="numbers">
        <Temperatures />
        <Times />
        <Outcome />
      </div>
      <More />
    </section>
  );
}

/** What matters most, always in sight on a narrow page. */
export function Strip() {
  const { answer: plan, resolved } = recipe.value;
  return (
    <aside class="recipe-strip" aria-label={TEXTS.strip}>
      <p>
        {litres(resolved.oil.volumeL)} →{' '}
        {plan.esterification === null ? (
          <>
            <b>{volume(plan.methanolL)}</b> {TEXTS.methanol.toLowerCase()}, <b>{weight(plan.catalystG)}</b>{' '}
            {plan.catalyst}
          </>
        ) : (
          <b>{TEXTS.acidFirst}</b>
        )}
        {plan.cautions.length > 0 && <span class="strong">. {TEXTS.cautions(plan.cautions.length)}</span>}
      </p>
      <button
        type="button"
        class="link-button"
        onClick={() => {
          const answer = document.getElementById(ANSWER_ID);
          answer?.scrollIntoView();
          answer?.focus({ preventScroll: true });
        }}
      >
        {TEXTS.toAnswer}
      </button>
    </aside>
  );
}
