import type Database from 'better-sqlite3';
import type { Buckets, RawReadings } from '../../../shared/wire/api.ts';
import { isoTime } from '../../../shared/wire/time.ts';
import type {
  AlarmHistory,
  AlarmMoment,
  AlarmRow,
  AlarmSpan,
  AlarmsQuery,
  CsvPart,
  CsvPlace,
  NewAction,
  NewAlarmEvent,
  NewReading,
  ReadingsQuery,
  SiteHead,
  SiteProgress,
  StoredAction,
  StoredEntry,
} from '../store.ts';
import { bucketGrid } from './bucket-grid.ts';

type Stored<Entry> = Entry & { position: number };
type InPositions = [string, number, number];
type InRange = [string, string, string, number, number];

const SITE_ID = '(SELECT id FROM site WHERE name = ?)';
const CHANNEL_ID = `(SELECT id FROM channel WHERE site_id = ${SITE_ID} AND vessel = ? AND name = ?)`;
const ACTION_COLUMNS = `'action' AS kind, position, action, at_ms AS atMs, arrived_ms AS arrivedMs, by, body`;

/** A reading as SQLite gives it back: it has no booleans. */
type StoredReadingRow = { position: number } & Omit<NewReading, 'stamped'> & { stamped: number };

const withStamp = (row: StoredReadingRow): StoredEntry => ({ ...row, stamped: row.stamped === 1 });

/** What a state of an alarm lacks that was written when there was no such thing yet. */
const NOT_THERE_BEFORE = { explainedBy: null, shelved: null };

/**
 * The most events of alarms that measures are taken from: twice those of a month with 300 alarms a day, which
 * nobody can manage any more. Counting more would hold the daemon up.
 */
const MOST_MOMENTS = 40_000;
/** Readings of one part of a CSV: other queries wait for no more than that. */
const CSV_ROWS = 10_000;
/** The most alarms that are looked at for how long they stood. */
const MOST_SPANS = 1000;

/** Queries on a connection that cannot write. Synchronous: it has a thread of its own. */
export class SqliteReader {
  readonly #database: Database.Database;
  readonly #sql;
  readonly #entriesBetween;

