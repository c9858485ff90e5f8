import { isoTime } from '../shared/wire/time.ts';
import { batch, DEFAULT_CHANNELS } from './batch.ts';
import type { Site } from './gear.ts';
import { ORDINARY_LINK } from './link.ts';
import { type RunSettings, run } from './run.ts';
import type { Scenario } from './scenario.ts';
import { variedBy } from './variation.ts';

/**
 * A run of a scenario as the lines of a recorded run, in the order in which they arrived: what each vessel
 * is, readings, stages, devices that come and go, and the end. `arrived` stands where it is not the
 * reading's own time. The same scenario and settings give the same lines.
 * @throws RangeError as `run` does
 */
export function* recordedRun(scenario: Scenario, settings: RunSettings): Generator<string, void, undefined> {
  yield* vesselLines(scenario, settings);
  yield* itemLines(scenario, settings);
  yield endLine(settings.startMs + scenario.lengthMinutes * 60_000);
}

function* vesselLines(scenario: Scenario, { readingEveryMs }: RunSettings): Generator<string> {
  const { altitudeM, pressureHPa } = scenario.surroundings;
  const readingEverySeconds = (readingEveryMs ?? scenario.readingEveryMs) / 1000;
  for (const { vessel, role, plan } of scenario.vessels) {
    yield JSON.stringify({
      type: 'vessel',
      vessel,
      role,
      site: altitudeM === null ? { pressureHPa } : { altitudeM },
      plan: { readingEverySeconds, ...plan },
    });
  }
}

function* itemLines(scenario: Scenario, settings: RunSettings): Generator<string> {
  const stamp = stamps();
  const at = (atMs: number, arrivedMs: number): string =>
    atMs === arrivedMs ? `"at":"${stamp(atMs)}"` : `"at":"${isoTime(atMs)}","arrived":"${stamp(arrivedMs)}"`;
  for (const item of run(scenario, settings)) {
    switch (item.kind) {
      case 'reading': {
        const typed = item.device === null ? ',"typed":true' : '';
        yield readingLine(at(item.atMs, item.sentMs), item.vessel, item.channel, item.value, typed);
        break;
      }
      case 'backlog':
        for (const { atMs, value } of item.readings) {
          yield readingLine(at(atMs, item.atMs), item.vessel, item.channel, value, '');
        }
        break;
      case 'stage':
        yield `{"type":"stage",${at(item.atMs, item.atMs)},"vessel":"${item.vessel}","stage":"${item.stage}"}`;
        break;
      case 'presence':
        for (const { vessel, device } of scenario.vessels) {
          if (device !== item.device) continue;
          yield `{"type":"device",${at(item.atMs, item.atMs)},"vessel":"${vessel}","presence":"${item.presence}"}`;
        }
        break;
    }
  }
}

/** By hand, for there are millions: names need no escaping, and a number is its own JSON. */
const readingLine = (at: string, vessel: string, channel: string, value: number, more: string): string =>
  `{"type":"reading",${at},"vessel":"${vessel}","channel":"${channel}","value":${value}${more}}`;

const endLine = (atMs: number): string => `{"type":"end","at":"${isoTime(atMs)}"}`;

/** ISO times, the last one kept: the channels of one moment share theirs. */
function stamps(): (ms: number) => string {
  let lastMs = Number.NaN;
  let text = '';
  return (ms) => {
    if (ms !== lastMs) {
      lastMs = ms;
      text = isoTime(ms);
    }
    return text;
  };
}

export interface QuietSettings {
  site: Site;
  /** Planned temperature of the reactions, °C, that suits the site. */
  planC: number;
  days: number;
  seed: number;
  /** Epoch ms of the first batch's start. */
  startMs: number;
}

/** From the end of one batch to the start of the next, ms: the vessel is cleaned, its devices are off. */
const BETWEEN_BATCHES_MS = 60 * 60_000;
const DAY_MS = 24 * 3_600_000;

/**
 * Ordinary batches one after the other for at least so many days, as one recorded run: stirrer, current, two
 * probes, a barometer in changing weather, ordinary noise, dropouts of up to 10 s, and nothing that anybody
 * need be told.
 */
export function* quietDays({
  site,
  planC,
  days,
  seed,
  startMs,
}: QuietSettings): Generator<string, void, undefined> {
  const story = batch({
    description: 'an ordinary batch of ordinary days',
    site,
    planC,
    reactMinutes: 66,
    settleHours: 24.2,
    pressureSwingHPa: 8,
    channels: [...DEFAULT_CHANNELS, 'liquid-temperature-2', 'stirrer-current', 'ambient-pressure'],
    links: { 'r1-node': ORDINARY_LINK, 'm1-node': ORDINARY_LINK },
  });
  const endMs = startMs + days * DAY_MS;
  let batchMs = startMs;
  for (let number = 0; batchMs < endMs; number++) {
    const batchSeed = seed * 1000 + number;
    const scenario = story(variedBy(batchSeed));
    const settings = { seed: batchSeed, startMs: batchMs };
    if (number === 0) yield* vesselLines(scenario, settings);
    yield* itemLines(scenario, settings);
    batchMs += Math.ceil(scenario.lengthMinutes) * 60_000 + BETWEEN_BATCHES_MS;
  }
  yield endLine(batchMs - BETWEEN_BATCHES_MS);
}
