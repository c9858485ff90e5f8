import { quantitiesIn } from '../../../shared/rules/words.ts';
import type { Alarm } from '../../../shared/wire/api.ts';
import { STAGES, type Stage } from '../../../shared/wire/names.ts';
import { unit } from '../../settings.ts';
import { ALARM_TEXTS, FACTS, type FactKind } from '../../texts/alarms.ts';
import { channelName, STAGE_NAMES } from '../../texts/live.ts';
import { decimal, duration } from '../../units.ts';
import { degrees, degreesApart } from '../../views/words.ts';

const texts = ALARM_TEXTS.one;

/** What a rule worked out when it raised an alarm, as it was kept. */
export function Facts({ alarm }: { alarm: Alarm }) {
  const rows = Object.entries(alarm.facts).flatMap(([name, value]) => {
    const fact = FACTS[name];
    return fact === undefined || value === null
      ? []
      : [{ name, says: fact.says, value: sayFact(value, fact.kind) }];
  });
  if (rows.length === 0) return null;
  return (
    <>
      <h3>{texts.computed}</h3>
      <dl class="pairs">
        {rows.map(({ name, says, value }) => (
          <div key={name}>
            <dt>{says}</dt>
            <dd>{value}</dd>
          </div>
        ))}
      </dl>
    </>
  );
}

function sayFact(value: number | string | boolean, kind: FactKind): string {
  if (kind === 'stage') return STAGES.includes(value as Stage) ? STAGE_NAMES[value as Stage] : String(value);
  if (kind === 'channel') return channelName(String(value));
  if (kind === 'yes-no' || typeof value === 'boolean') return value ? texts.yes : texts.no;
  if (typeof value === 'string') return value;
  switch (kind) {
    case 'at':
      return degrees(value);
    case 'apart':
      return degreesApart(value);
    case 'rate':
      return quantitiesIn(unit.value).rate(Math.round(value * 100) / 100);
    case 'minutes':
      return `${decimal(value, 1)} min`;
    case 'seconds':
      return `${decimal(value, 0)} s`;
    case 'length':
      return duration(value * 1000);
    case 'hours':
      return `${decimal(value, 1)} h`;
    case 'amperes':
      return `${decimal(value, 2)} A`;
    case 'ppm':
      return `${decimal(value, 0)} ppm`;
    case 'plain':
      return String(Math.round(value * 100) / 100);
  }
}
