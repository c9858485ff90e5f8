import type { WatchPlan } from '../../../shared/plan/watch-plan.ts';
import type { Limits } from '../../../shared/rules/limits.ts';
import type { Alarm } from '../../../shared/wire/api.ts';
import { MIXING_CHANNELS } from '../../../shared/wire/names.ts';

/** Which readings to look at around an alarm, and what its rule held them against; pure. */

const MINUTE_MS = 60_000;

/** A line across a channel, in the channel's own unit. */
export interface MomentLine {
  channel: string;
  what: 'limit' | 'boiling' | 'plan';
  value: number;
}

const number = (value: unknown): number | undefined => (typeof value === 'number' ? value : undefined);

/** The channel of the liquid's temperature that the alarm is of. */
function liquidChannel({ facts }: Alarm): string {
  const { channel, probe } = facts;
  if (typeof channel === 'string' && channel.startsWith('liquid-temperature')) return channel;
  return typeof probe === 'number' && probe > 1 ? `liquid-temperature-${probe}` : 'liquid-temperature';
}

/** Channels whose readings say why the alarm came, of those that the vessel has; the most telling first. */
export function channelsOf(alarm: Alarm, known: readonly string[]): string[] {
  const liquid = liquidChannel(alarm);
  const mixing = MIXING_CHANNELS.filter((channel) => known.includes(channel)).slice(0, 1);
  const others = known.filter((channel) => channel.startsWith('liquid-temperature') && channel !== liquid);
  const wanted = ((): string[] => {
    switch (alarm.alarm) {
      case 'mixing-stopped':
      case 'mixing-slow':
      case 'settling-disturbed':
      case 'methoxide-short':
      case 'reaction-short':
      case 'settling-short':
        return [...mixing, liquid];
      case 'restart-hot':
        return [liquid, ...mixing];
      case 'coupling-lost':
      case 'motor-stalled':
        return [mixing[0] === 'stirrer-speed' ? 'stirrer-current' : 'pump-current', ...mixing];
      case 'heat-not-seen':
      case 'heater-stuck':
      case 'heater-on-draining':
        return [liquid, 'heater'];
      case 'condenser-warm':
        return ['condensate-temperature', 'heater'];
      case 'vapour-high':
        return ['room-vapour'];
      case 'probes-disagree':
      case 'probe-frozen':
        return [liquid, ...others];
      case 'reading-late':
        return typeof alarm.facts.channel === 'string' ? [alarm.facts.channel] : [liquid];
      case 'not-watching':
      case 'device-gone':
        return [liquid, ...mixing];
      default:
        return [liquid];
    }
  })();
  return [...new Set(wanted)].filter((channel) => known.includes(channel));
}

/** The boiling point that the rule went by, where its facts tell. */
export function boilingOf({ facts }: Alarm): number | undefined {
  const [liquid, headroom] = [number(facts.liquidC), number(facts.headroomC)];
  return (
    number(facts.boilingC) ?? (liquid === undefined || headroom === undefined ? undefined : liquid + headroom)
  );
}

const MARGINS: Readonly<Record<string, keyof Limits>> = {
  'boiling-reached': 'reachedMarginC',
  'boiling-near': 'nearMarginC',
  'too-hot-to-dose': 'dosingMarginC',
  'methoxide-hot': 'methoxideMarginC',
  'restart-hot': 'restartMarginC',
};
const HIGHEST: Readonly<Record<string, keyof Limits>> = {
  warm: 'warmHighestC',
  'dry-oil': 'dryHighestC',
  'dry-fuel': 'dryFuelHighestC',
};

/** What the readings were held against, with these limits. `boilingC`: where methanol boiled then. */
export function linesOf(
  alarm: Alarm,
  limits: Readonly<Limits>,
  { reactionTemperatureC }: Pick<WatchPlan, 'reactionTemperatureC'>,
  boilingC: number | undefined,
): MomentLine[] {
  const liquid = liquidChannel(alarm);
  const boiling: MomentLine[] =
    boilingC === undefined ? [] : [{ channel: liquid, what: 'boiling', value: boilingC }];
  const at = (value: number, channel = liquid): MomentLine => ({ channel, what: 'limit', value });
  const margin = MARGINS[alarm.alarm];
  if (margin !== undefined) return boilingC === undefined ? [] : [...boiling, at(boilingC - limits[margin])];
  switch (alarm.alarm) {
    case 'boiling-ahead':
      return boiling;
    case 'oil-overheated': {
      const highest = HIGHEST[String(alarm.facts.stage)];
      return highest === undefined ? [] : [at(limits[highest])];
    }
    case 'recover-overheated':
      return [at(limits.recoverHighestC)];
    case 'condenser-warm':
      return [at(limits.condensateHighestC, 'condensate-temperature')];
    case 'reaction-cold':
      return [
        { channel: liquid, what: 'plan', value: reactionTemperatureC },
        at(reactionTemperatureC - limits.coldByC),
      ];
    case 'heat-not-seen':
      return [{ channel: liquid, what: 'plan', value: reactionTemperatureC }];
    case 'vapour-high':
      return [limits.vapourPpm, limits.vapourHighPpm, limits.vapourDangerPpm].map((ppm) =>
        at(ppm, 'room-vapour'),
      );
    case 'mixing-stopped':
    case 'mixing-slow':
    case 'settling-disturbed': {
      const channel = alarm.facts.channel;
      return typeof channel === 'string' && alarm.limit !== null ? [at(alarm.limit, channel)] : [];
    }
    default:
      return [];
  }
}

export const SPANS_MS = [15 * MINUTE_MS, 60 * MINUTE_MS, 360 * MINUTE_MS] as const;

/** A stretch of time around an alarm, two thirds of it before it came, not beyond now. */
export function stretchAround(atMs: number, spanMs: number, nowMs: number): { fromMs: number; toMs: number } {
  const toMs = Math.max(atMs + MINUTE_MS, Math.min(atMs + spanMs / 3, nowMs));
  return { fromMs: toMs - spanMs, toMs };
}
