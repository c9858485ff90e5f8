import { vesselOfDevice } from '../../shared/engine/devices.ts';
import type { StatedPressure } from '../../shared/engine/events.ts';
import { alarmId } from '../../shared/engine/view.ts';
import type { WatchPlan } from '../../shared/plan/watch-plan.ts';
import { ENDED_STAGES, type Role } from '../../shared/wire/names.ts';
import type { ReplayLine } from '../../shared/wire/replay-line.ts';
import { isoTime } from '../../shared/wire/time.ts';
import { DROP_ACTION } from '../store/drops.ts';
import type { History, NewAction, SiteProgress, StoredAction, StoredEntry } from '../store/store.ts';
import { type Action, watchPlanOf } from '../watch/actions.ts';

/** A vessel's readings are played from so long before it came into the batch, for its trend, ms. */
const LEAD_MS = 600_000;
/** A barometer's from so long before: that is how long it counts, ms. */
const BAROMETER_LEAD_MS = 3_600_000;
/** Stored entries that are fetched at a time. */
const PAGE = 1000;

/** A vessel in a batch, until another batch takes it. */
interface Stay {
  vessel: string;
  /** Where it came in: by position, since the clock that times arrivals may have been set since. */
  fromPosition: number;
  fromMs: number;
  /** Positions from here on are not the batch's. */
  toPosition: number;
}

/** A batch in the order of its site. */
interface Course {
  vessel: string;
  opened: { position: number; arrivedMs: number };
  /** Position of the stage that ended it; null for a batch under way. */
  endPosition: number | null;
  stays: Stay[];
  /** When the clock that times arrivals was set, and by how much. */
  clockSteps: { position: number; stepMs: number }[];
}

/**
 * A stored batch as the lines of a recorded run, a page at a time: every vessel that took part, from
 * shortly before it came in to the end of the batch, or as far as its site has been watched. Undefined
 * where the store has no such batch.
 */
export async function recordedBatch(
  history: History,
  id: string,
): Promise<AsyncGenerator<string[]> | undefined> {
  const run = await recordedRun(history, id);
  return run && asText(run);
}

/** A line of a run, or what a line of a reading says. */
export type RunLine = string | RunReading;
export type RunReading = Extract<ReplayLine, { type: 'reading' }>;

async function* asText(run: AsyncIterable<RunLine[]>): AsyncGenerator<string[]> {
  for await (const lines of run) yield lines.map((line) => (typeof line === 'string' ? line : textOf(line)));
}

function textOf({ atMs, arrivedMs, vessel, channel, value, typed, stamped }: RunReading): string {
  const times = { at: isoTime(atMs), arrived: isoTime(arrivedMs) };
  const marks = { ...(typed && { typed }), ...(stamped && { stamped }) };
  return JSON.stringify({ type: 'reading', ...times, vessel, channel, value, ...marks });
}

/** The same, its readings not put into words: to be played at once. */
export async function recordedRun(
  history: History,
  id: string,
): Promise<AsyncGenerator<RunLine[]> | undefined> {
  for (const progress of await history.sites()) {
    const actions = await history.actions(progress.site);
    const course = courseOf(actions, id);
    if (course !== undefined) return pages(history, progress, actions, course, id);
  }
  return undefined;
}

function courseOf(actions: readonly StoredAction[], id: string): Course | undefined {
  let course: Course | undefined;
  const clockSteps: Course['clockSteps'] = [];
  const enter = (batch: string, vessel: string, { position, arrivedMs }: StoredAction) => {
    for (const stay of course?.stays ?? []) {
      if (stay.vessel === vessel) stay.toPosition = Math.min(stay.toPosition, position);
    }
    if (batch === id) {
      const toPosition = Number.POSITIVE_INFINITY;
      course?.stays.push({ vessel, fromPosition: position, fromMs: arrivedMs, toPosition });
    }
  };
  for (const stored of actions) {
    const { action, body } = stored as unknown as Action;
    if (action === 'batch-opened') {
      if (body.id === id) {
        course = { vessel: body.vessel, opened: stored, endPosition: null, stays: [], clockSteps };
      }
      enter(body.id, body.vessel, stored);
    } else if (action === 'clock-step') {
      clockSteps.push({ position: stored.position, stepMs: body.stepMs });
    } else if (action === 'vessel-joined') {
      enter(body.batch, body.vessel, stored);
    } else if (action === 'stage' && body.batch === id && ENDED_STAGES.includes(body.stage)) {
      course!.endPosition = stored.position;
    }
  }
  return course;
}

