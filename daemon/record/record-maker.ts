import { balanceOf } from '../../shared/batch/balance.ts';
import { testsOfFuel } from '../../shared/batch/test-limits.ts';
import { yieldOf } from '../../shared/batch/yield.ts';
import { Replay } from '../../shared/engine/replay.ts';
import type { Alarm } from '../../shared/wire/api.ts';
import type { Batch } from '../../shared/wire/batch.ts';
import { channelKind, ENDED_STAGES } from '../../shared/wire/names.ts';
import { type BatchRecord, type Paper, type RecordFormat, recordSchema } from '../../shared/wire/record.ts';
import { isoTime } from '../../shared/wire/time.ts';
import { openReadable } from '../store/sqlite/database.ts';
import { SqliteReader } from '../store/sqlite/reader.ts';
import {
  type CsvPlace,
  type History,
  type SiteProgress,
  type StoredAction,
  StoreError,
} from '../store/store.ts';
import { alarmAnswer } from '../watch/alarm-answer.ts';
import { Batches } from '../watch/batches.ts';
import { Thermometers } from '../watch/thermometers.ts';
import { recordHtml } from './html.ts';
import type { PictureOf } from './photographs.ts';
import { recordedBatch, recordedRun } from './recorded-batch.ts';
import { type Stay, staysOf } from './stays.ts';

/** Points of a line that is drawn. */
const LINE_POINTS = 600;
/** The most alarms that are looked through. */
const MOST_ALARMS = 100_000;
/** Of a CSV or a run at a time: a client that takes one in 30 s takes 2 kB/s. */
const PART_LENGTH = 64_000;

const RENDER: Record<
  RecordFormat,
  (record: BatchRecord, pictureOf: PictureOf, paper: Paper) => Promise<Uint8Array>
> = {
  json: async (record) => Buffer.from(`${JSON.stringify(record, null, 2)}\n`),
  html: async (record, pictureOf) => Buffer.from(await recordHtml(record, pictureOf)),
  // What draws it takes longer to load than the rest together.
  pdf: async (...what) => (await import('./pdf.ts')).recordPdf(...what),
};

/** A batch as the store has it. */
interface Found {
  site: SiteProgress;
  batch: Batch;
  /** All batches of the site. */
  ofSite: readonly Batch[];
  thermometers: Thermometers;
  stays: readonly Stay[];
  fromMs: number;
  toMs: number;
}

/** Makes the record of a batch from a store, also beside a running daemon. For a thread or a process of its own. */
export class RecordMaker {
  readonly #reader: SqliteReader;
  readonly #history: History;
  #csv: Generator<string> | null = null;
  #run: AsyncGenerator<string> | null = null;

