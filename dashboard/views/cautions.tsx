import { cautionsOf, PRACTICE } from '../../shared/batch/stage-cautions.ts';
import type { Stage } from '../../shared/wire/names.ts';
import { STAGE_NAMES, TEXTS } from '../texts/live.ts';
import { inTheirWords } from './words.ts';

/** The usual cautions of some stages, with those of methanol where it is handled in one of them. */
export function Cautions({
  stages,
  withMethanol,
  open,
}: {
  stages: readonly Stage[];
  withMethanol: boolean;
  open?: boolean;
}) {
  const present = [...new Set(stages)].filter((stage) => stage !== 'idle');
  const cautions = cautionsOf(present, withMethanol);
  if (cautions.length === 0) return null;
  return (
    <details class="cautions" open={open}>
      <summary>{TEXTS.cautions.title(present.map((stage) => STAGE_NAMES[stage]).join(', '))}</summary>
      <ul>
        {cautions.map(({ text, source }) => (
          <li key={text}>
            {inTheirWords(text)} {source !== PRACTICE && <small class="quiet">({source})</small>}
          </li>
        ))}
      </ul>
      <p class="quiet">{TEXTS.cautions.practice}</p>
    </details>
  );
}