async function* pages(
  history: History,
  { site, judged, lastPosition }: SiteProgress,
  actions: readonly StoredAction[],
  course: Course,
  id: string,
): AsyncGenerator<RunLine[]> {
  const end = course.endPosition ?? lastPosition;
  let position = await positionBefore(history, site, course.opened.position, leadFromMs(course));
  const lines = new RunLines(site, course, id);
  for (const action of actions) if (action.position <= position) lines.know(action);

  const fetch = (after: number) => history.entriesAfter(site, after, Math.min(PAGE, end - after));
  let fetching = fetch(position);
  while (position < end) {
    const page = (await fetching).filter((entry) => entry.position <= end);
    position = page.at(-1)?.position ?? end;
    // The next page is fetched while this one is played.
    if (position < end) fetching = fetch(position);
    const played: RunLine[] = [];
    for (const entry of page) for (const line of lines.linesOf(entry)) played.push(line);
    yield played;
  }
  if (course.endPosition === null && judged !== null) {
    yield [JSON.stringify({ type: 'end', at: isoTime(judged.atMs) })];
  }
}

const leadFromMs = ({ opened }: Course): number => opened.arrivedMs - BAROMETER_LEAD_MS;

/** A position before everything that arrived from a time on, not much earlier. */
async function positionBefore(
  history: History,
  site: string,
  position: number,
  fromMs: number,
): Promise<number> {
  for (let after = position; ; ) {
    after = Math.max(0, after - PAGE);
    const [entry] = await history.entriesAfter(site, after, 1);
    if (after === 0 || entry!.arrivedMs < fromMs) return after;
  }
}

interface PresenceLine {
  type: 'device';
  at: string;
  arrived: string;
  device: string;
  presence: 'here' | 'gone';
}

interface SendersLine {
  type: 'senders';
  at: string;
  vessel: string;
  channel: string;
  senders: string[];
}

/** Puts stored entries into the lines of a run, one after the other. */
class RunLines {
  readonly #siteName: string;
  readonly #course: Course;
  readonly #id: string;
  #site: StatedPressure | null = null;
  readonly #roles = new Map<string, Role>();
  /** Vessels that have had their first line. */
  readonly #known = new Set<string>();
  /** The newest word of each device. */
  readonly #presences = new Map<string, PresenceLine>();
  /** Who sent to each channel last, where it was more than one. */
  readonly #senders = new Map<string, SendersLine>();
  /** Alarms that stand, by their id. */
  readonly #alarms = new Map<string, string>();

  constructor(siteName: string, course: Course, id: string) {
    this.#siteName = siteName;
    this.#course = course;
    this.#id = id;
  }