  /** Throws a `StoreError` as `openReadable` does. */
  constructor(dir: string) {
    const reader = new SqliteReader(openReadable(dir));
    this.#reader = reader;
    this.#history = {
      sites: async () => reader.sites(),
      actions: async (site) => reader.actions(site),
      entriesAfter: async (site, position, limit) => reader.entriesAfter(site, position, limit),
    };
  }

  /** A record as it is given out; null where there is no such batch. */
  async make(id: string, format: RecordFormat, paper: Paper, madeMs: number): Promise<Uint8Array | null> {
    const record = await this.record(id, madeMs);
    return record && RENDER[format](record, (sha256) => this.#pictureOf(sha256), paper);
  }

  /** Null where there is no such batch. */
  async record(id: string, madeMs: number): Promise<BatchRecord | null> {
    const found = this.#find(id);
    if (found === null) return null;
    const { site, batch, stays, fromMs, toMs } = found;
    const ended = batch.stages.findLast(({ stage }) => ENDED_STAGES.includes(stage));
    const balance = balanceOf(batch);
    const channels = stays.flatMap((stay) => this.#channelsOf(site.site, stay));
    const { entries, head, sealed } = this.#reader.heads().find((one) => one.site === site.site)!;
    return recordSchema.parse({
      form: 'esterwatch batch record 1',
      made: isoTime(madeMs),
      batch,
      from: isoTime(fromMs),
      to: isoTime(toMs),
      boilingC: batch.computed?.methanolBoilingC ?? null,
      outcome: ended ?? null,
      tests: testsOfFuel(batch),
      lots: batch.draws,
      vessels: await this.#figures(id),
      channels,
      thermometers: channels.flatMap((channel) => thermometerOf(found.thermometers, channel)),
      alarms: this.#alarms(site.site, stays),
      deviations: batch.stages.flatMap(({ stage, at, by, deviation }) =>
        deviation === null ? [] : [{ stage, at, by, ...deviation }],
      ),
      balance,
      yield: yieldOf(batch, balance, found.ofSite),
      chain: { entries, head, sealed },
    });
  }

  /** Begins the CSV of every reading of a batch, in the order of their times. Gives whether there is such a batch. */
  beginCsv(id: string): boolean {
    const found = this.#find(id);
    this.#csv = found === null ? null : this.#csvOf(found);
    return found !== null;
  }

  /** Its next part, about 64,000 characters; null after the last. */
  nextCsv(): string | null {
    const next = this.#csv?.next();
    return next === undefined || next.done ? null : next.value;
  }

  /** Begins the recorded run of a batch as NDJSON, as `replay` plays it. Gives whether there is such a batch. */
  async beginRun(id: string): Promise<boolean> {
    const run = await recordedBatch(this.#history, id);
    this.#run = run === undefined ? null : inParts(run);
    return run !== undefined;
  }

  /** Its next part, about 64,000 characters; null after the last. */
  async nextRun(): Promise<string | null> {
    const next = await this.#run?.next();
    return next === undefined || next.done ? null : next.value;
  }

  close(): void {
    this.#reader.close();
  }

  /** A record is made all the same where somebody has changed a picture: it says so. */
  #pictureOf(sha256: string): Uint8Array | null {
    try {
      return this.#reader.photograph(sha256)?.content ?? null;
    } catch (error) {
      if (error instanceof StoreError && error.code === 'store-changed') return null;
      throw error;
    }
  }

  #find(id: string): Found | null {
    for (const site of this.#reader.sites()) {
      const actions = this.#reader.actions(site.site);
      const batches = batchesOf(site.site, actions);
      const batch = batches.get(id);
      if (batch === undefined) continue;
      const stays = staysOf(actions, id, site.judged?.atMs ?? 0);
      const fromMs = Math.min(...stays.map((stay) => stay.fromMs));
      const ofSite = batches.list();
      const thermometers = new Thermometers(site.site);
      for (const action of actions) thermometers.apply(action, action.position);
      return {
        site,
        batch,
        ofSite,
        thermometers,
        stays,
        fromMs,
        toMs: Math.max(...stays.map((stay) => stay.toMs)),
      };
    }
    return null;
  }

  /** Plays the batch through the rules of today. */
  async #figures(id: string): Promise<BatchRecord['vessels']> {
    const run = new Replay();
    for await (const lines of (await recordedRun(this.#history, id))!) {
      for (const line of lines) {
        if (typeof line === 'string') run.push(line);
        else run.read(line);
      }
    }
    return run
      .end()
      .filter((line) => 'type' in line && line.type === 'summary')
      .map((line) => line as unknown as BatchRecord['vessels'][number]);
  }

  #channelsOf(site: string, { vessel, fromMs, toMs }: Stay): BatchRecord['channels'] {
    return this.#reader
      .channels(site)
      .filter((one) => one.vessel === vessel)
      .flatMap(({ channel }) => {
        const query = { site, vessel, channel, fromMs, toMs };
        const extent = this.#reader.extent(query);
        if (extent === null) return [];
        const { count, ...rest } = extent;
        const line = this.#reader.buckets({ ...query, points: LINE_POINTS });
        return [
          { vessel, channel, from: isoTime(fromMs), to: isoTime(toMs), readings: count, ...rest, line },
        ];
      });
  }

  #alarms(site: string, stays: readonly Stay[]): Alarm[] {
    return stays
      .flatMap(({ vessel, fromMs, toMs }) =>
        this.#reader
          .alarms({ site, vessel, limit: MOST_ALARMS })
          .filter(({ atMs }) => atMs >= fromMs && atMs <= toMs),
      )
      .sort((a, b) => a.atMs - b.atMs)
      .map(alarmAnswer);
  }

  /** Streams are put together line by line, so that empty years between readings cost nothing. */
  *#csvOf({ site: { site }, stays }: Found): Generator<string> {
    yield 'at,channel,value,source\n';
    const streams = stays.flatMap(({ vessel, ...stay }) =>
      this.#reader
        .channels(site)
        .filter((one) => one.vessel === vessel)
        .map(({ channel }) => {
          // Of another vessel than the one that the batch was opened on, its name stands before.
          const name = vessel === stays[0]!.vessel ? channel : `${vessel}/${channel}`;
          const lines = this.#csvLines({ site, vessel, channel, ...stay }, name);
          return { lines, next: lines.next() };
        }),
    );
    let part = '';
    for (;;) {
      let earliest: { stream: (typeof streams)[number]; line: string } | undefined;
      for (const stream of streams) {
        if (stream.next.done) continue;
        const line = stream.next.value;
        // Each begins with its time; those of the same time stay in the order of their channels.
        if (earliest === undefined || line.slice(0, TIME_LENGTH) < earliest.line.slice(0, TIME_LENGTH))
          earliest = { stream, line };
      }
      if (earliest !== undefined) {
        part += `${earliest.line}\n`;
        earliest.stream.next = earliest.stream.lines.next();
      }
      if (part.length >= PART_LENGTH || (earliest === undefined && part !== '')) {
        yield part;
        part = '';
      }
      if (earliest === undefined) return;
    }
  }

  *#csvLines(query: Parameters<SqliteReader['rawReadings']>[0], name: string): Generator<string, undefined> {
    for (let after: CsvPlace | null = null; ; ) {
      const { csv, endsAt } = this.#reader.readingsCsv({ ...query, after });
      for (const line of Buffer.from(csv).toString().split('\n')) {
        if (line === '') continue;
        yield name === query.channel ? line : line.replace(`,${query.channel},`, `,${name},`);
      }
      if (endsAt === null) return;
      after = endsAt;
    }
  }
}

