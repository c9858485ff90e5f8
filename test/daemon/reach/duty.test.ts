import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { type DutyAlarm, dutyNow, isOver, type Sight } from '../../../daemon/reach/duty.ts';
import { Ledger } from '../../../daemon/reach/ledger.ts';
import type { ActionBodies, ActionName } from '../../../daemon/watch/actions.ts';
import type { Priority } from '../../../shared/wire/names.ts';
import { type ReachSettings, reachFileSchema, type Way } from '../../../shared/wire/reach.ts';

const MINUTE_MS = 60_000;
const NOON_MS = Date.UTC(2026, 2, 2, 12);
const MIDNIGHT_MS = Date.UTC(2026, 2, 3, 0);

const POST = { url: 'http://10.0.0.7/siren', secret: 'long enough' };
const settingsOf = (people: object[], general: object = {}): ReachSettings =>
  reachFileSchema.parse({ people: people.map((person) => ({ post: POST, ...person })), ...general });

const local = (ms: number) => ({
  day: new Date(ms).toISOString().slice(0, 10),
  minute: Math.floor(ms / MINUTE_MS) % 1440,
});

/** A site whose alarms, people and clock the test moves; what is due is done as the teller does it. */
class Site {
  nowMs: number;
  settings: ReachSettings;
  readonly alarms = new Map<string, DutyAlarm>();
  settling: string[] = [];
  ledger = new Ledger();
  /** Whether a try succeeds. */
  works: (way: Way) => boolean = () => true;
  readonly told: { to: string; alarms: string[]; kind: string; atMs: number }[] = [];
  readonly tries: { message: string; way: Way; atMs: number; delivered: boolean }[] = [];
  readonly #actions: { action: string; body: unknown; by: string; atMs: number; arrivedMs: number }[] = [];
  lookAgainMs: number | null = null;

  constructor(settings: ReachSettings, nowMs = NOON_MS) {
    this.settings = settings;
    this.nowMs = nowMs;
  }

  raise(number: number, priority: Priority, more: Partial<DutyAlarm> = {}): void {
    this.alarms.set(`r1.${number}`, {
      vessel: 'r1',
      number,
      alarm: 'boiling-near',
      priority,
      atMs: this.nowMs,
      told: true,
      acknowledged: false,
      resting: false,
      ...more,
    });
  }

  change(number: number, to: Partial<DutyAlarm>): void {
    const alarm = this.alarms.get(`r1.${number}`);
    if (alarm !== undefined) Object.assign(alarm, to);
  }

  note<Name extends ActionName>(action: Name, body: ActionBodies[Name], by = 'Ada'): void {
    const stored = {
      action,
      body: JSON.parse(JSON.stringify(body)),
      by,
      atMs: this.nowMs,
      arrivedMs: this.nowMs,
    };
    this.#actions.push(stored);
    this.ledger.apply(stored);
  }

