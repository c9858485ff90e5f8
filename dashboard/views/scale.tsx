import type { Vessel } from '../../shared/wire/api.ts';
import { unit } from '../settings.ts';
import { TEXTS } from '../texts/live.ts';
import { decimal, toUnit } from '../units.ts';
import { scaleSpan } from '../vessels.ts';

const HEIGHT = 240;
const WIDTH = 122;
const BAR = { left: 6, right: 44 };
const LABEL = 50;
/** Least distance of two labels' base lines. */
const LABEL_APART = 18;

/**
 * The liquid's level under the ceiling where methanol boils. All it says stands in words beside it, so
 * it is hidden from screen readers.
 */
export function Scale({ vessel }: { vessel: Vessel }) {
  const { bottomC, topC } = scaleSpan(vessel);
  const y = (celsius: number): number =>
    Math.min(HEIGHT, Math.max(0, ((topC - celsius) / (topC - bottomC)) * HEIGHT));
  const boiling = y(vessel.boilingC);
  // The planned temperature is the reaction's: methoxide is not to be warmed to it.
  const planned =
    vessel.planned === null || vessel.role === 'methoxide'
      ? undefined
      : y(vessel.planned.reactionTemperatureC);
  const level = vessel.liquidC === null ? undefined : y(vessel.liquidC);
  const label = (celsius: number): string => decimal(toUnit(celsius, unit.value), 1);

  const labels = [
    { at: boiling, text: label(vessel.boilingC), kind: 'boils' },
    ...(vessel.liquidC === null ? [] : [{ at: level!, text: label(vessel.liquidC), kind: 'level' }]),
    ...(planned === undefined
      ? []
      : [
          {
            at: planned,
            text: `${TEXTS.scale.planned} ${label(vessel.planned!.reactionTemperatureC).replace(/\.0$/, '')}`,
            kind: 'plan',
          },
        ]),
  ].sort((a, b) => a.at - b.at);
  let above = Number.NEGATIVE_INFINITY;
  for (const each of labels) {
    each.at = Math.max(each.at + 6, above + LABEL_APART);
    above = each.at;
  }

  return (
    <svg class="scale" viewBox={`0 -4 ${WIDTH} ${HEIGHT + 8}`} aria-hidden="true">
      {level !== undefined && (
        <rect class="liquid" x={BAR.left} y={level} width={BAR.right - BAR.left} height={HEIGHT - level} />
      )}
      <rect
        class="ceiling"
        x={BAR.left}
        y={0}
        width={BAR.right - BAR.left}
        height={boiling}
        fill="url(#hatch)"
      />
      <path class="wall" d={`M${BAR.left} 0V${HEIGHT}H${BAR.right}V0`} />
      <path class="boils" d={`M${BAR.left} ${boiling}H${BAR.right + 3}`} />
      {planned !== undefined && <path class="plan" d={`M${BAR.right - 12} ${planned}H${BAR.right + 3}`} />}
      {level !== undefined && <path class="level" d={`M${BAR.left} ${level}H${BAR.right + 3}`} />}
      {labels.map(({ at, text, kind }) => (
        <text key={kind} class={kind} x={LABEL} y={at}>
          {text}
        </text>
      ))}
    </svg>
  );
}

/** The hatch of every ceiling, defined once a page. */
export function Hatch() {
  return (
    <svg class="defs" aria-hidden="true">
      <defs>
        <pattern id="hatch" width="7" height="7" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
          <path class="hatch" d="M0 0V7" />
        </pattern>
      </defs>
    </svg>
  );
}
