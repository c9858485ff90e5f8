import { highestLimit, LIMIT_DEFAULTS, type LimitName } from '../../../shared/rules/limits.ts';
import { LIMITS_IN_WORDS, type LimitKind } from '../../../shared/rules/words.ts';

export interface LimitScale {
  least: number;
  most: number;
  step: number;
}

const STEPS: Readonly<Record<LimitKind, number>> = {
  apart: 0.1,
  at: 0.5,
  rate: 0.1,
  seconds: 1,
  minutes: 0.5,
  percent: 1,
  intervals: 1,
  ppm: 10,
};
const ALL_PERCENT = 100;

/** How far a slider of a limit goes: to three times what is usual, and never short of what it stands at. */
export function limitScale(name: LimitName, value: number): LimitScale {
  const { kind } = LIMITS_IN_WORDS[name];
  const usual = LIMIT_DEFAULTS[name];
  const reach = kind === 'percent' ? ALL_PERCENT : kind === 'at' ? usual * 1.5 : usual * 3;
  const step = STEPS[kind];
  const most = Math.min(Math.ceil(Math.max(reach, value) / step) * step, highestLimit(name));
  return { least: 0, most: Number(most.toFixed(3)), step };
}
