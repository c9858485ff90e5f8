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
import { TEXTS } from '../texts/live.ts';
import { SHELL_TEXTS } from '../texts/shell.ts';
import { Field } from './form.tsx';

/** What the reader chooses for this browser. */

function Choice<T extends string>(props: {
  legend: string;
  name: string;
  value: T;
  options: Readonly<Record<T, string>>;
  onChoose: (value: T) => void;
}) {
  return (
    <fieldset>
      <legend>{props.legend}</legend>
      {(Object.entries(props.options) as [T, string][]).map(([value, label]) => (
        <label key={value} class="check">
          <input
            type="radio"
            name={props.name}
            checked={props.value === value}
            onChange={() => props.onChoose(value)}
          />
          {label}
        </label>
      ))}
    </fieldset>
  );
}

export function Choices() {
  return (
    <div class="choices-kept">
      <Choice
        legend={TEXTS.display.temperature}
        name="unit"
        value={unit.value}
        options={{ C: '°C', F: '°F' }}
        onChoose={(value) => {
          unit.value = value;
        }}
      />
      <Choice
        legend={TEXTS.display.clock}
        name="clock"
        value={hourCycle.value}
        options={TEXTS.display.hours}
        onChoose={(value) => {
          hourCycle.value = value;
        }}
      />
      <Choice
        legend={TEXTS.display.volume}
        name="volume"
        value={volumeUnit.value}
        options={TEXTS.display.volumes}
        onChoose={(value) => {
          volumeUnit.value = value;
        }}
      />
      <Choice
        legend={TEXTS.display.height}
        name="height"
        value={heightUnit.value}
        options={TEXTS.display.heights}
        onChoose={(value) => {
          heightUnit.value = value;
        }}
      />
      <Choice
        legend={TEXTS.display.theme}
        name="theme"
        value={theme.value}
        options={TEXTS.display.themes}
        onChoose={(value) => {
          theme.value = value;
        }}
      />
      <Choice
        legend={TEXTS.display.glycerol}
        name="glycerol"
        value={glycerolWord.value}
        options={TEXTS.display.glycerolWords}
        onChoose={(value) => {
          glycerolWord.value = value;
        }}
      />
      <Choice
        legend={SHELL_TEXTS.sound.legend}
        name="sound"
        value={soundOn.value}
        options={SHELL_TEXTS.sound.choices}
        onChoose={chooseSound}
      />
      <Field
        label={TEXTS.display.name}
        help={TEXTS.display.nameHelp}
        value={personName.value}
        onValue={(name) => {
          personName.value = name;
        }}
      />
    </div>
  );
}
