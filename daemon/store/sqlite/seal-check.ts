import type Database from 'better-sqlite3';
import { z } from 'zod';
import { alarmSchema } from '../../../shared/wire/api.ts';
import { batchSchema } from '../../../shared/wire/batch.ts';
import { NAME_PATTERN, PRIORITIES } from '../../../shared/wire/names.ts';
import { isOfForm } from '../../watch/action-forms.ts';
import { alarmAnswer } from '../../watch/alarm-answer.ts';
import { Batches } from '../../watch/batches.ts';
import { SiteWatch } from '../../watch/site-watch.ts';
import { nextAlarmState } from '../alarm-state.ts';
import { DROP_ACTION, keepsAll, parseDrop } from '../drops.ts';
import type { AlarmRow, NewAlarmEvent, StoredAction } from '../store.ts';
import {
  type ActionRow,
  type AlarmEventRow,
  actionLine,
  alarmEventLine,
  firstSealLink,
  nextSealLink,
  type SealedPage,
  sealedPage,
} from './chain.ts';
import { decodeCoarse } from './coarse.ts';
import { decodePage } from './page-codec.ts';
import { HOUR_MS, hourOf } from './pages.ts';
import { photographsIn } from './seal-copies.ts';
import type { PlacedPage } from './seal-maker.ts';

/** No seal holds more entries: those of `MOST_ENTRIES` and of the commit that went beyond. */
const MOST_POSITIONS = 1_000_000;
/** The times that the API can say: the years 1 to 9999, epoch ms. */
const [FIRST_MS, LAST_MS] = [-62_135_596_800_000, 253_402_300_799_999];

const position = z.number().int().min(1).max(Number.MAX_SAFE_INTEGER);
const time = z.number().int().min(FIRST_MS).max(LAST_MS);
const name = z.string().regex(NAME_PATTERN);
const hash = z.string().regex(/^[0-9a-f]{64}$/);
/** Half a character would not come back from the database as it went in. */
const text = z.string().refine((given) => given.isWellFormed());
/** As this program writes it: the database's own JSON must understand it, too. */
const json = text.refine((given) => isCanonical(given));

const actionSchema = z.strictObject({
  position,
  action: z.string().max(80),
  atMs: time,
  arrivedMs: time,
  by: text.max(400),
  body: json,
});

const alarmEventSchema = z.strictObject({
  position,
  key: text.min(1).max(400),
  id: z.string().max(200),
  vessel: name,
  alarm: name,
  event: z.enum(['raised', 'cleared', 'acknowledged', 'shelved', 'unshelved', 'explained', 'unexplained']),
  priority: z.enum(PRIORITIES),
  atMs: time,
  arrivedMs: time,
  body: json,
});

const pageSchema = z.strictObject({
  vessel: name,
  channel: name,
  hourMs: time,
  fromMs: time,
  toMs: time,
  fromPosition: position,
  toPosition: position,
  count: z.number().int().min(1),
  least: z.number(),
  sum: z.number(),
  most: z.number(),
  coarse: z.base64().refine((given) => Buffer.from(given, 'base64').toString('base64') === given),
  contentHash: hash,
  /** Of its content, bytes; 0 where its readings were dropped. */
  length: z.number().int().min(0),
});

const headSchema = z.strictObject({
  from: position,
  to: position,
  /** Of the blocks that it replaced. */
  head: hash,
  link: hash,
  actions: z.array(actionSchema),
  alarmEvents: z.array(alarmEventSchema),
  pages: z.array(pageSchema),
});
export type SealHead = z.infer<typeof headSchema>;

/** What an alarm event says, each kind what its state is made from. */
const raisedSchema = alarmSchema
  .pick({ late: true, value: true, limit: true, because: true, todo: true, facts: true })
  .extend({ explainedBy: z.string().nullable().optional() });
const EVENT_BODIES = {
  raised: raisedSchema,
  cleared: z.looseObject({}),
  acknowledged: z.looseObject({ by: text, reason: z.string().nullable() }),
  shelved: z.looseObject({
    shelved: z.looseObject({ by: text, reason: text, sinceMs: time, untilMs: time }),
  }),
  unshelved: z.looseObject({}),
  explained: z.looseObject({ explainedBy: z.string().nullable().optional() }),
  unexplained: z.looseObject({}),
} as const;

/** A seal of a forwarded site that is what it says, ready to be put after another. Plain data, for another thread. */
export interface CheckedSeal {
  from: number;
  to: number;
  /** Of the seal before it. */
  before: Uint8Array;
  head: Uint8Array;
  link: Uint8Array;
  actions: readonly (ActionRow & { position: number })[];
  alarmEvents: readonly (AlarmEventRow & { position: number })[];
  pages: readonly Omit<PlacedPage, 'channelId'>[];
  content: Uint8Array;
  /** Readings that came without their content. */
  without: number;
  /** Hashes of pictures that its entries name, with their types. */
  photographs: readonly { sha256: string; type: string }[];
}

