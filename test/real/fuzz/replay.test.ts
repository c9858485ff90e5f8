import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Readable } from 'node:stream';
import { expect, onTestFinished, test } from 'vitest';
import { csvRun } from '../../../daemon/commands/replay-sources/csv.ts';
import { type CsvMapping, mappingSchema } from '../../../daemon/commands/replay-sources/csv-mapping.ts';
import { ndjsonRun } from '../../../daemon/commands/replay-sources/ndjson.ts';
import type { RunSource } from '../../../daemon/commands/replay-sources/source.ts';
import { UsageError } from '../../../daemon/commands/usage.ts';
import { Replay } from '../../../shared/engine/replay.ts';
import { withLimits } from '../../../shared/engine/with-limits.ts';
import { ALARM_NAMES } from '../../../shared/rules/names.ts';
import { MOVED, STAGES } from '../../../shared/wire/names.ts';
import type { Random } from '../../../simulator/random.ts';
import { runCommand } from '../../support/command.ts';
import {
  below,
  bytes,
  chance,
  mutatedBytes,
  mutatedJson,
  mutatedText,
  ODD_TEXTS,
  pick,
  pieces,
  shuffled,
} from '../../support/fuzz/mutations.ts';
import { TRIES_TIMEOUT_MS, tryOften } from '../../support/fuzz/tries.ts';

/** A run of some lines is played within this, however it is spoilt, ms. */
const WITHIN_MS = 10_000;
const START_MS = Date.UTC(2026, 2, 2, 10);

// ---- runs ----

const VESSELS = ['r1', 'm1', 't1'];
const CHANNELS = [
  'liquid-temperature',
  'liquid-temperature-2',
  'stirrer-speed',
  'stirrer-current',
  'heater',
  'pump',
  'ambient-pressure',
  'vessel-pressure',
  'condensate-temperature',
  'room-vapour',
  'ph',
];

/** A run as it might have been, seldom a sensible one. */
function runOf(random: Random): object[] {
  let ms = START_MS;
  const step = () => {
    ms += pick(random, [0, 100, 1000, 10_000, 60_000, 3_600_000]);
    return chance(random, 0.8) ? new Date(ms).toISOString() : ms;
  };
  const timed = (at = step()) => ({
    at,
    ...(chance(random, 0.1) && { arrived: ms + below(random, 100_000) }),
  });
  const vessels = VESSELS.map((vessel, i) => ({
    type: 'vessel',
    vessel,
    role: pick(random, ['reactor', 'methoxide', 'settling', 'wash']),
    ...(chance(random, 0.7) && { site: pick(random, [{ pressureHPa: 1013.25 }, { altitudeM: 340 }]) }),
    ...((i === 0 || chance(random, 0.5)) && {
      plan: { reactionTemperatureC: 55, requiredReactionMinutes: 60, readingEverySeconds: 1, limits: {} },
    }),
  }));
  const others = Array.from({ length: below(random, 40) }, (): object => {
    const vessel = pick(random, VESSELS);
    switch (below(random, 16)) {
      case 0:
      case 1:
        return { type: 'stage', ...timed(), vessel, stage: pick(random, STAGES) };
      case 2:
        return { type: 'move', ...timed(), vessel, to: pick(random, VESSELS), what: pick(random, MOVED) };
      case 3:
        return { type: 'conversion-test', ...timed(), passed: chance(random, 0.5) };
      case 4:
        return {
          type: 'device',
          ...timed(),
          device: `${vessel}-probe`,
          presence: pick(random, ['here', 'gone']),
        };
      case 5:
        return { type: 'acknowledge', ...timed(), vessel, alarm: pick(random, ALARM_NAMES) };
      case 6:
        return { type: 'start', ...timed(), ...(chance(random, 0.5) && { downSince: START_MS }) };
      case 7:
        return { type: 'clock-step', ...timed(), stepMs: below(random, 7_200_000) - 3_600_000 };
      default: {
        const value = pick(random, [20, 54.2, 63.9, 65, -127, 85, 0, 1, 300, 1013]);
        return { type: 'reading', ...timed(), vessel, channel: pick(random, CHANNELS), value };
      }
    }
  });
  return [...vessels, ...others, { type: 'end', at: new Date(ms + 3_600_000).toISOString() }];
}

const isSpoilt = (random: Random): boolean => chance(random, 0.15);

function ndjsonOf(random: Random): Buffer {
  const lines = runOf(random).map((line) => {
    const changed = isSpoilt(random) ? mutatedJson(random, line) : line;
    const text = JSON.stringify(changed) ?? '';
    return chance(random, 0.05) ? mutatedText(random, text) : text;
  });
  const inOrder = chance(random, 0.9) ? lines : shuffled(random, lines);
  const whole = Buffer.from(inOrder.join(pick(random, ['\n', '\n', '\r\n', '\n\n'])));
  return chance(random, 0.3) ? mutatedBytes(random, whole) : whole;
}

const MAPPING: CsvMapping = mappingSchema.parse({
  separator: ';',
  decimalComma: true,
  time: { column: ['Date', 'Time'], form: 'DD.MM.YYYY HH:mm:ss', offset: '+01:00' },
  columns: [
    { column: 'Kettle', vessel: 'r1', channel: 'liquid-temperature', unit: 'degF' },
    { column: 4, vessel: 'r1', channel: 'stirrer-speed', scale: 10 },
    { column: 'Jar', vessel: 'm1', channel: 'liquid-temperature' },
  ],
  vessels: [{ vessel: 'r1' }, { vessel: 'm1', role: 'methoxide' }],
  stages: [
    { at: '2026-03-02T09:05:00Z', vessel: 'r1', stage: 'react' },
    { at: '2026-03-02T11:05:00Z', vessel: 'r1', stage: 'settle' },
  ],
});

