import type { Alarm, Vessel } from '../../../shared/wire/api.ts';
import type { Batch } from '../../../shared/wire/batch.ts';
import { alarmSentence } from '../../alarm-sentence.ts';
import { vesselHref } from '../../route.ts';
import { unit } from '../../settings.ts';
import { POWER_CUT, TODO } from '../../texts/power-cut.ts';
import { Acknowledge } from '../../views/alarms.tsx';
import { Part } from './known.tsx';
import type { Outage } from './outage.ts';
import { verdictOf } from './stirring.tsx';

interface About {
  vessel: Vessel;
  alarm: Alarm;
  outage: Outage;
  batch: Batch | undefined;
}

/** What to do, in order; the rule's own words stand first. */
export function Todo({ vessel, alarm, outage, batch }: About) {
  const texts = POWER_CUT.todo;
  const isOpen = alarm.standing && alarm.acknowledged === null;
  const verdict = verdictOf({ vessel, outage, batch });
  return (
    <Part title={texts.title}>
      <p class="strong">{alarmSentence(alarm, unit.value).todo}</p>
      <ol class="todo-list">
        {vessel.methanolPresent && <li>{texts.air}</li>}
        {TODO[vessel.stage]
          .filter((step) => step !== 'say' || isOpen)
          .map((step) => (
            <li key={step}>
              {texts[step]}
              {step === 'stirring' && ` ${POWER_CUT.stirring.short[verdict.may]}.`}
              {step === 'measure' && (
                <>
                  {' '}
                  <a href={vesselHref(vessel)}>{texts.typeIn}</a>
                </>
              )}
              {step === 'say' && <Acknowledge alarm={alarm} />}
            </li>
          ))}
      </ol>
      <p class="quiet">{texts.first}</p>
    </Part>
  );
}
