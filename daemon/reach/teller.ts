import { randomUUID } from 'node:crypto';
import { setTimeout as wait } from 'node:timers/promises';
import { alarmId } from '../../shared/engine/view.ts';
import type { Alarm } from '../../shared/wire/api.ts';
import type { LastTry, Posted, ReachedPerson, Way } from '../../shared/wire/reach.ts';
import { isoTime } from '../../shared/wire/time.ts';
import type { ArrivalClock, Clock, Timer } from '../clock.ts';
import type { Recorder } from '../store/recorder.ts';
import { type ActionBodies, type ActionName, newAction } from '../watch/actions.ts';
import type { Watch, WatchListener } from '../watch/watch.ts';
import { dutyNow, isOver, type Sight, sees, WHOLE_SITE, waysOf } from './duty.ts';
import type { ReachKeys } from './keys.ts';
import type { About, Message, Try } from './ledger.ts';
import type { SettingsFile } from './settings.ts';
import { type ToldSite, watchedSite } from './told-site.ts';
import { email } from './ways/email.ts';
import { NotSent } from './ways/outgoing.ts';
import { post } from './ways/post.ts';
import { push } from './ways/push.ts';
import { alarmWords, aloneWords, gravestFirst, quietWords, testWords, type Words } from './words.ts';

/** What no alarm announces is looked for so often: hours that begin, a night that ends, ms. */
const LOOK_EVERY_MS = 60_000;
/** A message waits no longer than this for the disk before its first try: a disk that refuses holds no warning up. Real ms. */
const DISK_WITHIN_MS = 500;
/** The last of these only sends, so that no mistake in what is due can keep the daemon busy. */
const ROUNDS = 3;
/** A stop waits no longer than this for what is being sent, real ms. */
const GOODBYE_MS = 3000;
const DAEMON = 'daemon';

/**
 * Tells people what their duty list says (`duty.ts`): sends, tries again, and notes every message before its first
 * try and every try after it, so that a restart goes on where it was.
 */
export class Teller implements WatchListener {
  readonly #watch: Watch;
  readonly #recorder: Recorder;
  readonly #arrivals: ArrivalClock;
  readonly #clock: Clock;
  readonly #settings: SettingsFile;
  readonly #keys: ReachKeys;
  readonly #forwarded: () => ToldSite[];
  readonly #publicUrl: string | undefined;
  readonly #warn: (message: string) => void;
  /** Tries under way, by message and way. */
  readonly #underWay = new Map<string, Promise<void>>();
  /** Messages whose note is not on the disk yet. */
  readonly #unstored = new Map<string, Promise<void>>();
  readonly #mayAnswer: (name: string) => boolean;
  /** The newest try of each person and way. */
  readonly #last = new Map<string, Try>();
  #timer: Timer | undefined;
  #lookWanted = false;
  #closed = false;

  constructor(parts: {
    watch: Watch;
    recorder: Recorder;
    arrivals: ArrivalClock;
    clock: Clock;
    settings: SettingsFile;
    keys: ReachKeys;
    /** Sites that other daemons watch. */
    forwarded: () => ToldSite[];
    publicUrl: string | undefined;
    /** Whether a person may answer by a link: as who is signed in, they need a right to it. */
    mayAnswer: (name: string) => boolean;
    warn: (message: string) => void;
  }) {
    this.#watch = parts.watch;
    this.#recorder = parts.recorder;
    this.#arrivals = parts.arrivals;
    this.#clock = parts.clock;
    this.#settings = parts.settings;
    this.#keys = parts.keys;
    this.#forwarded = parts.forwarded;
    this.#publicUrl = parts.publicUrl?.replace(/\/+$/, '');
    this.#mayAnswer = parts.mayAnswer;
    this.#warn = parts.warn;
    const tries = this.toldSites()
      .flatMap(({ ledger }) => ledger.messages())
      .flatMap(({ to, tries }) => tries.map((one) => ({ to, one })))
      .sort((a, b) => a.one.atMs - b.one.atMs);
    for (const { to, one } of tries) this.#remember(to, one);
    this.#watch.listen(this);
    this.look();
  }

  readings(): void {}

  outputs(): void {
    this.look();
  }