  restart(): void {
    this.ledger = new Ledger();
    for (const action of this.#actions) this.ledger.apply(action);
  }

  sight(): Sight {
    return {
      nowMs: this.nowMs,
      site: 'barn',
      alarms: [...this.alarms.values()],
      settling: this.settling,
      alone: this.ledger.alone(),
      messages: this.ledger.messages(),
      settings: this.settings,
      local,
      isUnderWay: () => false,
    };
  }

  look(round = 1): void {
    expect(round).toBeLessThan(4);
    const sight = this.sight();
    this.ledger.tidy((message) => isOver(message, sight));
    const due = dutyNow(this.sight());
    for (const { to, about } of due.messages) {
      this.note('message', { id: `m${this.told.length}`, to, about });
      this.told.push({
        to,
        kind: about.kind,
        alarms:
          about.kind === 'alarms' ? about.alarms.map(({ number, priority }) => `${number} ${priority}`) : [],
        atMs: this.nowMs,
      });
    }
    for (const unanswered of due.unanswered) this.note('alone-unanswered', unanswered, 'daemon');
    if (due.messages.length + due.unanswered.length > 0) {
      this.look(round + 1);
      return;
    }
    for (const { message, way } of due.tries) {
      const delivered = this.works(way);
      this.tries.push({ message: message.id, way, atMs: this.nowMs, delivered });
      const result = delivered ? 'delivered' : 'failed';
      this.note('told', { message: message.id, way, result, because: delivered ? null : 'timeout' });
    }
    this.lookAgainMs = dutyNow(this.sight()).lookAgainMs;
  }

  /** Goes on looking only when it was said to be time. */
  pass(minutes: number): void {
    const untilMs = this.nowMs + minutes * MINUTE_MS;
    for (;;) {
      const next = this.lookAgainMs;
      if (next === null || next > untilMs) break;
      expect(next).toBeGreaterThan(this.nowMs);
      this.nowMs = next;
      this.look();
    }
    this.nowMs = untilMs;
  }

  get who(): string[] {
    return this.told.map(({ to }) => to);
  }
}

const THREE = [
  { name: 'Ada', order: 1 },
  { name: 'Ben', order: 2 },
  { name: 'Cleo', order: 3 },
];

describe('the order', () => {
  test('of a critical alarm the next is told after 3 min each, until somebody acknowledges', () => {
    const site = new Site(settingsOf(THREE));
    site.raise(1, 'critical');
    site.look();
    expect(site.who).toEqual(['Ada']);
    site.pass(2.99);
    expect(site.who).toEqual(['Ada']);
    site.pass(0.01);
    expect(site.who).toEqual(['Ada', 'Ben']);
    site.change(1, { acknowledged: true });
    site.look();
    site.pass(60);
    expect(site.who).toEqual(['Ada', 'Ben']);
  });

  test('a try that fails holds the next person up no longer', () => {
    const site = new Site(settingsOf(THREE));
    site.works = () => false;
    site.raise(1, 'critical');
    site.look();
    site.pass(3);
    expect(site.who).toEqual(['Ada', 'Ben']);
  });

  test('those of one number are told together; a medium alarm stays with the first', () => {
    const site = new Site(settingsOf([THREE[0]!, { name: 'Ben', order: 1 }, THREE[2]!]));
    site.raise(1, 'medium');
    site.look();
    site.pass(600);
    expect(site.who).toEqual(['Ada', 'Ben']);
  });

  test('the stated times count, and one that becomes graver is told again from the first on', () => {
    const site = new Site(settingsOf(THREE, { nextAfterMinutes: { critical: 1, high: null } }));
    site.raise(1, 'high');
    site.look();
    site.pass(60);
    expect(site.told.map(({ to, alarms }) => [to, ...alarms])).toEqual([['Ada', '1 high']]);
    site.change(1, { priority: 'critical' });
    site.look();
    site.pass(1);
    expect(site.told.slice(1).map(({ to, alarms }) => [to, ...alarms])).toEqual([
      ['Ada', '1 critical'],
      ['Ben', '1 critical'],
    ]);
  });
});

describe('who wants what', () => {
  test('by priority, vessel and hours; low is told to nobody', () => {
    const site = new Site(
      settingsOf([
        { name: 'grave', least: 'high' },
        { name: 'other', vessels: ['barn:r2'] },
        { name: 'here', vessels: ['barn:r1'] },
        { name: 'night', hours: { from: '22:00', to: '07:00' } },
        { name: 'nothing', post: null },
      ]),
    );
    site.raise(1, 'low');
    site.look();
    expect(site.who).toEqual([]);
    site.raise(2, 'medium');
    site.look();
    expect(site.who).toEqual(['here']);
    site.raise(3, 'high');
    site.look();
    expect(site.who).toEqual(['here', 'grave', 'here']);
  });

  test('outside of everybody’s hours a critical alarm goes to all, and any other waits', () => {
    const hours = { from: '07:00', to: '22:00' };
    const site = new Site(settingsOf([{ name: 'Ada', hours }]), MIDNIGHT_MS);
    site.raise(1, 'high');
    site.look();
    expect(site.who).toEqual([]);
    site.raise(2, 'critical');
    site.look();
    expect(site.told).toMatchObject([{ to: 'Ada', alarms: ['2 critical'] }]);
    site.nowMs += 7 * 60 * MINUTE_MS;
    site.look();
    expect(site.told[1]).toMatchObject({ to: 'Ada', alarms: ['1 high'] });
  });

  test('a danger that nobody awake acknowledges goes to those who are not', () => {
    const hours = { from: '07:00', to: '22:00' };
    const site = new Site(
      settingsOf([
        { name: 'asleep', hours },
        { name: 'awake', order: 2 },
      ]),
      MIDNIGHT_MS,
    );
    site.raise(1, 'critical');
    site.raise(2, 'high');
    site.look();
    site.pass(2.9);
    expect(site.who).toEqual(['awake']);
    site.pass(0.1);
    expect(site.told).toMatchObject([{ to: 'awake' }, { to: 'asleep', alarms: ['1 critical'] }]);
  });

  test('who has an address but no server to send it by is not waited for', () => {
    const site = new Site(
      settingsOf([
        { name: 'Ada', post: null, email: 'ada@example.org' },
        { name: 'Ben', order: 2 },
      ]),
    );
    site.raise(1, 'critical');
    site.look();
    expect(site.who).toEqual(['Ben']);
  });
});

describe('one message', () => {
  test('holds all that a person is to be told at once, the gravest first', () => {
    const site = new Site(settingsOf([THREE[0]!]));
    site.raise(1, 'medium');
    site.raise(2, 'critical');
    site.raise(3, 'high');
    site.look();
    expect(site.told).toMatchObject([{ alarms: ['2 critical', '3 high', '1 medium'] }]);
  });

  test('what is explained, shelved or over is in none; back from the shelf it is told anew', () => {
    const site = new Site(settingsOf([THREE[0]!]));
    site.raise(1, 'high', { told: false });
    site.look();
    expect(site.who).toEqual([]);
    site.change(1, { told: true });
    site.look();
    expect(site.who).toEqual(['Ada']);
    site.note('shelve', { vessel: 'r1', number: 1, reason: 'mended', minutes: 30 });
    site.change(1, { told: false });
    site.look();
    site.change(1, { told: true });
    site.look();
    expect(site.who).toEqual(['Ada', 'Ada']);
  });

  test('an alarm of a number that was told long before is another', () => {
    const site = new Site(settingsOf([THREE[0]!]));
    site.raise(1, 'high');
    site.look();
    site.nowMs += 60 * MINUTE_MS;
    site.raise(1, 'high');
    site.look();
    expect(site.who).toEqual(['Ada', 'Ada']);
  });
});

describe('many messages', () => {
  const CROWD = Array.from({ length: 20 }, (_, i) => ({ name: `Person ${i}` }));

  test('what stands is told once, however much is told of', () => {
    const site = new Site(settingsOf(CROWD));
    for (let number = 1; number <= 80; number++) {
      site.raise(number, 'medium');
      site.look();
    }
    expect(site.told).toHaveLength(80 * CROWD.length);
    for (let i = 0; i < 5; i++) site.look();
    site.restart();
    site.look();
    expect(site.told).toHaveLength(80 * CROWD.length);
  });

  test('tests push out nothing that counts', () => {
    const site = new Site(settingsOf([{ name: 'Ada' }]));
    site.raise(1, 'medium');
    site.look();
    for (let i = 0; i < 3000; i++) site.note('message', { id: `t${i}`, to: 'Ada', about: { kind: 'test' } });
    site.look();
    expect(site.who).toEqual(['Ada']);
    expect(site.ledger.message('m0')).toBeDefined();
    expect(site.ledger.messages().length).toBeLessThan(1600);
  });

  test('those that are over are forgotten', () => {
    const site = new Site(settingsOf(CROWD));
    for (let number = 1; number <= 200; number++) {
      site.raise(number, 'medium');
      site.look();
      site.alarms.clear();
    }
    expect(site.ledger.messages().length).toBeLessThan(1600);
    expect(site.ledger.message(`m${200 * CROWD.length - 1}`)).toBeDefined();
  });
});

describe('tries', () => {
  test('each way by itself, with growing pauses, until it is delivered', () => {
    const site = new Site(
      settingsOf([{ name: 'Ada', email: 'ada@example.org' }], {
        smtp: { host: 'mail', port: 25, security: 'none', from: 'shed@example.org' },
      }),
    );
    site.works = (way) => way === 'email';
    site.raise(1, 'high');
    site.look();
    site.pass(60);
    const seconds = (way: Way) =>
      site.tries.filter((one) => one.way === way).map(({ atMs }) => (atMs - NOON_MS) / 1000);
    expect(seconds('email')).toEqual([0]);
    expect(seconds('post').slice(0, 7)).toEqual([0, 5, 20, 65, 200, 605, 1205]);
    site.works = () => true;
    site.pass(11);
    const tried = site.tries.length;
    site.pass(60);
    expect(site.tries).toHaveLength(tried);
    expect(site.tries.at(-1)).toMatchObject({ delivered: true });
  });

  test.for([
    ['it is over', (site: Site): void => site.alarms.clear()],
    ['somebody acknowledged it', (site: Site): void => site.change(1, { acknowledged: true })],
    ['it was put aside', (site: Site): void => site.change(1, { told: false })],
  ] as const)('end where %s', ([_, happens]) => {
    const site = new Site(settingsOf([THREE[0]!]));
    site.works = () => false;
    site.raise(1, 'high');
    site.look();
    site.pass(1);
    const tried = site.tries.length;
    expect(tried).toBe(3);
    happens(site);
    site.look();
    site.pass(60);
    expect(site.tries).toHaveLength(tried);
  });
});

describe('while a vessel only settles', () => {
  const resting = { resting: true, alarm: 'probes-disagree' };

  test('nobody is woken but of a danger; in the morning it is told', () => {
    const site = new Site(settingsOf([THREE[0]!]), MIDNIGHT_MS);
    site.raise(1, 'medium', resting);
    site.raise(2, 'high', { ...resting, alarm: 'not-watching' });
    site.look();
    expect(site.who).toEqual([]);
    site.raise(3, 'high', { ...resting, alarm: 'heater-stuck' });
    site.look();
    site.raise(4, 'critical', resting);
    site.look();
    expect(site.told.map(({ alarms }) => alarms)).toEqual([['3 high'], ['4 critical']]);
    site.nowMs = MIDNIGHT_MS + 7 * 60 * MINUTE_MS;
    site.look();
    expect(site.told.at(-1)).toMatchObject({ alarms: ['2 high', '1 medium'] });
  });

  test('there is one line at night and one in the morning, and no more over restarts', () => {
    const site = new Site(
      settingsOf([THREE[0]!, { name: 'Ben', order: 2 }, { name: 'Cleo', quietLines: false }]),
    );
    site.settling = ['r1'];
    const lines: string[] = [];
    for (let minute = 0; minute < 2 * 1440; minute++) {
      site.nowMs += MINUTE_MS;
      if (minute % 7 === 0) site.restart();
      const before = site.told.length;
      site.look();
      for (const { to } of site.told.slice(before))
        lines.push(`${to} ${new Date(site.nowMs).toISOString().slice(8, 16)}`);
    }
    expect(lines).toEqual(['Ada 02T22:00', 'Ada 03T07:00', 'Ada 03T22:00', 'Ada 04T07:00']);
    expect(site.told.every(({ kind }) => kind === 'quiet')).toBe(true);
  });

  test('nobody gets a line outside their hours', () => {
    const site = new Site(
      settingsOf([{ name: 'Ada', hours: { from: '08:00', to: '18:00' } }]),
      MIDNIGHT_MS - 2 * 60 * MINUTE_MS,
    );
    site.settling = ['r1'];
    site.look();
    expect(site.told).toEqual([]);
    // The night ends at 7; the line has two hours.
    site.nowMs = MIDNIGHT_MS + 7 * 60 * MINUTE_MS;
    site.look();
    expect(site.told).toEqual([]);
    site.nowMs += 61 * MINUTE_MS;
    site.look();
    expect(site.who).toEqual(['Ada']);
  });

  test('a line long after its time is left out', () => {
    const site = new Site(settingsOf([THREE[0]!]), MIDNIGHT_MS);
    site.settling = ['r1'];
    site.nowMs = MIDNIGHT_MS + 9 * 60 * MINUTE_MS;
    site.look();
    expect(site.who).toEqual([]);
  });
});

describe('who works alone', () => {
  const begun = (people = THREE): Site => {
    const site = new Site(settingsOf(people));
    site.note('alone-begun', { vessel: 'r1', tell: 'Ben', everyMinutes: 15, answerMinutes: 3 }, 'Eve');
    site.look();
    return site;
  };

  test('is asked again after each answer; no answer tells who was named, then the others', () => {
    const site = begun();
    site.pass(17);
    site.note('alone-answered', { vessel: 'r1' }, 'Eve');
    site.look();
    site.pass(17.9);
    expect(site.who).toEqual([]);
    site.pass(0.1);
    expect(site.told).toMatchObject([{ to: 'Ben', kind: 'alone' }]);
    site.pass(3);
    expect(site.who).toEqual(['Ben', 'Ada']);
    site.note('alone-answered', { vessel: 'r1' }, 'Eve');
    site.look();
    site.pass(10);
    expect(site.who).toEqual(['Ben', 'Ada']);
  });

  test('is not told of their own silence, and somebody else is where the one named cannot be reached', () => {
    const site = new Site(settingsOf([{ name: 'Eve' }, { name: 'Cleo' }]));
    site.note('alone-begun', { vessel: 'r1', tell: 'Ben', everyMinutes: 15, answerMinutes: 3 }, 'Eve');
    site.look();
    site.pass(18);
    expect(site.who).toEqual(['Cleo']);
  });

  test('a restart keeps the question; one that was seen or ended tells nobody else', () => {
    const site = begun();
    site.pass(10);
    site.restart();
    site.look();
    site.pass(8);
    expect(site.who).toEqual(['Ben']);
    site.note('answered', { message: 'm0' }, 'Ben');
    site.restart();
    site.look();
    site.pass(10);
    expect(site.who).toEqual(['Ben']);
    site.note('alone-ended', { vessel: 'r1' }, 'Eve');
    site.restart();
    site.look();
    site.pass(600);
    expect(site.who).toEqual(['Ben']);
  });

  test('an answer at the moment of the silence counts', () => {
    const site = begun();
    const { question } = site.ledger.aloneAt('r1')!;
    site.nowMs += 18 * MINUTE_MS;
    site.note('alone-answered', { vessel: 'r1' }, 'Eve');
    site.note('alone-unanswered', { vessel: 'r1', question }, 'daemon');
    site.look();
    expect(site.who).toEqual([]);
  });

  test('begun anew it is another question, of which the first message says nothing', () => {
    const site = begun();
    site.pass(18);
    site.note('alone-ended', { vessel: 'r1' }, 'Eve');
    site.note('alone-begun', { vessel: 'r1', tell: 'Ben', everyMinutes: 15, answerMinutes: 3 }, 'Eve');
    site.look();
    site.pass(18);
    expect(site.who).toEqual(['Ben', 'Ben']);
  });
});

describe('a clock that is set back by an hour', () => {
  const setBack = (site: Site) => {
    site.nowMs -= 60 * MINUTE_MS;
    site.note('clock-step', { stepMs: -60 * MINUTE_MS }, 'daemon');
    site.look();
  };

  test('holds up neither the next person nor the next try', () => {
    const site = new Site(settingsOf(THREE));
    site.works = () => false;
    site.raise(1, 'critical');
    site.look();
    site.pass(1);
    setBack(site);
    const tried = site.tries.length;
    site.pass(2);
    expect(site.who).toEqual(['Ada', 'Ben']);
    expect(site.tries.length).toBeGreaterThan(tried);
  });

  test('asks who works alone no later', () => {
    const site = new Site(settingsOf(THREE));
    site.note('alone-begun', { vessel: 'r1', tell: 'Ben', everyMinutes: 15, answerMinutes: 3 }, 'Eve');
    site.look();
    site.pass(10);
    setBack(site);
    site.pass(8);
    expect(site.who).toEqual(['Ben']);
  });
});

test('in any order of events, restarts and failures nothing is told twice and nothing is lost', () => {
  const priority = fc.constantFrom<Priority>('low', 'medium', 'high', 'critical');
  const number = fc.integer({ min: 1, max: 4 });
  const event = fc.oneof(
    fc.record({ what: fc.constant('raise' as const), number, priority }),
    fc.record({
      what: fc.constantFrom('clear' as const, 'acknowledge' as const, 'explain' as const, 'speak' as const),
      number,
    }),
    fc.record({ what: fc.constantFrom('shelve' as const, 'return' as const), number }),
    fc.record({ what: fc.constant('pass' as const), minutes: fc.double({ min: 0, max: 20, noNaN: true }) }),
    fc.record({ what: fc.constant('restart' as const) }),
    fc.record({
      what: fc.constant('clock' as const),
      stepMs: fc.integer({ min: -120 * MINUTE_MS, max: 120 * MINUTE_MS }),
    }),
    fc.record({ what: fc.constant('network' as const), works: fc.boolean() }),
  );
  fc.assert(
    fc.property(fc.array(event, { maxLength: 60 }), (events) => {
      const site = new Site(settingsOf(THREE));
      let next = 100;
      const numbers = new Map<number, number>();
      /** How often each was put aside: back from there it may be told again. */
      const shelves = new Map<number, number>();
      for (const one of events) {
        const known = 'number' in one ? numbers.get(one.number) : undefined;
        const alarm = known === undefined ? undefined : site.alarms.get(`r1.${known}`);
        switch (one.what) {
          case 'raise': {
            const ranks = ['low', 'medium', 'high', 'critical'];
            if (alarm === undefined) {
              numbers.set(one.number, ++next);
              site.raise(next, one.priority);
            } else if (ranks.indexOf(one.priority) > ranks.indexOf(alarm.priority))
              site.change(known!, { priority: one.priority, acknowledged: false });
            break;
          }
          case 'clear':
            site.alarms.delete(`r1.${known}`);
            break;
          case 'acknowledge':
            if (alarm !== undefined) alarm.acknowledged = true;
            break;
          case 'explain':
            if (alarm !== undefined) alarm.told = false;
            break;
          case 'speak':
            if (alarm !== undefined) alarm.told = true;
            break;
          case 'shelve':
            if (alarm === undefined) break;
            alarm.told = false;
            site.note('shelve', { vessel: 'r1', number: known!, reason: 'x', minutes: 30 });
            shelves.set(known!, (shelves.get(known!) ?? 0) + 1);
            break;
          case 'return':
            if (alarm !== undefined) Object.assign(alarm, { told: true, acknowledged: false });
            break;
          case 'pass':
            site.pass(one.minutes);
            break;
          case 'restart':
            site.restart();
            break;
          case 'clock':
            site.nowMs += one.stepMs;
            site.note('clock-step', { stepMs: one.stepMs }, 'daemon');
            break;
          case 'network':
            site.works = () => one.works;
        }
        site.look();
        // Nothing is lost: the first of the order has heard of all that stands and is to be told.
        for (const { number, priority, told, acknowledged } of site.alarms.values()) {
          if (!told || acknowledged || priority === 'low') continue;
          const heard = site.told.some(
            ({ to, alarms }) => to === 'Ada' && alarms.includes(`${number} ${priority}`),
          );
          expect(heard).toBe(true);
        }
      }
      // Nothing is told twice but what came back from the shelf.
      const counts = new Map<string, number>();
      for (const { to, alarms } of site.told)
        for (const alarm of alarms) counts.set(`${to} ${alarm}`, (counts.get(`${to} ${alarm}`) ?? 0) + 1);
      for (const [told, count] of counts)
        expect(count).toBeLessThanOrEqual(1 + (shelves.get(Number(told.split(' ')[1])) ?? 0));
      // No message is delivered twice, and none is tried after that.
      const delivered = new Set<string>();
      for (const { message, way, delivered: arrived } of site.tries) {
        expect(delivered.has(`${message} ${way}`)).toBe(false);
        if (arrived) delivered.add(`${message} ${way}`);
      }
      // Nobody is passed over: Ben hears of nothing that Ada has not.
      const heardByAda = new Set<string>();
      for (const { to, alarms } of site.told) {
        for (const alarm of alarms) {
          if (to === 'Ada') heardByAda.add(alarm);
          else expect(heardByAda).toContain(alarm);
        }
      }
      // A restart changes nothing of what is due.
      const due = dutyNow(site.sight());
      site.restart();
      expect(dutyNow(site.sight())).toEqual(due);
    }),
    { numRuns: 300 },
  );
});
