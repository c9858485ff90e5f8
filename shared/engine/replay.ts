import { describeAlarm } from '../rules/describe.ts';
import { parseReplayLine } from '../wire/replay-line.ts';
import { isoTime, LATEST_MS } from '../wire/time.ts';
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
    if ('vessel' in line && line.type !== 'vessel' && line.vessel !== null) {
      if (vesselNamed(this.#site, line.vessel) === undefined) return [this.#refuse('no vessel line before')];
    }
    switch (line.type) {
      case 'refused':
        return [this.#refuse(line.because)];
      case 'vessel': {
        const { type, vessel, role, site, plan, inBatch } = line;
        const arrivedMs = Math.max(this.#site.nowMs, line.arrivedMs ?? 0);
        const batch = inBatch ? { id: RUN, plan, site } : null;
        const told = this.#step({ type, arrivedMs, vessel, role, batch });
        // A vessel without a batch has no place of its own to go by.
        if (!inBatch && site !== null) told.push(...this.#step({ type: 'site', arrivedMs, site }));
        return told;
      }
      case 'end':
        return this.#step({ type: 'tick', arrivedMs: line.arrivedMs });
      case 'reading':
        return this.#step(line);
      case 'stage':
        return this.#step({ ...line, batch: RUN });
      case 'device':
      case 'start':
        return this.#step(line);
      case 'clock-step':
        if (Math.abs(this.#site.nowMs + line.stepMs) > LATEST_MS) return [this.#refuse('stepMs is too far')];
        return this.#step(line);
      case 'acknowledge': {
        const { vessel, alarm, arrivedMs } = line;
        const standing = vesselNamed(this.#site, vessel)!.alarms[alarm];
        if (standing === undefined) return [];
        const by = { by: '', reason: null };
        return this.#step({ type: 'acknowledge', arrivedMs, vessel, alarm: standing.number, ...by });
      }
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

/** That people acknowledge an alarm is no news in a recorded run; that it clears by that, is. */
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
