import type { AlarmMeasures } from '../../../shared/wire/alarm-measures.ts';

type Target = AlarmMeasures['targets'][number];

export interface MeasureRow {
  target: Target;
  /** Null where nothing was raised that it could be taken from. */
  is: number | null;
  /** Null where nobody can say. The standards judge by a month at least: before that it is too soon. */
  fits: 'yes' | 'no' | 'too-soon' | null;
  percent: boolean;
}

/** Each figure of the standards beside what was counted; pure. */
export function measureRows(measures: AlarmMeasures): MeasureRow[] {
  const length = measures.targets.find(({ measure }) => measure === 'days');
  const isLong = length === undefined || measures.days >= length.value;
  return measures.targets.map((target) => {
    const is = valueAt(measures, target.measure);
    const held = is === null ? null : holds(is, target);
    const fits = held === null ? null : target !== length && !isLong ? 'too-soon' : held ? 'yes' : 'no';
    return { target, is, fits, percent: /percent$/i.test(target.measure) };
  });
}

/** The field that a target names: `perDay.mean`. */
function valueAt(measures: AlarmMeasures, path: string): number | null {
  let value: unknown = measures;
  for (const field of path.split('.')) value = (value as Record<string, unknown> | null)?.[field];
  // Where there was no fullest ten minutes, nothing came.
  if (value === undefined && path.endsWith('.count')) return 0;
  return typeof value === 'number' ? value : null;
}

function holds(is: number, { is: how, value }: Target): boolean | null {
  switch (how) {
    case 'at-most':
      return is <= value;
    case 'under':
      return is < value;
    case 'at-least':
      return is >= value;
    case 'about':
      return null;
  }
}
