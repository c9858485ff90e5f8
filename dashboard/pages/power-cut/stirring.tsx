import { REST_MS } from '../../../shared/rules/restart-hot.ts';
import { stirringAgain } from '../../../shared/rules/stirring-again.ts';
import type { Vessel } from '../../../shared/wire/api.ts';
import type { Batch } from '../../../shared/wire/batch.ts';
import { isLive, now } from '../../store.ts';
import { TEXTS } from '../../texts/live.ts';
import { POWER_CUT } from '../../texts/power-cut.ts';
import { duration } from '../../units.ts';
import { degrees, degreesApart, when } from '../../views/words.ts';
import { Part } from './known.tsx';
import { mixedSince, type Outage, restartMarginOf, stoodOf } from './outage.ts';

interface About {
  vessel: Vessel;
  outage: Outage;
  batch: Batch | undefined;
}

const texts = POWER_CUT.stirring;

export const verdictOf = ({ vessel, outage, batch }: About) =>
  stirringAgain(stoodOf(vessel, outage, batch, { nowMs: now.value, isLive: isLive.value }), now.value);

/** How far below boiling it must be, and the temperature that is; null while the batch is not known. */
function limitOf({ vessel, batch }: About): { margin: string; limit: string } | null {
  const marginC = restartMarginOf(batch);
  return marginC === null
    ? null
    : { margin: degreesApart(marginC), limit: degrees(vessel.boilingC - marginC) };
}

function Why(about: About) {
  const verdict = verdictOf(about);
  const limit = limitOf(about)?.limit ?? texts.unknown;
  switch (verdict.may) {
    case 'not-stirred':
      return null;
    case 'yes':
      return <p>{texts.yes}</p>;
    case 'yes-at-once':
      return <p>{texts.atOnce(Math.ceil(verdict.leftMs / 1000))}</p>;
    case 'moving':
      return <p>{texts.moving}</p>;
    case 'margin-unknown':
      return <p>{texts.marginUnknown}</p>;
    case 'measure-first':
      return <p>{texts.measureFirst(limit)}</p>;
    case 'not-yet':
      return (
        <>
          <p>{texts.notYet(limit, degreesApart(verdict.coolByC))}</p>
          <p>
            {verdict.coolMinutes === null
              ? texts.notCooling
              : texts.cool(when(now.value + verdict.coolMinutes * 60_000))}
          </p>
        </>
      );
    case 'in-bursts':
      return (
        <p>
          {texts.inBursts} {verdict.isMostlyReacted && texts.mostlyReacted}
        </p>
      );
  }
}

/** Whether stirring may start again, how, and by which rule. */
export function Stirring(about: About) {
  const { vessel, outage, batch } = about;
  const verdict = verdictOf(about);
  const { stillFromMs } = stoodOf(vessel, outage, batch, { nowMs: now.value, isLive: isLive.value });
  const mixed = mixedSince(vessel, outage, now.value);
  const held = limitOf(about);
  return (
    <Part title={texts.title}>
      <p class="told" role="status" data-may={verdict.may}>
        {texts.short[verdict.may]}
      </p>
      <Why {...about} />
      {verdict.may !== 'not-stirred' && verdict.may !== 'yes' && (
        <details>
          <summary>{texts.opened}</summary>
          {held !== null && (
            <>
              <p>{texts.rule(duration(REST_MS), held.margin, held.limit)}</p>
              <p>{texts.plan(held.margin)}</p>
            </>
          )}
          <p>
            {texts.since(when(stillFromMs, 'second'))}{' '}
            {mixed === null
              ? texts.noMixing
              : texts.mixing(TEXTS.vessel.mixing[mixed.state], when(mixed.atMs, 'second'))}
          </p>
          <p class="quiet">{texts.source}</p>
        </details>
      )}
    </Part>
  );
}
