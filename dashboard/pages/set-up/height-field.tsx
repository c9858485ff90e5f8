import type { Signal } from '@preact/signals';
import { useId } from 'preact/hooks';
import { standardPressureHPa } from '../../../shared/chemistry/atmosphere.ts';
import { methanolBoilingC } from '../../../shared/chemistry/methanol.ts';
import { Workings } from '../../../shared/plan/workings.ts';
import { typedAltitudeM } from '../../height.ts';
import { SET_UP } from '../../texts/set-up.ts';
import { decimal, type HeightUnit } from '../../units.ts';
import { Field } from '../../views/form.tsx';
import { degrees } from '../../views/words.ts';
import { boilsThere } from './place.ts';

const texts = SET_UP.height;

/** An altitude as it is typed, with what it means for methanol. */
export function HeightField({ text, unit }: { text: Signal<string>; unit: Signal<HeightUnit> }) {
  const id = useId();
  const altitudeM = typedAltitudeM(text.value, unit.value);
  return (
    <div class="height">
      <div class="inline">
        <Field
          label={texts.field}
          value={text.value}
          numeric
          required
          onValue={(typed) => {
            text.value = typed;
          }}
        />
        <div class="field narrow">
          <label for={id}>{texts.unit}</label>
          <select
            id={id}
            value={unit.value}
            onChange={(event) => {
              unit.value = event.currentTarget.value === 'ft' ? 'ft' : 'm';
            }}
          >
            <option value="m">{texts.metres}</option>
            <option value="ft">{texts.feet}</option>
          </select>
        </div>
        <button
          type="button"
          class="plain"
          onClick={() => {
            text.value = '0';
          }}
        >
          {texts.seaLevel}
        </button>
      </div>
      <p class="boils-there" role="status">
        {altitudeM !== undefined
          ? texts.boils(degrees(boilsThere(altitudeM).boilingC), boilsThere(altitudeM).pressureHPa.toFixed(0))
          : text.value.trim() === ''
            ? texts.unknown
            : texts.wrong}
      </p>
      {altitudeM !== undefined && <Worked altitudeM={altitudeM} />}
    </div>
  );
}

/** The two formulas behind it, with what went in and where they are from. */
function Worked({ altitudeM }: { altitudeM: number }) {
  const workings = new Workings();
  const pressureHPa = workings.by('pressureHPa', standardPressureHPa, { altitudeM });
  workings.by('methanolBoilingC', methanolBoilingC, { pressureHPa });
  return (
    <details class="worked">
      <summary>{texts.opened}</summary>
      {workings.list.map(({ gives, formula, inputs, constants, source, uncertainty }) => (
        <div key={gives}>
          <p class="strong">{gives}</p>
          <p class="code">{formula}</p>
          <p>
            {[
              ...Object.entries(inputs).map(([name, { value, unit }]) => [
                name,
                typeof value === 'number' ? `${decimal(value, 1)} ${unit}` : String(value),
              ]),
              ...Object.entries(constants),
            ]
              .map(([name, value]) => `${name} = ${value}`)
              .join(', ')}
          </p>
          <p>
            {texts.uncertain}: {uncertainty}
          </p>
          <p class="quiet">
            {texts.source}: {source}
          </p>
        </div>
      ))}
    </details>
  );
}