  /** Looks who is to be told, once all that happens at this moment has happened. */
  look(): void {
    if (this.#lookWanted || this.#closed) return;
    this.#lookWanted = true;
    queueMicrotask(() => {
      this.#lookWanted = false;
      if (this.#closed) return;
      const nowMs = this.#arrivals.nowMs();
      const next = this.toldSites()
        .flatMap((site) => this.#lookAt(site, nowMs) ?? [])
        .reduce((first, ms) => Math.min(first, ms), nowMs + LOOK_EVERY_MS);
      this.#timer?.cancel();
      this.#timer = this.#clock.after(Math.max(1, next - nowMs), () => this.look());
    });
  }

  /** What is being sent is given a moment; the rest is sent after the next start. */
  async close(): Promise<void> {
    this.#closed = true;
    this.#timer?.cancel();
    const stopped = new AbortController();
    await Promise.race([
      Promise.all([...this.#underWay.values()]),
      wait(GOODBYE_MS, undefined, { signal: stopped.signal }).catch(() => {}),
    ]);
    stopped.abort();
  }

  // ---- what others ask ----

  /** Of which sites people are told. */
  toldSites(): ToldSite[] {
    return [...this.#watch.sites().map(watchedSite), ...this.#forwarded()];
  }

  lastTry(person: string, way: Way): LastTry | null {
    const last = this.#last.get(`${person} ${way}`);
    return last === undefined ? null : { at: isoTime(last.atMs), result: last.result, because: last.because };
  }

  /** Whether a person has any way by which they can be told. */
  canReach(name: string): boolean {
    const settings = this.#settings.get();
    const person = this.#settings.person(name);
    return person !== undefined && waysOf(person, settings).length > 0;
  }

  /**
   * Null where nobody wants to be told; otherwise whether somebody can be of a danger at each vessel, by the newest tries.
   * `because` counts also those who cannot where others can; it names nobody and no vessel, since anybody may read it.
   */
  health(): { works: boolean; because: string | null } | null {
    const settings = this.#settings.get();
    if (this.#settings.damage !== null)
      return { works: false, because: 'nobody can be reached: reach.json cannot be read' };
    if (settings.people.length === 0) return null;
    const failures = new Set<string>();
    const reached = settings.people.filter((person) => {
      const ways = waysOf(person, settings).map((way) => ({ way, last: this.lastTry(person.name, way) }));
      if (ways.some(({ last }) => last === null || last.result === 'delivered')) return true;
      if (ways.length === 0) failures.add('no way is set up');
      for (const { way, last } of ways) failures.add(`${way}: ${last!.because}`);
      return false;
    });
    const why = [...failures].join('; ');
    if (reached.length === 0) return { works: false, because: `nobody can be reached (${why})` };
    const unheard = this.toldSites()
      .flatMap((told) => told.vesselNames().map((vessel) => ({ site: told.site, vessel })))
      .filter(({ site, vessel }) => !reached.some((person) => sees(person, site, vessel))).length;
    const failing = settings.people.length - reached.length;
    const said = [
      ...(unheard > 0 ? [`vessels of which nobody is told: ${unheard}`] : []),
      ...(failing > 0
        ? [`people who cannot be reached: ${failing} of ${settings.people.length} (${why})`]
        : []),
    ];
    return { works: unheard === 0, because: said.length === 0 ? null : said.join('; ') };
  }

  /** Sends a person a message that says that nothing is wrong, once, and gives what came of it. */
  async test(person: ReachedPerson, way: Way): Promise<LastTry> {
    const [site] = this.toldSites();
    const message = this.#newMessage(person.name, { kind: 'test' });
    if (site !== undefined) this.#noteMessage(site, message);
    const content = { kind: 'test' as const, words: testWords(person.name), alarms: [], heldBack: [] };
    const result = await this.#send(site, message, way, content);
    this.#remember(person.name, result);
    if (site !== undefined) this.#noteTry(site, message, result);
    return this.lastTry(person.name, way)!;
  }

  /**
   * Where a message can be acknowledged; null without an address of the page, or a right of theirs to work. A link that
   * cannot be made holds no warning up.
   */
  linkOf(message: Pick<Message, 'id' | 'to'>): string | null {
    if (this.#publicUrl === undefined || !this.#mayAnswer(message.to)) return null;
    try {
      return `${this.#publicUrl}/#/answer/${this.#keys.tokenOf(message.id)}`;
    } catch (error) {
      this.#warn(`a message goes without its link: ${(error as Error).message}`);
      return null;
    }
  }

  // ---- duty ----

  #lookAt(site: ToldSite, nowMs: number): number | null {
    // What is noted makes more due: a silence its message, a message its tries.
    for (let round = 1; ; round++) {
      const sight = this.#sight(site, nowMs);
      site.ledger.tidy((message) => isOver(message, sight));
      const due = dutyNow({ ...sight, messages: site.ledger.messages() });
      if (round < ROUNDS && due.messages.length + due.unanswered.length > 0) {
        for (const { to, about } of due.messages) this.#noteMessage(site, this.#newMessage(to, about));
        for (const unanswered of due.unanswered) void this.#note(site, 'alone-unanswered', unanswered);
        continue;
      }
      for (const { message, way } of due.tries) this.#try(site, message, way);
      return due.lookAgainMs;
    }
  }

  #sight(told: ToldSite, nowMs: number): Sight {
    return {
      nowMs,
      site: told.site,
      ...told.duty(nowMs),
      messages: told.ledger.messages(),
      settings: this.#settings.get(),
      local,
      isUnderWay: (message, way) => this.#underWay.has(`${message} ${way}`),
    };
  }

  // ---- sending ----

  #try(site: ToldSite, message: Message, way: Way): void {
    const key = `${message.id} ${way}`;
    const trying = (async () => {
      await Promise.race([this.#unstored.get(message.id), wait(DISK_WITHIN_MS, undefined, { ref: false })]);
      const result = await this.#tried(site, message, way);
      // Whatever came of it: a try that is not noted would be due again at once, and again.
      this.#noteTry(site, message, result);
    })()
      .catch((error: Error) => this.#warn(`a try cannot be noted: ${error.message}`))
      .finally(() => {
        this.#underWay.delete(key);
        this.look();
      });
    this.#underWay.set(key, trying);
  }

  async #tried(site: ToldSite, message: Message, way: Way): Promise<Try> {
    const nothing = { way, atMs: this.#arrivals.nowMs() };
    let content: Content | null;
    try {
      content = this.#contentOf(site, message);
    } catch (error) {
      this.#warn(`a message cannot be made: ${(error as Error).message}`);
      const failed: Try = { ...nothing, result: 'failed', because: 'the message cannot be made' };
      this.#remember(message.to, failed);
      return failed;
    }
    // It ended since it was due.
    if (content === null) return { ...nothing, result: 'gone', because: 'there is nothing to tell any more' };
    const result = await this.#send(site, message, way, content);
    this.#remember(message.to, result);
    return result;
  }

  async #send(site: ToldSite | undefined, message: Message, way: Way, content: Content): Promise<Try> {
    const settings = this.#settings.get();
    const person = this.#settings.person(message.to);
    let [result, because]: [Try['result'], string | null] = ['delivered', null];
    try {
      if (person === undefined || !waysOf(person, settings).includes(way))
        throw new NotSent('it is not set up any more', true);
      const isAnswered = content.kind === 'alarms' || content.kind === 'alone';
      const link = isAnswered && site?.isForwarded !== true ? this.linkOf(message) : null;
      const { words } = content;
      if (way === 'email') await email(settings.smtp!, person.email!, message.id, words);
      if (way === 'post')
        await post(person.post!, posted(site, message, content, link), this.#clock.wallMs());
      if (way === 'push') {
        const { from } = settings.smtp ?? { from: 'nobody@esterwatch.invalid' };
        const keys = { ...this.#keys.pair, subject: `mailto:${from}` };
        const shown = { id: message.id, url: link ?? '/', words };
        await push(person.push, keys, shown, (gone) =>
          this.#settings.removeBrowsers(person.name, (browser) => gone.includes(browser)),
        );
      }
    } catch (error) {
      [result, because] =
        error instanceof NotSent
          ? [error.gone ? 'gone' : 'failed', error.message]
          : ['failed', 'the daemon made a mistake'];
      if (!(error instanceof NotSent)) this.#warn(`${way}: ${(error as Error).name}`);
    }
    return { way, result, because, atMs: this.#arrivals.nowMs() };
  }

  /** What a message says as things are now; null where there is nothing left to say. */
  #contentOf(site: ToldSite, message: Message): Content | null {
    const nowMs = this.#arrivals.nowMs();
    const link = site.isForwarded ? null : this.linkOf(message);
    const { about } = message;
    switch (about.kind) {
      case 'alarms': {
        const names = [...new Set(about.alarms.map(({ vessel }) => vessel))];
        const standing = names.flatMap((name) =>
          site.alarmsOf(name, nowMs).filter((alarm) => alarm.standing),
        );
        const ids = new Set(about.alarms.map(({ vessel, number }) => alarmId(site.site, vessel, number)));
        const [first, ...others] = standing.filter(({ id }) => ids.has(id)).sort(gravestFirst);
        if (first === undefined) return null;
        const alarms: [Alarm, ...Alarm[]] = [first, ...others];
        const heldBack = standing.filter(
          ({ id, vessel, explainedBy }) =>
            !ids.has(id) && alarms.some((told) => told.vessel === vessel && told.alarm === explainedBy),
        );
        const { isForwarded } = site;
        const words = alarmWords(alarms, { heldBack, link, nowMs, isForwarded });
        return { kind: 'alarms', words, alarms, heldBack };
      }
      case 'alone': {
        const alone = site.ledger.aloneAt(about.vessel);
        if (alone === undefined) return null;
        const words = aloneWords(alone, { site: site.site, link, nowMs });
        return { kind: 'alone', words, alarms: [], heldBack: [] };
      }
      case 'quiet': {
        const wishes = this.#settings.person(message.to)?.vessels ?? null;
        const { settling } = this.#sight(site, nowMs);
        const vessels = settling
          .filter((name) => wishes === null || wishes.includes(`${site.site}:${name}`))
          .flatMap((name) => site.vessel(name, nowMs) ?? []);
        if (vessels.length === 0) return null;
        const words = quietWords(vessels, { site: site.site, line: about.line, nowMs });
        return { kind: 'quiet', words, alarms: [], heldBack: [] };
      }
      case 'test':
        return null;
    }
  }

  // ---- notes ----

  #newMessage(to: string, about: About): Message {
    const atMs = this.#arrivals.nowMs();
    return {
      id: randomUUID(),
      atMs,
      sinceMs: atMs,
      to,
      about,
      tries: [],
      lastTryMs: new Map(),
      answeredMs: null,
      shelved: new Set(),
    };
  }

  #noteMessage(site: ToldSite, { id, to, about }: Message): void {
    const stored = this.#note(site, 'message', { id, to, about });
    this.#unstored.set(
      id,
      stored.finally(() => this.#unstored.delete(id)),
    );
  }

  #noteTry(site: ToldSite, { id }: Message, { way, result, because }: Try): void {
    void this.#note(site, 'told', { message: id, way, result, because });
  }

  /** Counts at once, whatever the disk does; it is written when the disk takes it. */
  async #note<Name extends ActionName>(
    site: ToldSite,
    action: Name,
    body: ActionBodies[Name],
  ): Promise<void> {
    const nowMs = this.#arrivals.nowMs();
    const stored = newAction(action, body, { by: DAEMON, atMs: nowMs, arrivedMs: nowMs });
    site.ledger.apply(stored);
    await this.#recorder.submit(site.chain, [stored], nowMs).catch((error: Error) => {
      this.#warn(`${action} is not kept: ${error.message}`);
    });
  }

  /** What is tried now is the newest, whatever the clock says: it may have been set back. */
  #remember(person: string, one: Try): void {
    this.#last.set(`${person} ${one.way}`, one);
  }
}

interface Content {
  kind: About['kind'];
  words: Words;
  alarms: readonly Alarm[];
  heldBack: readonly Alarm[];
}

function posted(
  site: ToldSite | undefined,
  message: Message,
  content: Content,
  answer: string | null,
): Posted {
  const { kind, words, alarms, heldBack } = content;
  return {
    id: message.id,
    kind,
    at: isoTime(message.atMs),
    to: message.to,
    site: site?.site ?? null,
    ...words,
    alarms: alarms.map(({ id, vessel, alarm, priority, at, value, limit, because, todo }) => ({
      id,
      vessel: vessel === WHOLE_SITE ? null : vessel,
      alarm,
      priority,
      at,
      value,
      limit,
      because,
      todo,
    })),
    heldBack: heldBack.map(({ id, alarm, explainedBy }) => ({ id, alarm, explainedBy: explainedBy ?? '' })),
    answer,
  };
}

/** By the daemon's own clock. */
function local(ms: number): { day: string; minute: number } {
  const at = new Date(ms);
  return { day: at.toDateString(), minute: at.getHours() * 60 + at.getMinutes() };
}
