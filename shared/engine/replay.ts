import type { WatchPlan } from '../plan/watch-plan.ts';
import { describeAlarm } from '../rules/describe.ts';
import { AHEAD_MS } from '../wire/payload.ts';
import { parseReplayLine, type ReplayLine, type ReplayRefusal } from '../wire/replay-line.ts';
import { isoTime, LATEST_MS } from '../wire/time.ts';
import { batchConversionPercent } from './conversion.ts';
import type { AlarmChange, EngineOutput } from './events.ts';
import { creditedMs, passReactionTime } from './reaction-time.ts';
import { settlingMs } from './settling-time.ts';
import { RUN } from './stages.ts';
import { type BatchState, emptySiteState, type SiteState, vesselNamed } from './state.ts';
import { judgeHeld, step } from './step.ts';

/**
 * Plays the lines of a recorded run through the rules. `push` gives the lines that follow from one
 * line, `end` what is left and the summaries; both as objects to be written as NDJSON.
 */
export class Replay {
  readonly #site: SiteState = emptySiteState();
  /** The one batch of the run; the site forgets one that has ended. */
  #batch: BatchState | null = null;
  /** By vessel: one that has left its batch has none any more. */
  readonly #plans = new Map<string, WatchPlan>();
  #line = 0;

  push(text: string): object[] {
    this.#line++;
    const trimmed = text.trim();
    if (trimmed === '') return [];
    return this.#take(parseReplayLine(trimmed));
  }

  /** The same for a reading that is no text. */
  read(reading: Extract<ReplayLine, { type: 'reading' }>): object[] {
    this.#line++;
    return this.#take(reading);
  }

  #take(line: ReplayLine | ReplayRefusal): object[] {
    if ('vessel' in line && line.type !== 'vessel' && line.vessel !== null) {
      if (vesselNamed(this.#site, line.vessel) === undefined) return [this.#refuse('no vessel line before')];
    }
    switch (line.type) {
      case 'refused':
        return [this.#refuse(line.because)];
      case 'vessel':
        return this.#takeVessel(line);
      case 'end':
        return this.#step({ type: 'tick', arrivedMs: line.arrivedMs });
      case 'reading':
        if (line.atMs - line.arrivedMs > AHEAD_MS) return [this.#refuse('at is ahead of arrived')];
        return this.#step(line);
      case 'stage': {
        const { batch } = vesselNamed(this.#site, line.vessel)!;
        return batch === null ? [this.#refuse('the vessel is in no batch')] : this.#step({ ...line, batch });
      }
      case 'move': {
        const { batch } = vesselNamed(this.#site, line.vessel)!;
        if (vesselNamed(this.#site, line.to) === undefined)
          return [this.#refuse('no vessel line before of where it goes')];
        return batch === null ? [this.#refuse('the vessel is in no batch')] : this.#step({ ...line, batch });
      }
      case 'conversion-test': {
        if (this.#batch === null) return [this.#refuse('no vessel line before')];
        const { type, passed, arrivedMs } = line;
        return this.#step({ type, passed, arrivedMs, batch: this.#batch.id });
      }
      case 'device':
      case 'senders':
        return this.#step(line);
      case 'start':
        if (line.downSinceMs !== null && line.downSinceMs > line.arrivedMs)
          return [this.#refuse('downSince is after at')];
        return this.#step(line);
      case 'clock-step':
        return isWithinDates(this.#site.nowMs, line) ? this.#step(line) : [this.#refuse('stepMs is too far')];
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
    const out: EngineOutput[] = [];
    judgeHeld(this.#site, out);
    return [...out.filter(isJudgement).map(replayAlarm), ...this.#summaries()];
  }

  #summaries(): object[] {
    const { nowMs, vessels } = this.#site;
    const batch = this.#batch;
    const plan = this.#plans.get(batch?.reactor ?? '');
    const conversion =
      batch && plan ? batchConversionPercent(this.#site, batch, plan, nowMs) : { low: 0, value: 0, high: 0 };
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

  #takeVessel(line: Extract<ReplayLine, { type: 'vessel' }>): object[] {
    const { type, vessel, role, site, plan } = line;
    const arrivedMs = Math.max(this.#site.nowMs, line.arrivedMs ?? 0);
    if (line.batch === null) {
      const told = this.#step({ type, arrivedMs, vessel, role, batch: null });
      // A vessel without a batch has no place of its own to go by.
      return site === null ? told : [...told, ...this.#step({ type: 'site', arrivedMs, site })];
    }
    const id = line.batch ?? this.#batch?.id ?? RUN;
    if (this.#batch !== null && this.#batch.id !== id) return [this.#refuse('the run is of another batch')];
    this.#plans.set(vessel, plan);
    const told = this.#step({ type, arrivedMs, vessel, role, batch: { id, plan, site } });
    this.#batch ??= this.#site.batches[id]!;
    return told;
  }

  #refuse(because: string): object {
    return { type: 'refused', line: this.#line, because };
  }

  #step(input: Parameters<typeof step>[1]): object[] {
    return step(this.#site, input)[1].filter(isJudgement).map(replayAlarm);
  }
}

const isWithinDates = (nowMs: number, { arrivedMs, stepMs }: { arrivedMs: number; stepMs: number }) =>
  [nowMs + stepMs, arrivedMs - stepMs].every((ms) => Math.abs(ms) <= LATEST_MS);

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