  constructor(database: Database.Database) {
    this.#database = database;
    this.#sql = {
      sites: database.prepare<
        [],
        {
          site: string;
          lastPosition: number;
          judgedPosition: number | null;
          judgedAtMs: number;
          snapshotPosition: number | null;
          state: string;
        }
      >(
        `SELECT name AS site, last_position AS lastPosition, judged_position AS judgedPosition,
                judged_at_ms AS judgedAtMs, snapshot.position AS snapshotPosition, state
         FROM site LEFT JOIN snapshot ON site_id = id ORDER BY name`,
      ),
      heads: database.prepare<[], SiteHead>(
        `SELECT name AS site, last_position AS entries, lower(hex(link)) AS head
         FROM site JOIN block ON site_id = id AND position = last_position ORDER BY name`,
      ),
      readingsBetween: database.prepare<InPositions, StoredReadingRow>(
        `SELECT 'reading' AS kind, position, vessel, name AS channel, at_ms AS atMs,
                arrived_ms AS arrivedMs, value, nullif(seq, '') AS seq, source, stamped
         FROM reading JOIN channel ON channel.id = channel_id
         WHERE reading.site_id = ${SITE_ID} AND position BETWEEN ? AND ? ORDER BY position`,
      ),
      actionsBetween: database.prepare<InPositions, Stored<NewAction>>(
        `SELECT ${ACTION_COLUMNS} FROM action
         WHERE site_id = ${SITE_ID} AND position BETWEEN ? AND ? ORDER BY position`,
      ),
      alarmEventsBetween: database.prepare<InPositions, Stored<NewAlarmEvent>>(
        `SELECT 'alarm' AS kind, position, key, id, vessel, alarm, event, priority, at_ms AS atMs,
                arrived_ms AS arrivedMs, body
         FROM alarm_event WHERE site_id = ${SITE_ID} AND position BETWEEN ? AND ? ORDER BY position`,
      ),
      actions: database.prepare<[string], Stored<NewAction>>(
        `SELECT ${ACTION_COLUMNS} FROM action WHERE site_id = ${SITE_ID} ORDER BY position`,
      ),
      channels: database.prepare<[string], { vessel: string; channel: string }>(
        `SELECT vessel, name AS channel FROM channel WHERE site_id = ${SITE_ID} ORDER BY vessel, name`,
      ),
      raw: database
        .prepare<InRange, [number, number, number | null]>(
          `SELECT at_ms, value, nullif(seq, '') FROM reading
           WHERE channel_id = ${CHANNEL_ID} AND at_ms BETWEEN ? AND ? ORDER BY at_ms, position`,
        )
        .raw(),
      csv: database
        .prepare<
          [...InRange, number, number, number],
          [atMs: number, value: number, source: string, position: number]
        >(
          `SELECT at_ms, value, source, position FROM reading
           WHERE channel_id = ${CHANNEL_ID} AND at_ms BETWEEN ? AND ? AND (at_ms, position) > (?, ?)
           ORDER BY at_ms, position LIMIT ?`,
        )
        .raw(),
      buckets: database
        .prepare<[bigint, bigint, ...InRange], [number, number, number, number]>(
          `SELECT (at_ms - ?) / ? AS bucket, min(value), avg(value), max(value) FROM reading
           WHERE channel_id = ${CHANNEL_ID} AND at_ms BETWEEN ? AND ? GROUP BY bucket ORDER BY bucket`,
        )
        .raw(),
      alarms: database
        .prepare<{ site: string | null; vessel: string | null; open: number; limit: number }, string>(
          `SELECT state FROM alarm
           WHERE (:site IS NULL OR site_id = (SELECT id FROM site WHERE name = :site))
             AND (:vessel IS NULL OR vessel = :vessel) AND open >= :open
           ORDER BY at_ms DESC, position DESC LIMIT :limit`,
        )
        .pluck(),
      recordedFrom: database
        .prepare<[], number | null>(
          `SELECT min(arrived_ms) FROM (
             SELECT arrived_ms FROM action WHERE (site_id, position) IN (SELECT id, 1 FROM site) UNION ALL
             SELECT arrived_ms FROM reading WHERE (site_id, position) IN (SELECT id, 1 FROM site)
           )`,
        )
        .pluck(),
      alarmMoments: database.prepare<
        [number, number, number],
        Omit<AlarmMoment, 'late' | 'told'> & { late: number; told: number }
      >(
        `SELECT name AS site, vessel, alarm, alarm_event.id, event, priority, at_ms AS atMs,
                arrived_ms AS arrivedMs, body ->> 'late' AS late,
                body ->> 'explainedBy' IS NULL AND body ->> 'shelved' IS NULL AS told
         FROM alarm_event JOIN site ON site.id = site_id
         WHERE arrived_ms BETWEEN ? AND ? AND event IN ('raised', 'unshelved', 'unexplained', 'cleared')
         ORDER BY arrived_ms DESC, position DESC LIMIT ?`,
      ),
      alarmSpans: database.prepare<{ fromMs: number; toMs: number; limit: number }, AlarmSpan>(
        `SELECT name AS site, vessel, state ->> 'alarm' AS alarm, alarm.id, at_ms AS atMs,
                state ->> 'clearedAtMs' AS clearedAtMs
         FROM alarm JOIN site ON site.id = site_id
         WHERE at_ms <= :toMs AND ifnull(clearedAtMs, :toMs) >= :fromMs AND state ->> 'explainedBy' IS NULL
         ORDER BY min(ifnull(clearedAtMs, :toMs), :toMs) - at_ms DESC, position LIMIT :limit`,
      ),
    };
    // In a transaction, so that the three tables are seen at the same moment.
    this.#entriesBetween = database.transaction((...between: InPositions): StoredEntry[] => [
      ...this.#sql.readingsBetween.all(...between).map(withStamp),
      ...this.#sql.actionsBetween.all(...between).map(withBody),
      ...this.#sql.alarmEventsBetween.all(...between).map(withBody),
    ]);
  }

  sites(): readonly SiteProgress[] {
    return this.#sql.sites
      .all()
      .map(({ site, lastPosition, judgedPosition, judgedAtMs, snapshotPosition, state }) => ({
        site,
        lastPosition,
        judged: judgedPosition === null ? null : { position: judgedPosition, atMs: judgedAtMs },
        snapshot: snapshotPosition === null ? null : { position: snapshotPosition, state },
      }));
  }

  heads(): readonly SiteHead[] {
    return this.#sql.heads.all();
  }

  entriesAfter(site: string, position: number, limit: number): readonly StoredEntry[] {
    // Positions have no gaps: the next `limit` entries are those of the next `limit` positions.
    return this.#entriesBetween(site, position + 1, position + limit).sort((a, b) => a.position - b.position);
  }

  actions(site: string): readonly StoredAction[] {
    return this.#sql.actions.all(site).map(withBody);
  }

  channels(site: string): readonly { vessel: string; channel: string }[] {
    return this.#sql.channels.all(site);
  }

  rawReadings({ site, vessel, channel, fromMs, toMs }: ReadingsQuery): RawReadings {
    const readings: RawReadings = { t: [], value: [], seq: [] };
    for (const [t, value, seq] of this.#sql.raw.iterate(site, vessel, channel, fromMs, toMs)) {
      readings.t.push(t);
      readings.value.push(value);
      readings.seq.push(seq);
    }
    return readings;
  }

  readingsJson(query: ReadingsQuery & { points: number | 'raw' }): Uint8Array {
    const { points } = query;
    return Buffer.from(
      JSON.stringify(points === 'raw' ? this.rawReadings(query) : this.buckets({ ...query, points })),
    );
  }

  readingsCsv({
    site,
    vessel,
    channel,
    fromMs,
    toMs,
    after,
  }: ReadingsQuery & { after: CsvPlace | null }): CsvPart {
    const from = Math.max(fromMs, after?.atMs ?? fromMs);
    const place = [after?.atMs ?? Number.MIN_SAFE_INTEGER, after?.position ?? 0] as const;
    const rows = this.#sql.csv.all(site, vessel, channel, from, toMs, ...place, CSV_ROWS);
    let csv = '';
    for (const [atMs, value, source] of rows) csv += `${isoTime(atMs)},${channel},${value},${source}\n`;
    const last = rows.length < CSV_ROWS ? undefined : rows.at(-1);
    return {
      csv: Buffer.from(csv),
      endsAt: last === undefined ? null : { atMs: last[0], position: last[3] },
    };
  }

  buckets({ site, vessel, channel, fromMs, toMs, points }: ReadingsQuery & { points: number }): Buckets {
    const { originMs, stepMs } = bucketGrid(fromMs, toMs, points);
    const buckets: Buckets = { t: [], min: [], mean: [], max: [], stepMs };
    // Bound as integers: a number would be a real, and the division not a whole one.
    const rows = this.#sql.buckets.all(BigInt(originMs), BigInt(stepMs), site, vessel, channel, fromMs, toMs);
    for (const [bucket, min, mean, max] of rows) {
      buckets.t.push(Math.max(originMs + bucket * stepMs, fromMs));
      buckets.min.push(min);
      buckets.mean.push(mean);
      buckets.max.push(max);
    }
    return buckets;
  }

  alarms({ site, vessel, open, limit }: AlarmsQuery): readonly AlarmRow[] {
    return this.#sql.alarms
      .all({ site: site ?? null, vessel: vessel ?? null, open: open ? 1 : 0, limit })
      .map((state) => ({ ...NOT_THERE_BEFORE, ...(JSON.parse(state) as AlarmRow) }));
  }

  alarmHistory({ fromMs, toMs }: { fromMs: number; toMs: number }): AlarmHistory {
    const recordedFromMs = this.#sql.recordedFrom.get() ?? toMs;
    const startMs = Math.min(Math.max(fromMs, recordedFromMs), toMs);
    const rows = this.#sql.alarmMoments.all(startMs, toMs, MOST_MOMENTS + 1);
    const isAll = rows.length <= MOST_MOMENTS;
    const moments = isAll ? rows.reverse() : rows.slice(0, MOST_MOMENTS).reverse();
    const from = isAll ? startMs : moments[0]!.arrivedMs;
    const spans = this.#sql.alarmSpans.all({ fromMs: from, toMs, limit: MOST_SPANS + 1 });
    return {
      fromMs: from,
      toMs,
      complete: isAll,
      moments: moments.map((row) => ({ ...row, late: row.late === 1, told: row.told === 1 })),
      spans: spans.slice(0, MOST_SPANS),
      moreSpans: spans.length > MOST_SPANS,
    };
  }

  close(): void {
    this.#database.close();
  }
}

/** A row whose `body` is JSON text, with what it stands for. */
const withBody = <Row extends { body: unknown }>(row: Row): Row => ({
  ...row,
  body: JSON.parse(row.body as string),
});
