/** The words of the wire: names, stages, roles, priorities and the channels with a known meaning. */

/** Site, vessel, channel and device names. */
export const NAME_PATTERN = /^[a-z0-9][a-z0-9-]{0,39}$/;

export const isName = (text: string): boolean => NAME_PATTERN.test(text);

export const ROLES = ['reactor', 'methoxide', 'settling', 'wash'] as const;
export type Role = (typeof ROLES)[number];

/** Every stage a vessel can be in, in the usual order; `idle` is a vessel with no batch. */
export const STAGES = [
  'idle',
  'warm',
  'dry-oil',
  'prewash',
  'esterify',
  'methoxide',
  'dose',
  'react',
  'settle',
  'drain',
  'recover',
  'wash',
  'dry-fuel',
  'filter',
  'test',
  'finished',
  'rejected',
  'void',
] as const;
export type Stage = (typeof STAGES)[number];

/** Stages in which the liquid must be moving; all of them bring methanol into the vessel they happen in. */
export const MIXING_STAGES: readonly Stage[] = ['prewash', 'esterify', 'methoxide', 'dose', 'react'];

/** Stages in which the fuel is taken on from settling. */
export const FUEL_GOES_ON: readonly Stage[] = ['recover', 'wash', 'dry-fuel', 'filter', 'test', 'finished'];

/** Stages after which a batch takes no other. */
export const ENDED_STAGES: readonly Stage[] = ['finished', 'rejected', 'void'];

/** What of a batch goes to another vessel: what becomes the fuel, or the layer below it. */
export const MOVED = ['ester', 'glycerol'] as const;
export type Moved = (typeof MOVED)[number];

/** From the least to the gravest. */
export const PRIORITIES = ['low', 'medium', 'high', 'critical'] as const;
export type Priority = (typeof PRIORITIES)[number];

export const isGraver = (a: Priority, b: Priority): boolean => PRIORITIES.indexOf(a) > PRIORITIES.indexOf(b);

/** An alarm may be shelved for so long at most, min: half a day, common practice, no source. */
export const LONGEST_SHELF_MINUTES = 720;
/** A critical one, min. */
export const LONGEST_CRITICAL_SHELF_MINUTES = 15;

export const longestShelfMinutes = (priority: Priority): number =>
  priority === 'critical' ? LONGEST_CRITICAL_SHELF_MINUTES : LONGEST_SHELF_MINUTES;

/** What a channel measures; decides its unit and which values are in range. */
export type ChannelKind =
  | 'temperature'
  | 'speed'
  | 'flow'
  | 'current'
  | 'switch'
  | 'pressure'
  | 'vapour'
  | 'other';

/** The probes in a vessel's liquid: `liquid-temperature`, and numbered ones up to `liquid-temperature-99`. */
const LIQUID_TEMPERATURES: ReadonlySet<string> = new Set([
  'liquid-temperature',
  ...Array.from({ length: 99 }, (_, i) => `liquid-temperature-${i + 1}`),
]);

const KNOWN_CHANNELS: ReadonlyMap<string, ChannelKind> = new Map<string, ChannelKind>([
  ...[...LIQUID_TEMPERATURES].map((name) => [name, 'temperature'] as const),
  ['stirrer-speed', 'speed'],
  ['stirrer-current', 'current'],
  ['pump-flow', 'flow'],
  ['pump-current', 'current'],
  ['pump', 'switch'],
  ['heater', 'switch'],
  ['ambient-pressure', 'pressure'],
  ['vessel-pressure', 'pressure'],
  ['condensate-temperature', 'temperature'],
  ['room-vapour', 'vapour'],
]);

export const isLiquidTemperature = (channel: string): boolean => LIQUID_TEMPERATURES.has(channel);

export const channelKind = (channel: string): ChannelKind => KNOWN_CHANNELS.get(channel) ?? 'other';

/** Channels that tell whether the liquid is being mixed; the first that a vessel has is the one judged. */
export const MIXING_CHANNELS = ['stirrer-speed', 'pump-flow', 'pump'] as const;
export type MixingChannel = (typeof MIXING_CHANNELS)[number];
