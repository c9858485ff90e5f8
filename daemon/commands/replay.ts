import { once } from 'node:events';
import { createReadStream } from 'node:fs';
import { Replay } from '../../shared/engine/replay.ts';
import { withLimits } from '../../shared/engine/with-limits.ts';
import { type Limits, limitsSchema } from '../../shared/rules/limits.ts';
import { readJsonFile } from '../json-file.ts';
import { DEFAULT_DATA, readOptions } from './options.ts';
import { csvRun } from './replay-sources/csv.ts';
import { mappingSchema } from './replay-sources/csv-mapping.ts';
import { ndjsonRun } from './replay-sources/ndjson.ts';
import type { RunSource } from './replay-sources/source.ts';
import { UsageError } from './usage.ts';

const HELP = `esterwatch replay: plays a recorded run through today's rules and prints what they say to it as
NDJSON: alarms as they happen, refused lines, at the end a summary a vessel. The run is read from stdin,
one JSON object a line, or is

  --batch ID     a batch out of the store, also while a daemon writes it
  --data DIR     where the store is (${DEFAULT_DATA})

  --csv FILE     a CSV file
  --map FILE     what its columns mean, JSON: see docs/replay.md

  --limits FILE  a JSON object of limits that go over those of the plans
  --help
`;

/** Plays a run through the rules, as fast as it can be read. */
export async function replay(args: string[]): Promise<void> {
  const given = readOptions(
    args,
    {
      batch: { type: 'string' },
      data: { type: 'string' },
      csv: { type: 'string' },
      map: { type: 'string' },
      limits: { type: 'string' },
    },
    HELP,
  );
  if (given === null) return;
  const { batch, data, csv, map } = given;
  if (data !== undefined && batch === undefined) throw new UsageError('--data wants --batch too');
  if ((csv === undefined) !== (map === undefined)) throw new UsageError('--csv and --map go together');
  if (batch !== undefined && csv !== undefined) throw new UsageError('--batch and --csv exclude each other');
  const limits = given.limits === undefined ? {} : readJsonFile(given.limits, '--limits', limitsSchema);

  if (batch !== undefined) return playBatch(data ?? DEFAULT_DATA, batch, limits);
  if (csv === undefined || map === undefined) return play(ndjsonRun(process.stdin), limits);
  const mapping = readJsonFile(map, '--map', mappingSchema);
  return play(csvRun(createReadStream(csv), mapping), limits);
}

async function playBatch(dir: string, id: string, limits: Partial<Limits>): Promise<void> {
  const { openHistory } = await import('../store/open.ts');
  const { recordedBatch } = await import('../record/recorded-batch.ts');
  const history = await openHistory(dir);
  try {
    const run = await recordedBatch(history, id);
    if (run === undefined) throw new UsageError(`${dir}: there is no batch ${id}`);
    await play(run, limits);
  } finally {
    await history.close();
  }
}

async function play(source: RunSource, limits: Partial<Limits>): Promise<void> {
  const run = new Replay();
  const overridden = Object.keys(limits).length > 0;
  for await (const lines of source) {
    const told: object[] = [];
    for (const line of lines) {
      if (typeof line !== 'string') told.push(line);
      else told.push(...run.push(overridden ? withLimits(line, limits) : line));
    }
    await print(told);
  }
  await print(run.end());
}

async function print(lines: readonly object[]): Promise<void> {
  if (lines.length === 0) return;
  const text = `${lines.map((line) => JSON.stringify(line)).join('\n')}\n`;
  if (!process.stdout.write(text)) await once(process.stdout, 'drain');
}
