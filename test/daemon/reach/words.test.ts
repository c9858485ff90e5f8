import { beforeAll, describe, expect, test } from 'vitest';
import { alarmWords, aloneWords, guardWords, quietWords, testWords } from '../../../daemon/reach/words.ts';
import { describeAlarm } from '../../../shared/rules/describe.ts';
import { RULES } from '../../../shared/rules/index.ts';
import type { Alarm, Vessel } from '../../../shared/wire/api.ts';

const NOW_MS = Date.UTC(2026, 2, 3, 7);
beforeAll(() => {
  process.env.TZ = 'UTC';
});

const alarm = (more: Partial<Alarm> = {}): Alarm => {
  const facts = {
    liquidC: 62.5,
    boilingC: 64.5,
    headroomC: 2,
    advice: 'stirring',
    probe: 'liquid-temperature',
  };
  return {
    id: 'barn.r1.1',
    at: '2026-03-03T06:58:00.000Z',
    site: 'barn',
    vessel: 'r1',
    alarm: 'boiling-near',
    event: 'raised',
    priority: 'high',
    late: false,
    value: 2,
    limit: 3,
    ...describeAlarm('boiling-near', facts, 'C'),
    facts,
    explainedBy: null,
    told: true,
    clearedAt: null,
    standing: true,
    acknowledged: null,
    shelved: null,
    ...more,
  };
};
const told = (alarms: [Alarm, ...Alarm[]], heldBack: Alarm[] = []) =>
  alarmWords(alarms, { heldBack, link: 'https://watch.example.org/#/answer/x', nowMs: NOW_MS });

describe('an alarm', () => {
  test('is said with place, time, numbers, and what to do', () => {
    const { title, short, text } = told([alarm()]);
    expect(title).toBe('Warning: r1 (barn), boiling near');
    for (const part of ['r1 (barn)', 'since 06:58', '62.5 °C', '2.0 °C below', 'Turn the heat off']) {
      expect(text).toContain(part);
      expect(short).toContain(part.replace('°', ''));
    }
    expect(text).toContain('limit 3');
    expect(text).toContain('https://watch.example.org/#/answer/x');
  });

  test('of another day has its day', () => {
    expect(told([alarm({ at: '2026-03-02T22:04:00.000Z' })]).short).toContain('since 2 Mar 22:04');
  });

  test('stays under 300 characters, with whole sentences and what to do first', () => {
    const sentence = 'This is said at some length since there is a lot to say of it.';
    const because = Array.from({ length: 9 }, () => sentence).join(' ');
    const todo = `Turn the heat off. ${because}`;
    const { short } = told(
      [alarm({ because, todo }), alarm(), alarm()],
      [alarm({ explainedBy: 'device-gone' })],
    );
    expect(short.length).toBeLessThan(300);
    for (const part of ['Turn the heat off.', 'And 2 more alarms.', 'Held back: 1 that follows.'])
      expect(short).toContain(part);
    expect(short).not.toContain('...');
    const endless = told([alarm({ because: 'x'.repeat(500) })]).short;
    expect(endless.length).toBeLessThan(300);
  });

  test('holds what was held back, by name', () => {
    const held = alarm({ alarm: 'reading-late', because: 'No sound reading.', explainedBy: 'boiling-near' });
    expect(told([alarm()], [held]).text).toMatch(/Held back[\s\S]*reading late: No sound reading\./);
  });
});

describe('a quiet line', () => {
  const settling = (has: number, needs: number): Vessel =>
    ({
      vessel: 't1',
      liquidC: 24.2,
      stageSince: '2026-03-02T20:10:00.000Z',
      counted: {
        settleHours: { has, needs, enoughAt: has < needs ? '2026-03-03T09:00:00.000Z' : null },
      },
    }) as unknown as Vessel;
  const line = (vessel: Vessel, of: 'night' | 'morning') =>
    quietWords([vessel], { site: 'barn', line: of, nowMs: NOW_MS });

  test('says since when it has settled, how warm it is, and that there is no hurry', () => {
    const { short, text, priority } = line(settling(26.833_333, 24), 'morning');
    expect(short).toContain('t1: settled since 04:10, 24 C; drain when you like');
    expect(text).toContain('t1: settled since 04:10, 24 °C; drain when you like');
    expect(priority).toBe('low');
  });

  test('says how far it is where it is not yet', () => {
    const { short } = line(settling(10.83, 24), 'night');
    expect(short).toContain('settling since 2 Mar 20:10, 10.8 of 24 h, enough at 09:00, 24 C');
    expect(short).toContain('Nothing to do');
  });
});

