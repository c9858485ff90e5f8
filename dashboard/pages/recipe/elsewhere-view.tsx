import { useComputed, useSignal } from '@preact/signals';
import { useId } from 'preact/hooks';
import type { PlanAnswer } from '../../../shared/plan/answer.ts';
import { unit } from '../../settings.ts';
import { CAUTION_NAMES, RECIPE_TEXTS } from '../../texts/recipe.ts';
import { decimal } from '../../units.ts';
import { degrees, degreesApart } from '../../views/words.ts';
import { cautionsMoved, type Elsewhere, entered, planThere } from './elsewhere.ts';
import { PLACE } from './form.ts';
import { height, SI } from './quantities.ts';
import { form, recipe, units } from './state.ts';

/** Two sliders: the same recipe higher up, or hotter. */

const TEXTS = RECIPE_TEXTS.elsewhere;
const ALTITUDE = { min: -500, max: 4000, step: 20 } as const;
const TEMPERATURE = { min: 30, max: 80, step: 0.5 } as const;

function Slider(props: {
  label: string;
  value: number;
  said: string;
  range: { min: number; max: number; step: number };
  onValue: (value: number) => void;
}) {
  const id = useId();
  const { min, max, step } = props.range;
  return (
    <div class="slider">
      <label for={id}>{props.label}</label>
      <b>{props.said}</b>
      <input
        id={id}
        type="range"
        min={Math.min(min, props.value)}
        max={Math.max(max, props.value)}
        step={step}
        value={props.value}
        aria-valuetext={props.said}
        onInput={(event) => props.onValue(event.currentTarget.valueAsNumber)}
      />
    </div>
  );
}

interface Compared {
  what: string;
  say: (plan: PlanAnswer, at: Elsewhere) => string;
  /** What changes, as a number; and how a change of it is said. */
  value: (plan: PlanAnswer, at: Elsewhere) => number;
  change: (by: number) => string;
}

const signed = (value: number, say: (size: number) => string): string =>
  `${value > 0 ? '+' : '−'}${say(Math.abs(value))}`;
const degreesBy = (by: number) => signed(by, degreesApart);
const minutes = (value: number): string =>
  value >= 1440 ? RECIPE_TEXTS.answer.notInADay : `${decimal(value, 0)} min`;

const ROWS: readonly Compared[] = [
  {
    what: TEXTS.below,
    value: (plan, at) => plan.methanolBoilingC - at.temperatureC,
    say: (plan, at) => {
      const apart = plan.methanolBoilingC - at.temperatureC;
      return apart >= 0 ? degreesApart(apart) : TEXTS.above(degreesApart(-apart));
    },
    change: degreesBy,
  },
  {
    what: TEXTS.boils,
    value: (plan) => plan.methanolBoilingC,
    say: (plan) => degrees(plan.methanolBoilingC),
    change: degreesBy,
  },
  {
    what: TEXTS.dosing,
    value: (plan) => plan.highestDosingC,
    say: (plan) => degrees(plan.highestDosingC),
    change: degreesBy,
  },
  {
    what: TEXTS.minutes,
    value: (plan) => plan.reactionMinutes,
    say: ({ reactionMinutes, reactionMinutesLow, reactionMinutesHigh }) =>
      `${minutes(reactionMinutes)} (${decimal(reactionMinutesLow, 0)} to ${minutes(reactionMinutesHigh)})`,
    change: (by) => signed(by, (size) => `${decimal(size, 0)} min`),
  },
  {
    what: TEXTS.conversion,
    value: (plan) => plan.expectedConversionPercent,
    say: (plan) =>
      `${decimal(plan.expectedConversionPercent, 1)} % (${decimal(plan.expectedConversionPercentLow, 0)} to ${decimal(plan.expectedConversionPercentHigh, 0)} %)`,
    change: (by) => signed(by, (size) => `${decimal(size, 1)} %`),
  },
];
/** Under this a change is none that could be read. */
const LEAST_CHANGE = 0.05;

export function ElsewhereView() {
  const moved = useSignal<Partial<Elsewhere>>({});
  const from = useComputed(() => entered(recipe.value));
  const to = useComputed<Elsewhere>(() => ({ ...from.value, ...moved.value }));
  const there = useComputed(() => planThere(recipe.value.request, from.value, to.value, unit.value));
  const here = recipe.value.answer;
  const isMoved = Object.keys(moved.value).length > 0;
  const { come, go } = cautionsMoved(here, there.value);
  const names = (codes: readonly (keyof typeof CAUTION_NAMES)[]) =>
    codes.map((code) => CAUTION_NAMES[code].toLowerCase()).join(', ');

  const take = (): void => {
    const { altitudeM, temperatureC } = moved.value;
    const next = { ...form.value };
    if (altitudeM !== undefined) {
      next[PLACE] = { text: '', units: SI };
      next['site.pressureHPa'] = { text: '', units: SI };
      next['site.altitudeM'] = { text: String(altitudeM), units: SI };
    }
    if (temperatureC !== undefined) next['reaction.temperatureC'] = { text: String(temperatureC), units: SI };
    form.value = next;
    moved.value = {};
  };

  return (
    <section class="elsewhere">
      <h2>{TEXTS.title}</h2>
      <p class="quiet">{TEXTS.lead}</p>
      <div class="sliders">
        <Slider
          label={TEXTS.altitude}
          value={to.value.altitudeM}
          said={height(to.value.altitudeM, units.value)}
          range={ALTITUDE}
          onValue={(altitudeM) => {
            moved.value = { ...moved.value, altitudeM };
          }}
        />
        <Slider
          label={TEXTS.temperature}
          value={to.value.temperatureC}
          said={degrees(to.value.temperatureC)}
          range={TEMPERATURE}
          onValue={(temperatureC) => {
            moved.value = { ...moved.value, temperatureC };
          }}
        />
      </div>
      <table>
        <thead>
          <tr>
            {Object.values(TEXTS.columns).map((column) => (
              <th key={column} scope="col">
                {column}
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {ROWS.map(({ what, say, value, change }) => {
            const by = value(there.value, to.value) - value(here, from.value);
            return (
              <tr key={what}>
                <th scope="row">{what}</th>
                <td data-name={TEXTS.columns.entered}>{say(here, from.value)}</td>
                <td data-name={TEXTS.columns.there}>
                  <b>{say(there.value, to.value)}</b>
                </td>
                <td data-name={TEXTS.columns.change}>
                  {Math.abs(by) < LEAST_CHANGE ? TEXTS.same : change(by)}
                </td>
              </tr>
            );
          })}
        </tbody>
      </table>
      <p role="status">
        {!isMoved
          ? TEXTS.notMoved
          : come.length + go.length === 0
            ? TEXTS.noneMoved
            : [come.length > 0 && TEXTS.come(names(come)), go.length > 0 && TEXTS.go(names(go))]
                .filter((text) => text !== false)
                .join(' ')}
      </p>
      <div class="actions">
        <button
          type="button"
          class="plain"
          aria-disabled={!isMoved}
          onClick={() => {
            moved.value = {};
          }}
        >
          {TEXTS.back}
        </button>
        <button type="button" class="plain" aria-disabled={!isMoved} onClick={take}>
          {TEXTS.take}
        </button>
      </div>
    </section>
  );
}