function csvOf(random: Random): Buffer {
  let ms = START_MS;
  const rows = Array.from({ length: below(random, 60) }, () => {
    ms += pick(random, [1000, 1000, 10_000, 60_000, 3_600_000, 0, -1000]);
    const [date, time] = new Date(ms).toISOString().split('T');
    const cells = [
      date!.split('-').reverse().join('.'),
      time!.slice(0, 8),
      pick(random, ['129,2', '147', '"147,5"', '', '-127', '"14""7"']),
      pick(random, ['30', '0', '1e3', '30,5']),
      pick(random, ['21,5', '21.5', '', ' 22 ']),
    ];
    const spoilt = isSpoilt(random)
      ? cells.map((cell) =>
          chance(random, 0.5) ? pick(random, [...ODD_TEXTS, mutatedText(random, cell)]) : cell,
        )
      : cells;
    if (chance(random, 0.03)) spoilt.splice(below(random, 5), 1);
    if (chance(random, 0.03)) spoilt.push('more');
    return spoilt.join(';');
  });
  const whole = Buffer.from(['Date;Time;Kettle;Speed;Jar', ...rows].join(pick(random, ['\n', '\r\n'])));
  return chance(random, 0.4) ? mutatedBytes(random, whole) : whole;
}

// ---- playing ----

const TYPES = ['alarm', 'refused', 'summary'];

/** What the command prints of a run. */
async function played(source: RunSource, limits = false): Promise<string[]> {
  const run = new Replay();
  const told: object[] = [];
  for await (const lines of source)
    for (const line of lines) {
      if (typeof line !== 'string') told.push(line);
      else told.push(...run.push(limits ? withLimits(line, { nearMarginC: 5 }) : line));
    }
  told.push(...run.end());
  for (const { type } of told as { type: string }[])
    if (!TYPES.includes(type)) throw new Error(`says ${type}`);
  return told.map((one) => JSON.stringify(one));
}

/** The same bytes say the same wherever the stream was cut. */
async function playTwice(
  random: Random,
  whole: Buffer,
  source: (from: Readable) => RunSource,
): Promise<void> {
  const limits = chance(random, 0.2);
  const first = await played(source(Readable.from([whole])), limits);
  // What JSON has no word for would have become null.
  for (const line of first.filter((one) => one.startsWith('{"type":"summary"')))
    expect(line).toMatch(/"creditedReactionMinutes":-?[\d.e+-]+,"conversionPercent":[\d.e+-]+/);
  // It takes as long again.
  if (chance(random, 0.7)) return;
  const inPieces = pieces(random, whole, 5).filter(({ length }) => length > 0);
  expect(await played(source(Readable.from(inPieces)), limits)).toEqual(first);
}

test('runs as NDJSON, spoilt', { timeout: TRIES_TIMEOUT_MS }, () =>
  tryOften('NDJSON runs', { withinMs: WITHIN_MS }, (random) =>
    playTwice(random, ndjsonOf(random), ndjsonRun),
  ),
);

test('CSV files, spoilt', { timeout: TRIES_TIMEOUT_MS }, () =>
  tryOften('CSV runs', { withinMs: WITHIN_MS }, async (random) => {
    const whole = csvOf(random);
    try {
      await playTwice(random, whole, (from) => csvRun(from, MAPPING));
    } catch (error) {
      // The header has gone.
      if (!(error instanceof UsageError)) throw error;
      expect(error.message).not.toContain('\n');
    }
  }),
);

test('the command, with files that are spoilt', { timeout: TRIES_TIMEOUT_MS }, async () => {
  const folder = mkdtempSync(join(tmpdir(), 'esterwatch-replay-'));
  onTestFinished(() => rmSync(folder, { recursive: true, force: true }));
  await tryOften('replay commands', { withinMs: 20_000, atOnce: 2 }, async (random, index) => {
    const [csv, map, limits] = ['csv', 'map', 'limits'].map((name) => join(folder, `${index}.${name}`));
    const json = (value: unknown) => {
      const text = Buffer.from(
        JSON.stringify(chance(random, 0.6) ? mutatedJson(random, value) : value) ?? '',
      );
      return chance(random, 0.2) ? mutatedBytes(random, text) : text;
    };
    writeFileSync(csv!, csvOf(random));
    writeFileSync(map!, json(MAPPING));
    writeFileSync(limits!, json({ nearMarginC: 5 }));
    const isCsv = chance(random, 0.5);
    const args = [
      'replay',
      ...(isCsv ? ['--csv', csv!, '--map', map!] : []),
      ...(chance(random, 0.5) ? ['--limits', limits!] : []),
    ];
    const input = isCsv
      ? ''
      : chance(random, 0.9)
        ? ndjsonOf(random).toString()
        : bytes(random, 5000).toString();
    const { code, out, err } = await runCommand(folder, args, input);
    if (code === 0) expect(err).toBe('');
    else {
      expect(code, err).toBe(2);
      expect(err).toMatch(/^esterwatch: [^\n]+\n$/);
    }
    for (const line of out.split('\n').slice(0, -1))
      expect(TYPES).toContain((JSON.parse(line) as { type: string }).type);
  });
});