  /** Takes note of an action before the run. */
  know(stored: NewAction): void {
    const { action, body } = stored as unknown as Action;
    if (action === 'vessel-added') this.#roles.set(body.vessel, body.role);
    if (action === 'site-stated') this.#site = body.site;
    if (action === 'presence') {
      const { atMs, arrivedMs } = stored;
      const times = { at: isoTime(atMs), arrived: isoTime(arrivedMs) };
      this.#presences.set(body.device, { type: 'device', ...times, ...body });
    }
    if (action === 'channel-shared')
      this.#senders.set(`${body.vessel}/${body.channel}`, {
        type: 'senders',
        at: isoTime(stored.arrivedMs),
        ...body,
      });
  }

  linesOf(entry: StoredEntry): RunLine[] {
    switch (entry.kind) {
      case 'reading':
        return this.#readingLines(entry);
      case 'action':
        this.know(entry);
        return this.#actionLines(entry);
      case 'alarm':
        // By its name a run can tell a standing one only: nothing follows from acknowledging one that is over.
        if (entry.event === 'cleared') this.#alarms.delete(entry.id);
        else this.#alarms.set(entry.id, entry.alarm);
        return [];
    }
  }

  #readingLines(entry: Extract<StoredEntry, { kind: 'reading' }>): RunLine[] {
    const { channel, value, atMs, arrivedMs, position, source, stamped } = entry;
    const { opened } = this.#course;
    // A barometer counts for its whole site, whichever vessel it was sent to.
    const isBarometer =
      channel === 'ambient-pressure' && (position > opened.position || arrivedMs >= leadFromMs(this.#course));
    if (!isBarometer && !this.#takesPart(entry.vessel, arrivedMs, position)) return [];
    const vessel = isBarometer ? this.#course.vessel : entry.vessel;
    const typed = source === 'typed';
    const line: RunReading = {
      type: 'reading',
      atMs,
      arrivedMs,
      vessel,
      channel,
      value,
      typed,
      stamped,
      seq: null,
    };
    return this.#known.has(vessel) ? [line] : [...this.#firstLines(vessel, arrivedMs), line];
  }

  #takesPart(vessel: string, arrivedMs: number, position: number): boolean {
    return this.#course.stays.some(
      (stay) =>
        stay.vessel === vessel &&
        (position > stay.fromPosition ||
          this.#shiftedMs(arrivedMs, position, stay) >= stay.fromMs - LEAD_MS) &&
        position < stay.toPosition,
    );
  }

  /** An arrival before a stay by the clock as it was at its beginning, as the engine has it then. */
  #shiftedMs(arrivedMs: number, position: number, stay: Stay): number {
    return this.#course.clockSteps
      .filter((step) => step.position > position && step.position < stay.fromPosition)
      .reduce((ms, { stepMs }) => ms + stepMs, arrivedMs);
  }

  #actionLines(stored: NewAction): string[] {
    const { atMs, arrivedMs } = stored;
    const { action, body } = stored as unknown as Action;
    switch (action) {
      case 'batch-opened': {
        if (body.id !== this.#id) return [];
        return this.#planLines(body.vessel, arrivedMs, watchPlanOf(body), body.site);
      }
      case 'vessel-joined': {
        const { batch, vessel, plan, site } = body;
        return batch === this.#id ? this.#planLines(vessel, arrivedMs, plan, site) : [];
      }
      case 'site-stated':
        return [...this.#known].slice(0, 1).map((vessel) => this.#siteLine(vessel, arrivedMs));
      case 'stage': {
        if (body.batch !== this.#id) return [];
        const { vessel, stage } = body;
        const line = { type: 'stage', at: isoTime(atMs), arrived: isoTime(arrivedMs), vessel, stage };
        return [JSON.stringify(line)];
      }
      case 'moved': {
        if (body.batch !== this.#id) return [];
        const { from: vessel, to, what } = body;
        const times = { at: isoTime(atMs), arrived: isoTime(arrivedMs) };
        return [JSON.stringify({ type: 'move', ...times, vessel, to, what })];
      }
      case 'conversion-test': {
        const { batch, passed } = body;
        if (batch !== this.#id) return [];
        return [JSON.stringify({ type: 'conversion-test', at: isoTime(arrivedMs), passed })];
      }
      case 'presence': {
        const vessel = this.#namedVessel(body.device);
        if (vessel !== undefined && !this.#known.has(vessel)) return [];
        return this.#ifBegun({ ...this.#presences.get(body.device)!, vessel });
      }
      case 'channel-shared': {
        const { vessel, channel } = body;
        if (!this.#known.has(vessel)) return [];
        return [JSON.stringify(this.#senders.get(`${vessel}/${channel}`))];
      }
      case 'acknowledge': {
        const alarm = this.#alarms.get(alarmId(this.#siteName, body.vessel, body.number));
        if (alarm === undefined || !this.#known.has(body.vessel)) return [];
        const line = { type: 'acknowledge', at: isoTime(arrivedMs), vessel: body.vessel, alarm };
        return [JSON.stringify(line)];
      }
      case 'started': {
        const { downSinceMs } = body;
        const downSince = downSinceMs === null ? undefined : isoTime(downSinceMs);
        return this.#ifBegun({ type: 'start', at: isoTime(arrivedMs), downSince });
      }
      case 'clock-step':
        return this.#ifBegun({ type: 'clock-step', at: isoTime(arrivedMs), stepMs: body.stepMs });
      case 'vessel-added':
      case 'shelve':
      case 'vessel-emptied':
      case 'entry':
      case 'lot-added':
      case 'lot-note':
      case 'draw':
      case 'draw-undone':
      case 'template-kept':
      case 'template-retired':
      case 'warning-tested':
      case 'thermometer-checked':
      case 'thermometer-check-withdrawn':
      case 'access-changed':
      case 'signed-in':
      case 'signed-out':
      case 'sign-in-refused':
      case 'message':
      case 'told':
      case 'answered':
      case 'reach-changed':
      case 'alone-begun':
      case 'alone-answered':
      case 'alone-unanswered':
      case 'alone-ended':
      case DROP_ACTION:
        return [];
    }
  }

  #ifBegun(line: object): string[] {
    return this.#known.size === 0 ? [] : [JSON.stringify(line)];
  }

  #namedVessel(device: string): string | undefined {
    return vesselOfDevice(device, [...this.#roles.keys(), ...this.#known]);
  }

  #planLines(vessel: string, arrivedMs: number, plan: WatchPlan, site: StatedPressure | null): string[] {
    const first = this.#known.has(vessel) ? [] : this.#firstLines(vessel, arrivedMs);
    const line = { type: 'vessel', arrived: isoTime(arrivedMs), vessel, batch: this.#id };
    return [...first, JSON.stringify({ ...line, site: site ?? undefined, plan })];
  }

  /** What is known of a vessel before it has a part in the batch: also the devices that are named after it. */
  #firstLines(vessel: string, arrivedMs: number): string[] {
    this.#known.add(vessel);
    const devices = [...this.#presences.values()].filter(
      ({ device }) => this.#namedVessel(device) === vessel,
    );
    return [
      this.#siteLine(vessel, arrivedMs),
      ...devices.map((device) => JSON.stringify({ ...device, vessel })),
      ...[...this.#senders.values()]
        .filter((line) => line.vessel === vessel && line.senders.length > 1)
        .map((line) => JSON.stringify(line)),
    ];
  }

  #siteLine(vessel: string, arrivedMs: number): string {
    const role = this.#roles.get(vessel);
    const line = { type: 'vessel', arrived: isoTime(arrivedMs), vessel, batch: null, role };
    return JSON.stringify({ ...line, site: this.#site ?? undefined });
  }
}