/** Why a seal is not taken in, with words that say where. */
export class SealRefused extends Error {
  readonly code: 'not-next' | 'not-whole';

  constructor(code: SealRefused['code'], message: string) {
    super(message);
    this.code = code;
  }
}

const notWhole = (what: string): SealRefused => new SealRefused('not-whole', what);

interface NewestSeal {
  id: number;
  to: number | null;
  link: Buffer;
}

/** Checks seals that come from another store. Reads only. */
export class SealCheck {
  readonly #sql;
  /** What was made of the deeds of a site up to a position, so that each seal need not begin anew. */
  readonly #sites = new Map<string, { to: number; site: SiteWatch }>();

  constructor(database: Database.Database) {
    this.#sql = {
      actions: database.prepare<[number, number, number], ActionRow & { position: number }>(
        `SELECT position, action, at_ms AS atMs, arrived_ms AS arrivedMs, by, body FROM action
         WHERE site_id = ? AND position BETWEEN ? AND ? ORDER BY position`,
      ),
      newest: database.prepare<[string], NewestSeal>(
        `SELECT id, to_position AS 'to', link FROM site LEFT JOIN seal ON site_id = id
         WHERE name = ? ORDER BY to_position DESC LIMIT 1`,
      ),
      alarm: database
        .prepare<[number, string], string>('SELECT state FROM alarm WHERE site_id = ? AND id = ?')
        .pluck(),
      hasKey: database
        .prepare<[number, string], number>('SELECT 1 FROM alarm_event WHERE site_id = ? AND key = ?')
        .pluck(),
      hasBatch: database
        .prepare<[string, number], number>(
          `SELECT 1 FROM action WHERE action = 'batch-opened' AND body ->> 'id' = ? AND site_id <> ? LIMIT 1`,
        )
        .pluck(),
      pictureType: database.prepare<[string], string>('SELECT type FROM photograph WHERE sha256 = ?').pluck(),
      waitingPictureType: database
        .prepare<[string, string], string>(
          'SELECT type FROM forwarded_photograph WHERE site = ? AND sha256 = ?',
        )
        .pluck(),
    };
  }

  /**
   * A seal that came for a site, found to be what it says, and the next.
   * @throws SealRefused
   */
  checked(site: string, bytes: Uint8Array): CheckedSeal {
    const { said, content } = parsed(bytes);
    const newest = this.#sql.newest.get(site);
    const sealedTo = newest?.to ?? 0;
    if (said.from !== sealedTo + 1)
      throw new SealRefused('not-next', `the next begins at ${sealedTo + 1}, not ${said.from}`);
    if (said.to < said.from || said.to - said.from >= MOST_POSITIONS) throw notWhole('from and to');
    const before = newest?.to == null ? firstSealLink(site) : newest.link;
    const log = [
      ...said.actions.map((row) => ({ position: row.position, line: actionLine(row.position, row) })),
      ...said.alarmEvents.map((row) => ({ position: row.position, line: alarmEventLine(row.position, row) })),
    ].sort((a, b) => a.position - b.position);
    const places = new Places(said.from, said.to);
    for (const one of log) places.take(one.position);
    const { pages, without } = checkedPages(said.pages, content, places);
    places.checkFull(without);
    const [head, link] = [Buffer.from(said.head, 'hex'), Buffer.from(said.link, 'hex')];
    const lines = log.map(({ line }) => line);
    const made = nextSealLink(before, { from: said.from, to: said.to, head, log: lines, pages });
    if (!made.equals(link)) throw notWhole('its link is not that of what it holds');
    this.#checkAlarms(site, newest?.id ?? -1, said.alarmEvents);
    const photographs = photographsIn(said.actions);
    this.#checkPhotographs(site, photographs);
    this.#checkDeeds(site, newest?.id ?? -1, said);
    return {
      from: said.from,
      to: said.to,
      before,
      head,
      link,
      actions: said.actions,
      alarmEvents: said.alarmEvents,
      pages,
      content,
      without,
      photographs,
    };
  }

  /** Each can be told, and so can what it makes of the alarm. */
  #checkAlarms(site: string, siteId: number, events: SealHead['alarmEvents']): void {
    const states = new Map<string, AlarmRow | undefined>();
    const keys = new Set<string>();
    for (const event of [...events].sort((a, b) => a.position - b.position)) {
      const { id, vessel, key } = event;
      const body: unknown = JSON.parse(event.body);
      const begin = `${site}.${vessel}.`;
      const isNamed = id.startsWith(begin) && /^\d{1,15}$/.test(id.slice(begin.length));
      if (!isNamed || !EVENT_BODIES[event.event].safeParse(body).success)
        throw notWhole(`the alarm event at ${event.position}`);
      if (keys.has(key) || this.#sql.hasKey.get(siteId, key) !== undefined)
        throw notWhole(`the alarm event at ${event.position} is there already`);
      keys.add(key);
      if (!states.has(id)) {
        const state = this.#sql.alarm.get(siteId, id);
        states.set(id, state === undefined ? undefined : (JSON.parse(state) as AlarmRow));
      }
      const given: NewAlarmEvent = { kind: 'alarm', ...event, body };
      states.set(id, nextAlarmState(site, states.get(id), given));
    }
    for (const state of states.values()) {
      try {
        if (state !== undefined) alarmAnswer({ ...state, explainedBy: state.explainedBy ?? null });
      } catch {
        throw notWhole(`the alarm ${state!.id}`);
      }
    }
  }

  #checkPhotographs(site: string, photographs: CheckedSeal['photographs']): void {
    for (const { sha256, type } of photographs) {
      const known = this.#sql.pictureType.get(sha256) ?? this.#sql.waitingPictureType.get(site, sha256);
      if (known === undefined) throw notWhole(`the photograph ${sha256} has not come`);
      if (known !== type) throw notWhole(`the photograph ${sha256} is of another type`);
    }
  }

  /** Whether all that is made of deeds can be made of these: by making it. */
  #checkDeeds(site: string, siteId: number, { from, to, actions }: SealHead): void {
    let made = this.#sites.get(site);
    this.#sites.delete(site);
    if (made?.to !== from - 1) {
      const before = this.#sql.actions.all(siteId, 1, from - 1).map(asAction);
      made = { to, site: new SiteWatch(site) };
      made.site.follow(before);
    }
    try {
      for (const row of actions) {
        const action = asAction(row);
        if (!isOfForm(action.action, action.body)) throw notWhole(`the action at ${row.position}`);
        // What was done in the minute before may have been unknown to whoever dropped.
        if (action.action === DROP_ACTION) this.#checkDrop(site, siteId, row, actions);
        made.site.follow([action]);
      }
      for (const id of batchesNamed(actions)) {
        const batch = made.site.batches.get(id);
        if (batch !== undefined) batchSchema.parse(batch);
      }
      made.site.batches.spans();
      made.site.lots.list();
      made.site.templates.list();
    } catch (error) {
      throw error instanceof SealRefused ? error : notWhole('what was done cannot be understood');
    }
    for (const row of actions) {
      if (row.action !== 'batch-opened') continue;
      const { id } = JSON.parse(row.body) as { id: string };
      if (this.#sql.hasBatch.get(id, siteId) !== undefined)
        throw notWhole(`the batch at ${row.position} is one of another site`);
    }
    this.#sites.set(site, { to, site: made.site });
  }

  /** As `verify` would: a drop that takes readings of a batch is not what a daemon writes. */
  #checkDrop(
    site: string,
    siteId: number,
    drop: ActionRow & { position: number },
    rows: SealHead['actions'],
  ): void {
    const batches = new Batches(site);
    const earlier = [...this.#sql.actions.all(siteId, 1, Number.MAX_SAFE_INTEGER), ...rows].filter(
      ({ position, arrivedMs }) => position < drop.position && arrivedMs < drop.arrivedMs - 60_000,
    );
    for (const row of earlier) batches.apply(asAction(row));
    if (!keepsAll(parseDrop(drop.body)!, batches.spans()))
      throw notWhole(`the drop at ${drop.position} takes readings of a batch`);
  }
}

