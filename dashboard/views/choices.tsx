import type { Signal } from '@preact/signals';
import { isShut, person } from '../session.ts';
import {
  glycerolWord,
  heightUnit,
  hourCycle,
  personName,
  soundOn,
  theme,
  unit,
  volumeUnit,
} from '../settings.ts';
import { chooseSound } from '../sound/keep.ts';
import { DISPLAY } from '../texts/display.ts';
import { SHELL_TEXTS } from '../texts/shell.ts';
import './choices.css';
import { Field } from './form.tsx';

/** What the reader chooses for this browser. */

function Choice<T extends string>({
  legend,
  name,
  chosen,
  options,
  onChoose = (value) => {
    chosen.value = value;
  },
}: {
  legend: string;
  name: string;
  chosen: Signal<T>;
  options: Readonly<Record<T, string>>;
  /** Where choosing takes more than keeping. */
  onChoose?: (value: T) => void;
}) {
  return (
    <fieldset>
      <legend>{legend}</legend>
      {(Object.entries(options) as [T, string][]).map(([value, label]) => (
        <label key={value} class="check">
          <input type="radio" name={name} checked={chosen.value === value} onChange={() => onChoose(value)} />
          {label}
        </label>
      ))}
    </fieldset>
  );
}

const UNIT_NAMES = { C: '°C', F: '°F' } as const;

export function Choices() {
  const texts = DISPLAY;
  return (
    <div class="choices-kept">
      <Choice legend={texts.temperature} name="unit" chosen={unit} options={UNIT_NAMES} />
      <Choice legend={texts.clock} name="clock" chosen={hourCycle} options={texts.hours} />
      <Choice legend={texts.volume} name="volume" chosen={volumeUnit} options={texts.volumes} />
      <Choice legend={texts.height} name="height" chosen={heightUnit} options={texts.heights} />
      <Choice legend={texts.theme} name="theme" chosen={theme} options={texts.themes} />
      <Choice legend={texts.glycerol} name="glycerol" chosen={glycerolWord} options={texts.glycerolWords} />
      <Choice
        legend={SHELL_TEXTS.sound.legend}
        name="sound"
        chosen={soundOn}
        options={SHELL_TEXTS.sound.choices}
        onChoose={chooseSound}
      />
      {person.value === undefined && !isShut.value && (
        <Field
          label={DISPLAY.name}
          help={DISPLAY.nameHelp}
          value={personName.value}
          onValue={(name) => {
            personName.value = name;
          }}
        />
      )}
    </div>
  );
}
