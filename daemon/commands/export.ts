import { closeSync, openSync, renameSync, rmSync, writeSync } from 'node:fs';
import { PAPERS, type Paper, RECORD_FORMATS, type RecordFormat } from '../../shared/wire/record.ts';
import type { RecordMaker } from '../record/record-maker.ts';
import { DEFAULT_DATA, readOptions } from './options.ts';
import { UsageError } from './usage.ts';

const FORMATS = ['csv', ...RECORD_FORMATS] as const;

const HELP = `esterwatch export: writes a batch out of a store, also beside a running daemon: its record, or as CSV
every reading.

  --data DIR     where the store is (${DEFAULT_DATA})
  --batch ID     which batch
  --format NAME  ${FORMATS.join(', ')}
  --paper NAME   of a PDF: ${PAPERS.join(', ')} (${PAPERS[0]})
  --out FILE     where to; what is there already is written over only when the new one is whole
  --help
`;

export async function exportBatch(args: string[]): Promise<void> {
  const given = readOptions(
    args,
    {
      data: { type: 'string' },
      batch: { type: 'string' },
      format: { type: 'string' },
      out: { type: 'string' },
      paper: { type: 'string' },
    },
    HELP,
  );
  if (given === null) return;
  const { data = DEFAULT_DATA, batch, out } = given;
  if (batch === undefined || out === undefined)
    throw new UsageError('export wants --batch ID and --out FILE');
  const format = FORMATS.find((name) => name === given.format);
  if (format === undefined) throw new UsageError(`--format wants one of ${FORMATS.join(', ')}`);
  const paper = PAPERS.find((name) => name === (given.paper ?? PAPERS[0]));
  if (paper === undefined) throw new UsageError(`--paper wants one of ${PAPERS.join(', ')}`);
  // Loaded when there is something to make: it brings what draws pages.
  const { RecordMaker } = await import('../record/record-maker.ts');
  const maker = new RecordMaker(data);
  try {
    await writeWhole(out, () => partsOf(maker, data, { batch, format, paper }));
  } finally {
    maker.close();
  }
}

async function* partsOf(
  maker: RecordMaker,
  data: string,
  { batch, format, paper }: { batch: string; format: 'csv' | RecordFormat; paper: Paper },
): AsyncGenerator<string | Uint8Array> {
  const none = new UsageError(`${data}: there is no batch ${batch}`);
  if (format !== 'csv') {
    const record = await maker.make(batch, format, paper, Date.now());
    if (record === null) throw none;
    yield record;
    return;
  }
  if (!maker.beginCsv(batch)) throw none;
  for (let part = maker.nextCsv(); part !== null; part = maker.nextCsv()) yield part;
}

/** Writes beside the file first, so that there is never half of one under its name. */
async function writeWhole(file: string, parts: () => AsyncIterable<string | Uint8Array>): Promise<void> {
  const path = `${file}.${process.pid}.writing`;
  let descriptor: number;
  try {
    descriptor = openSync(path, 'wx', 0o600);
  } catch (error) {
    throw new UsageError(`${file}: cannot be written (${(error as Error).message})`);
  }
  try {
    for await (const part of parts()) writeSync(descriptor, Buffer.from(part as Uint8Array));
    renameSync(path, file);
  } catch (error) {
    rmSync(path, { force: true });
    throw error;
  } finally {
    closeSync(descriptor);
  }
}