const asAction = ({ body, ...row }: ActionRow & { position: number }): StoredAction => ({
  kind: 'action',
  ...row,
  body: JSON.parse(body) as unknown,
});

function isCanonical(given: string): boolean {
  try {
    return JSON.stringify(JSON.parse(given)) === given;
  } catch {
    return false;
  }
}

/** @throws SealRefused */
function parsed(bytes: Uint8Array): { said: SealHead; content: Buffer } {
  const whole = Buffer.from(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  const end = whole.indexOf(0x0a);
  if (end === -1) throw notWhole('there is no first line');
  let json: unknown;
  try {
    const line = whole.toString('utf8', 0, end);
    json = JSON.parse(line);
    if (JSON.stringify(json) !== line) throw new Error('another form');
  } catch {
    throw notWhole('its first line is not as a daemon writes it');
  }
  const said = headSchema.safeParse(json);
  if (!said.success) throw notWhole(`${said.error.issues[0]!.path.join('.')}: not of the form wanted`);
  return { said: said.data, content: whole.subarray(end + 1) };
}

/** Which positions of a seal have their entry. */
class Places {
  readonly #from: number;
  readonly #taken: Uint8Array;
  #count = 0;

  constructor(from: number, to: number) {
    this.#from = from;
    this.#taken = new Uint8Array(to - from + 1);
  }

  /** How many places there are. */
  get size(): number {
    return this.#taken.length;
  }

  /** @throws SealRefused where there is no such place, or it is taken. */
  take(position: number): void {
    const place = position - this.#from;
    if (!(place >= 0 && place < this.#taken.length) || this.#taken[place] === 1)
      throw notWhole(`an entry at ${position} is too many`);
    this.#taken[place] = 1;
    this.#count++;
  }

  has(from: number, to: number): boolean {
    return from >= this.#from && to < this.#from + this.#taken.length;
  }

  checkFull(without: number): void {
    if (this.#count + without !== this.#taken.length) throw notWhole('entries are missing or too many');
  }
}

/** @throws SealRefused unless each unpacks to what its row says. */
function checkedPages(
  rows: SealHead['pages'],
  content: Buffer,
  places: Places,
): { pages: Omit<PlacedPage, 'channelId'>[]; without: number } {
  const known = new Set<string>();
  let [offset, without] = [0, 0];
  const pages = rows.map(({ coarse, contentHash, length, ...row }) => {
    const where = `${row.vessel}/${row.channel} ${row.hourMs}`;
    if (known.has(where)) throw notWhole(`the page ${where} is there twice`);
    known.add(where);
    const bytes = Buffer.from(content.subarray(offset, offset + length));
    const page = {
      ...row,
      coarse: Buffer.from(coarse, 'base64'),
      contentHash: Buffer.from(contentHash, 'hex'),
      offset,
      length,
    };
    const isInHour = hourOf(row.fromMs) === row.hourMs && hourOf(row.toMs) === row.hourMs;
    if (bytes.length !== length || !isInHour || row.fromMs > row.toMs) throw notWhole(`the page ${where}`);
    if (length === 0) {
      if (!isPossible(page, places)) throw notWhole(`the page ${where}`);
      without += row.count;
    } else checkContent(page, bytes, places, where);
    offset += length;
    return page;
  });
  if (offset !== content.length) throw notWhole('there is more than its pages');
  return { pages, without };
}

function checkContent(
  page: Omit<PlacedPage, 'channelId'>,
  bytes: Buffer,
  places: Places,
  where: string,
): void {
  let made: SealedPage;
  // Before it is unpacked: a few bytes can claim any number of readings, and the memory for them.
  if (page.count > places.size) throw notWhole(`the page ${where} claims too many readings`);
  try {
    const readings = decodePage(bytes, page.count);
    for (let i = 0; i < readings.position.length; i++) {
      places.take(readings.position[i]!);
      const arrivedMs = readings.arrivedMs[i]!;
      if (!(arrivedMs >= FIRST_MS && arrivedMs <= LAST_MS)) throw notWhole(`the page ${where}`);
    }
    made = sealedPage(page.vessel, page.channel, readings, bytes);
  } catch (error) {
    throw error instanceof SealRefused ? error : notWhole(`the page ${where} cannot be read`);
  }
  const isSaid = Object.entries(made).every(([field, value]) => {
    const said = page[field as keyof SealedPage];
    return Buffer.isBuffer(value) ? value.equals(said as Buffer) : value === said;
  });
  if (!isSaid) throw notWhole(`the page ${where} is not what its row says`);
}

/** Of a page without its readings, what can still be said: its steps add up to its row. */
function isPossible(page: Omit<PlacedPage, 'channelId'>, places: Places): boolean {
  const { hourMs, count, least, sum, most, fromPosition, toPosition, coarse } = page;
  if (fromPosition > toPosition || !places.has(fromPosition, toPosition)) return false;
  if (count > toPosition - fromPosition + 1 || least > most) return false;
  try {
    const steps = decodeCoarse(hourMs, coarse);
    return (
      Number.isFinite(sum) &&
      steps.reduce((all, step) => all + step.count, 0) === count &&
      steps.every(
        (step) =>
          step.fromMs >= hourMs &&
          step.fromMs < hourMs + HOUR_MS &&
          step.count >= 1 &&
          step.least >= least &&
          step.most <= most &&
          Number.isFinite(step.sum),
      )
    );
  } catch {
    return false;
  }
}

const batchesNamed = (actions: readonly ActionRow[]): Set<string> =>
  new Set(
    actions.flatMap(({ body }) => {
      const { id, batch } = (JSON.parse(body) ?? {}) as { id?: unknown; batch?: unknown };
      return [id, batch].filter((one) => typeof one === 'string');
    }),
  );
