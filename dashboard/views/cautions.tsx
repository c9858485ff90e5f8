import type { Stage } from '../../shared/wire/names.ts';
import { CAUTIONS, METHANOL_CAUTIONS, STAGE_NAMES, TEXTS } from '../texts/live.ts';

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
  const cautions = new Set(stages.flatMap((stage) => CAUTIONS[stage] ?? []));
  if (withMethanol) for (const caution of METHANOL_CAUTIONS) cautions.add(caution);
  if (cautions.size === 0) return null;
  return (
    <details class="cautions" open={open}>
      <summary>
        {TEXTS.cautions.title(
          [...new Set(stages)]
            .filter((stage) => stage !== 'idle')
            .map((stage) => STAGE_NAMES[stage])
            .join(', '),
        )}
      </summary>
      <ul>
        {[...cautions].map((caution) => (
          <li key={caution}>{caution}</li>
        ))}
        <li>{TEXTS.cautions.first}</li>
      </ul>
    </details>
  );
}
