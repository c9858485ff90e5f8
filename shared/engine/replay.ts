import { describeAlarm } from '../rules/describe.ts';
import { parseReplayLine } from '../wire/replay-line.ts';
import { isoTime } from '../wire/time.ts';
import { batchConversionPercent } from './conversion.ts';
import type { AlarmChange, EngineOutput } from './events.ts';
import { creditedMs, passReactionTime } from './reaction-time.ts';
import { settlingMs } from './settling-time.ts';
import { RUN } from './stages.ts';
import { emptySiteState, type SiteState, vesselNamed } from './state.ts';
import { step } from './step.ts';

/**
 * Plays the lines of a recorded run through the rules. `push` gives the lines that follow from one
 * line, `end` the summaries; both as objects to be written as NDJSON.
 */
export class Replay {
  readonly #site: SiteState = emptySiteState();
  #line = 0;

  push(text: string): object[] {
    this.#line++;
    const trimmed = text.trim();
    if (trimmed === '') return [];
    const line = parseReplayLine(trimmed);
    if ('vessel' in line && line.type !== 'vessel' && vesselNamed(this.#site, line.vessel) === undefined) {
      return [this.#refuse('no vessel line before')];
    }
    switch (line.type) {
      case 'refused':
        return [this.#refuse(line.because)];
      case 'vessel':
        return this.#step({
          type: 'vessel',
          arrivedMs: Math.max(this.#site.nowMs, line.arrivedMs ?? 0),
          vessel: line.vessel,
          role: line.role,
          batch: { id: RUN, plan: line.plan, site: line.site },
        });
      case 'end':
        return this.#step({ type: 'tick', arrivedMs: line.arrivedMs });
      case 'reading':
        return this.#step(line);
      case 'stage':
        return this.#step({ ...line, batch: RUN });
      case 'device':
        return this.#step(line);
    }
  }

  end(): object[] {
    const { batches, nowMs, vessels } = this.#site;
    const batch = batches[RUN];
    const conversion = batch
      ? batchConversionPercent(this.#site, batch, nowMs)
      : { low: 0, value: 0, high: 0 };
    return Object.values(vessels).map((vessel) => ({
      type: 'summary',
      vessel: vessel.name,
      creditedReactionMinutes: batch
        ? creditedMs(passReactionTime(this.#site, batch.pass, nowMs)) / 60_000
        : 0,
      conversionPercent: conversion.value,
      conversionPercentLow: conversion.low,
      conversionPercentHigh: conversion.high,
      creditedSettleHours: batch ? settlingMs(batch.settling, nowMs) / 3_600_000 : 0,
      highestLiquidC: vessel.highestLiquidC,
      smallestHeadroomC: vessel.smallestHeadroomC,
    }));
  }

  #refuse(because: string): object {
    return { type: 'refused', line: this.#line, because };
  }

  #step(input: Parameters<typeof step>[1]): object[] {
    return step(this.#site, input)[1].filter(isJudgement).map(replayAlarm);
  }
}

/** What people do to an alarm is no matter of a recorded run. */
const isJudgement = (output: EngineOutput): output is AlarmChange =>
  output.type === 'alarm' && (output.event === 'raised' || output.event === 'cleared');

function replayAlarm(change: AlarmChange): object {
  const { vessel, alarm, event, priority, late, value, limit, explainedBy } = change;
  const { because } = describeAlarm(alarm, change.facts, 'C');
  return {
    type: 'alarm',
    at: isoTime(change.atMs),
    vessel,
    alarm,
    event,
    priority,
    late,
    value,
    limit,
    because,
    explainedBy,
  };
}
