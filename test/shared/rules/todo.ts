import { emptySiteState } from '../../../shared/engine/state.ts';
import { step } from '../../../shared/engine/step.ts';
import { describeAlarm } from '../../../shared/rules/describe.ts';
import { parseReplayLine } from '../../../shared/wire/replay-line.ts';
import type { Line } from '../run.ts';

/** What people are told to do about an alarm of a run, one text each time that it changes. */
export function todos(alarm: string, ...lines: (Line | Line[])[]): string[] {
  const state = emptySiteState();
  const told: string[] = [];
  for (const given of lines.flat()) {
    const line = parseReplayLine(JSON.stringify(given));
    if (line.type === 'refused' || line.type === 'device' || line.type === 'acknowledge')
      throw new Error('no line of such a run');
    const input =
      line.type === 'vessel'
        ? {
            type: line.type,
            arrivedMs: line.arrivedMs ?? state.nowMs,
            vessel: line.vessel,
            role: line.role,
            batch: { id: 'run', plan: line.plan, site: line.site },
          }
        : line.type === 'stage'
          ? { ...line, batch: 'run' }
          : line.type === 'end'
            ? { type: 'tick' as const, arrivedMs: line.arrivedMs }
            : line.type === 'move'
              ? { ...line, batch: 'run' }
              : line.type === 'conversion-test'
                ? { ...line, batch: 'run' }
                : line;
    for (const output of step(state, input)[1]) {
      if (output.type === 'stage' || output.alarm !== alarm) continue;
      if (output.type === 'alarm' && output.event !== 'raised') continue;
      told.push(describeAlarm(alarm, output.facts, 'C').todo);
    }
  }
  return told;
}