test('the other messages are short as well, and say what to do', () => {
  const alone = { vessel: 'r1', by: 'Eve', tell: 'Ben', heardMs: NOW_MS - 18 * 60_000 } as never;
  const { short, priority } = aloneWords(alone, { site: 'barn', link: null, nowMs: NOW_MS });
  expect(priority).toBe('critical');
  for (const part of ['Eve', 'r1 (barn)', '06:42', 'Call', 'touch no switch']) expect(short).toContain(part);
  const url = 'http://10.0.0.5:8080';
  const gone = guardWords('gone', url, 'timeout', NOW_MS - 90_000, NOW_MS);
  const back = guardWords('back', url, '', NOW_MS - 90_000, NOW_MS);
  expect(gone.short).toContain('heat off');
  for (const words of [short, gone.short, back.short, testWords('Ada').short])
    expect(words.length).toBeLessThan(300);
});

describe('the short form', () => {
  /** The default alphabet of 7 bits and its extension table (3GPP TS 23.038, 6.2.1 and 6.2.1.1), without the escape. */
  const BASIC =
    '@£$¥èéùìòÇ\nØø\rÅåΔ_ΦΓΛΩΠΨΣΘΞÆæßÉ !"#¤%&\'()*+,-./0123456789:;<=>?' +
    '¡ABCDEFGHIJKLMNOPQRSTUVWXYZÄÖÑÜ§¿abcdefghijklmnopqrstuvwxyzäöñüà';
  const EXTENSION = '\f^{}\\[~]|€';
  /** In two parts of a text message of that alphabet fit 306 units; one of the extension takes two (6.2.1.1). */
  const unitsOf = (text: string) =>
    [...text].reduce((sum, character) => sum + (EXTENSION.includes(character) ? 2 : 1), 0);
  const beyond = (text: string) =>
    [...text].filter((character) => !BASIC.includes(character) && !EXTENSION.includes(character));
  const isPlain = (short: string) => {
    expect(beyond(short), short).toEqual([]);
    expect(unitsOf(short)).toBeLessThanOrEqual(306);
  };

  test('the table has 127 characters and 10 more', () => {
    expect([new Set(BASIC).size, new Set(EXTENSION).size]).toEqual([127, 10]);
  });

  test.for(RULES.map(({ alarm }) => alarm))('of %s is of that alphabet', (name) => {
    // Whatever facts a sentence asks for, those that turn it another way too.
    for (const fact of [5, -5, true, false, 'other', null]) {
      const facts: Alarm['facts'] = new Proxy({}, { get: (_, key) => (key === 'leave' ? false : fact) });
      isPlain(told([alarm({ alarm: name, ...describeAlarm(name, facts, 'C') })]).short);
    }
    isPlain(told([alarm({ alarm: name, ...describeAlarm(name, { leave: true }, 'C') })]).short);
  });

  test('of what is cut short, of the other messages, and with typographic marks in what it is told', () => {
    isPlain(told([alarm({ because: `${'x'.repeat(280)}’${'x'.repeat(200)}` })]).short);
    isPlain(told([alarm({ because: 'Oil – not the pump’s — at −2 °C … and so on.' })]).short);
    const vessel = {
      vessel: 't1',
      liquidC: -3,
      stageSince: '2026-03-02T20:10:00.000Z',
      counted: { settleHours: { has: 30, needs: 24, enoughAt: null } },
    } as unknown as Vessel;
    isPlain(quietWords([vessel], { site: 'barn', line: 'night', nowMs: NOW_MS }).short);
    isPlain(testWords('Ada').short);
    const alone = { vessel: 'r1', by: 'Eve', tell: 'Ben', heardMs: NOW_MS } as never;
    isPlain(aloneWords(alone, { site: 'barn', link: null, nowMs: NOW_MS }).short);
    for (const state of ['gone', 'back'] as const)
      isPlain(guardWords(state, 'http://10.0.0.5/~shed', 'timeout', NOW_MS, NOW_MS).short);
  });

  test('leaves the letters of people’s names as they are', () => {
    const alone = { vessel: 'r1', by: 'Zoë Łącka', tell: 'Ben', heardMs: NOW_MS } as never;
    const { short } = aloneWords(alone, { site: 'barn', link: null, nowMs: NOW_MS });
    expect(short).toContain('Zoë Łącka');
    expect(testWords('Łącka').short).toContain('Łącka');
  });
});
