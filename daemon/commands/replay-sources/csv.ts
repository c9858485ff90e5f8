import type { Readable } from 'node:stream';
import { celsiusFromFahrenheit, celsiusFromKelvin } from '../../../shared/units/temperature.ts';
import { parseDecimal } from '../../../shared/wire/payload.ts';
import { isoTime, parseWireTimeMs } from '../../../shared/wire/time.ts';
import { UsageError } from '../usage.ts';
import type { ColumnName, CsvMapping, MappedColumn } from './csv-mapping.ts';
import { type CsvRecord, CsvRecords } from './csv-records.ts';
import { readLines } from './lines.ts';
import { type RefusedLine, type RunSource, refusedLine } from './source.ts';
import { type TimeReader, timeReader } from './time-form.ts';

/** Times outside are a wrong form, seconds taken for milliseconds above all, or a clock that was not set. */
const FROM_MS = Date.UTC(2000, 0, 1);
const TO_MS = Date.UTC(2100, 0, 1);

type Lines = (string | RefusedLine)[];

/**
 * A run out of a CSV file, by the mapping of its columns. Rows are taken in the order of the file, which
 * must be that of time; what cannot be understood is refused by its line, a cell of it alone where the
 * rest of the row can be.
 * @throws UsageError where the file lacks a column of the mapping.
 */
export async function* csvRun(stream: Readable, mapping: CsvMapping): RunSource {
  const records = new CsvRecords(mapping.separator, mapping.skipLines);
  const table = new CsvTable(mapping);
  yield mapping.vessels.map((vessel) => JSON.stringify({ type: 'vessel', ...vessel }));
  for await (const lines of readLines(stream)) {
    yield lines.flatMap((line) => records.push(line)).flatMap((record) => table.linesOf(record));
  }
  yield [...records.end().flatMap((record) => table.linesOf(record)), ...table.end()];
}

/** Where the columns stand in a row. */
interface Layout {
  time: readonly number[];
  places: readonly (MappedColumn & { index: number })[];
  /** Fields of a row, and those of them that are read. */
  fields: number;
  needed: number;
}

class CsvTable {
  readonly #mapping: CsvMapping;
  readonly #readTime: TimeReader;
  /** Those still to come, the earliest first. */
  readonly #stages: { atMs: number; line: string }[];
  #newestMs = FROM_MS;
  /** Known with the first record. */
  #layout: Layout | undefined;

  constructor(mapping: CsvMapping) {
    this.#mapping = mapping;
    // The schema of the mapping has seen that the form can be read.
    this.#readTime = timeReader(mapping.time.form, mapping.time.offset) as TimeReader;
    this.#stages = mapping.stages
      .map((stage) => ({
        atMs: parseWireTimeMs(stage.at)!,
        line: JSON.stringify({ type: 'stage', ...stage }),
      }))
      .sort((a, b) => a.atMs - b.atMs);
  }

  /** The lines of a run that follow from a record. */
  linesOf(record: CsvRecord | RefusedLine): Lines {
    if ('because' in record) return [record];
    const { fields } = record;
    if (this.#layout === undefined) {
      this.#layout = layoutOf(this.#mapping, fields);
      if (hasHeader(this.#mapping)) return [];
    }
    if (fields.every((field) => field.trim() === '')) return [];
    const refuse = (because: string): Lines => [refusedLine(record.line, because)];
    const { time, places, fields: expected, needed } = this.#layout;
    const tooMany = fields.slice(expected).some((field) => field.trim() !== '');
    if (fields.length < needed || tooMany) return refuse(`${fields.length} fields, not ${expected}`);
    const text = time.map((index) => fields[index]!.trim()).join(' ');
    const atMs = this.#readTime(text);
    if (atMs === undefined) return refuse(`no time of the form: ${shown(text)}`);
    if (!(atMs >= FROM_MS && atMs < TO_MS)) return refuse(`not in the years 2000 to 2099: ${shown(text)}`);
    if (atMs < this.#newestMs) return refuse(`earlier than a row before it: ${shown(text)}`);
    this.#newestMs = atMs;
    const at = isoTime(atMs);
    const readings = places.flatMap((place) => {
      const cell = fields[place.index]!.trim();
      if (cell === '') return [];
      const { vessel, channel } = place;
      const value = inChannelUnit(this.#number(cell), place);
      if (!Number.isFinite(value)) return refuse(`no number for ${vessel} ${channel}: ${shown(cell)}`);
      return [JSON.stringify({ type: 'reading', at, vessel, channel, value })];
    });
    return [...this.#stagesTo(atMs), ...readings];
  }

  /** Stages after the last row. */
  end(): string[] {
    return this.#stagesTo(Number.POSITIVE_INFINITY);
  }

  #stagesTo(atMs: number): string[] {
    const due: string[] = [];
    while (this.#stages.length > 0 && this.#stages[0]!.atMs <= atMs) due.push(this.#stages.shift()!.line);
    return due;
  }

  #number(text: string): number {
    if (!this.#mapping.decimalComma) return parseDecimal(text);
    return text.includes('.') ? Number.NaN : parseDecimal(text.replace(',', '.'));
  }
}

const timeColumns = ({ time }: CsvMapping): ColumnName[] =>
  Array.isArray(time.column) ? time.column : [time.column];

const hasHeader = (mapping: CsvMapping): boolean =>
  [...timeColumns(mapping), ...mapping.columns.map(({ column }) => column)].some(
    (column) => typeof column === 'string',
  );

function layoutOf(mapping: CsvMapping, first: readonly string[]): Layout {
  const time = timeColumns(mapping).map((column) => columnIndex(column, first));
  const places = mapping.columns.map((column) => ({ ...column, index: columnIndex(column.column, first) }));
  const needed = Math.max(...time, ...places.map(({ index }) => index)) + 1;
  return { time, places, fields: first.length, needed };
}

function columnIndex(column: ColumnName, first: readonly string[]): number {
  if (typeof column === 'number') {
    if (column > first.length) {
      throw new UsageError(`--csv: there is no column ${column}, the first row has ${first.length} fields`);
    }
    return column - 1;
  }
  const names = first.map((field) => field.trim());
  const index = names.indexOf(column);
  if (index === -1) throw new UsageError(`--csv: the header has no column ${shown(column)}`);
  if (names.includes(column, index + 1)) {
    throw new UsageError(`--csv: the header has ${shown(column)} more than once: say its number`);
  }
  return index;
}

function inChannelUnit(value: number, { unit, scale = 1, offset = 0 }: MappedColumn): number {
  if (unit === 'degF') return celsiusFromFahrenheit(value);
  if (unit === 'K') return celsiusFromKelvin(value);
  return value * scale + offset;
}

/** A piece of the file in a message. */
const shown = (text: string): string => JSON.stringify(text.slice(0, 40));