/** How a channel of a batch was checked, where it is a thermometer: as it was then, whatever was noted later. */
function thermometerOf(
  thermometers: Thermometers,
  { vessel, channel, from, to }: BatchRecord['channels'][number],
): BatchRecord['thermometers'] {
  if (channelKind(channel) !== 'temperature') return [];
  const checks = thermometers
    .checks(vessel, channel)
    .filter(({ noted, ended }) => noted <= to && (ended === null || ended.at >= from))
    .map((check) => ({ ...check, ended: check.ended !== null && check.ended.at <= to ? check.ended : null }));
  const newest = checks.at(-1);
  const overdue =
    newest !== undefined && newest.ended === null && newest.due < to.slice(0, 'YYYY-MM-DD'.length);
  return [{ vessel, channel, checks, overdue }];
}

async function* inParts(run: AsyncIterable<readonly string[]>): AsyncGenerator<string> {
  let part = '';
  for await (const lines of run) {
    for (const line of lines) {
      part += `${line}\n`;
      if (part.length < PART_LENGTH) continue;
      yield part;
      part = '';
    }
  }
  if (part !== '') yield part;
}

/** Characters of a time as `isoTime` writes it, of the years that readings can have. */
const TIME_LENGTH = '2026-03-02T10:15:00.000Z'.length;

function batchesOf(site: string, actions: readonly StoredAction[]): Batches {
  const batches = new Batches(site);
  for (const action of actions) batches.apply(action);
  return batches;
}
