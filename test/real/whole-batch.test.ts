import { execFileSync } from 'node:child_process';
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { parse } from 'csv-parse/sync';
import { expect, test } from 'vitest';
import { openReadable } from '../../daemon/store/sqlite/database.ts';
import { isDifference, verifyDatabase } from '../../daemon/store/sqlite/verify.ts';
import { batchBalanceSchema } from '../../shared/wire/balance.ts';
import type { Batch } from '../../shared/wire/batch.ts';
import type { Lot } from '../../shared/wire/lots.ts';
import type { Stage } from '../../shared/wire/names.ts';
import { recordSchema } from '../../shared/wire/record.ts';
import { isoTime } from '../../shared/wire/time.ts';
import { type BatchCourse, type BatchTimes, batch } from '../../simulator/batch.ts';
import { contents, REACTOR, STIRRER } from '../../simulator/gear.ts';
import { mixingStopped } from '../../simulator/hazards.ts';
import { type Cue, mergeCues, type Scenario, type ScenarioVessel } from '../../simulator/scenario.ts';
import { asWritten } from '../../simulator/variation.ts';
import { expectProblem } from '../daemon/http/problem.ts';
import { type Answer, type AnyJson, type RunningDaemon, runDaemon } from '../daemon/running-daemon.ts';
import { temporaryDir } from '../daemon/store/fixture.ts';
import { ManualClock } from '../support/manual-clock.ts';
import { againstTruth, type Published, play } from '../support/simulated-batch.ts';

/** Whole batches in a simulated shed, driven over HTTP by people who ask first and then say what they saw. */

const SITE = 'shed';
const START_MS = Date.UTC(2026, 2, 2, 8);
const EVERY_MS = 10_000;
const SETTINGS = { seed: 7, startMs: START_MS, readingEveryMs: EVERY_MS };
const BEFORE_HEAT = [
  'drain-valve-shut',
  'level-over-element',
  'vent-open',
  'water-at-hand',
  'extinguisher-at-hand',
  'gear-on',
  'someone-told',
];

// ---- the shed ----

/** A course of the ordinary batch with a short settling, up to the fuel; what comes then is another story. */
function upToFuel(course: Partial<BatchCourse>): { scenario: Scenario; times: BatchTimes } {
  let times!: BatchTimes;
  const story = batch({
    description: 'an ordinary batch up to its drained glycerol',
    reactMinutes: 66,
    settleHours: 1.2,
    ...course,
    events: (found) => {
      times = found;
      return course.events?.(found) ?? [];
    },
  });
  const { cues, ...scenario } = story(asWritten);
  return { scenario: { ...scenario, cues: cues.filter(({ atMinutes }) => atMinutes < times.filter) }, times };
}

/** Minutes after the drain begins at which the fuel's way through the wash tank goes on. */
const TANK = { pumped: 20, wash: 30, dry: 60, dried: 140, test: 200, filter: 205, finished: 215 };

/** The fuel is pumped to a tank with a heater, and washed and dried there. */
function washedInTank(): Scenario {
  const {
    scenario,
    times: { drain },
  } = upToFuel({});
  const tank: ScenarioVessel = {
    vessel: 't1',
    role: 'wash',
    plan: {},
    device: 't1-node',
    channels: ['liquid-temperature', 'heater'],
    equipment: REACTOR,
    mixer: STIRRER,
    // What was left in it the last time.
    contents: contents({ productKg: 0.5 }),
    temperatureC: scenario.surroundings.ambientC,
  };
  const t1 = (atMinutes: number, stage: Stage): Cue => ({
    atMinutes,
    do: 'stage',
    vessel: 't1',
    stage,
  });
  // Between two readings: which of them is of the batch is no matter of chance.
  const finished = drain + TANK.finished + 0.05;
  return {
    ...scenario,
    vessels: [...scenario.vessels, tank],
    cues: mergeCues(scenario.cues, [
      { atMinutes: drain + TANK.pumped, do: 'pump', from: 'r1', to: 't1', kg: REACTOR.fullKg, minutes: 5 },
      t1(drain + TANK.wash, 'wash'),
      { atMinutes: drain + TANK.wash + 15, do: 'wash-out', vessel: 't1' },
      t1(drain + TANK.dry, 'dry-fuel'),
      { atMinutes: drain + TANK.dry, do: 'stir', vessel: 't1', perMin: STIRRER.ratedPerMin },
      { atMinutes: drain + TANK.dry, do: 'set-point', vessel: 't1', celsius: 105 },
      { atMinutes: drain + TANK.dried, do: 'set-point', vessel: 't1', celsius: null },
      t1(drain + TANK.test, 'test'),
      t1(drain + TANK.filter, 'filter'),
      t1(finished, 'finished'),
    ]),
    lengthMinutes: finished + 2,
    // Warm fuel comes over a probe that hung in the air.
    truth: { expects: [], allows: ['probe-jump'] },
  };
}

/** Minutes into the reaction at which the stirrer stops, for how many, and when somebody comes to look. */
const STOP = { after: 20, minutes: 1.5, looked: 21 };

/** The stirrer stops for a while, and nobody waits for the glycerol. */
function hasty(): Scenario {
  const r1 = (atMinutes: number, stage: Stage): Cue => ({ atMinutes, do: 'stage', vessel: 'r1', stage });
  const stir = (atMinutes: number, perMin: number): Cue => ({ atMinutes, do: 'stir', vessel: 'r1', perMin });
  const { scenario, times } = upToFuel({
    settleHours: 0.4,
    events: ({ react }) => [
      stir(react + STOP.after, 0),
      stir(react + STOP.after + STOP.minutes, STIRRER.ratedPerMin),
    ],
    truth: ({ react }) => ({ expects: [mixingStopped(react + STOP.after)], allows: ['settling-short'] }),
  });
  const { react, filter } = times;
  const looks: Cue[] = [
    r1(react + STOP.looked, 'react'),
    r1(filter, 'test'),
    r1(filter + 5, 'wash'),
    r1(filter + 15, 'rejected'),
  ];
  return { ...scenario, cues: mergeCues(scenario.cues, looks), lengthMinutes: filter + 15.5 };
}

// ---- the people ----

class Shed {
  readonly data = join(temporaryDir(), 'data');
  readonly clock = new ManualClock(START_MS - 3_600_000);
  readonly site = SITE;
  daemon!: RunningDaemon;

  async start(vessels: readonly string[]): Promise<void> {
    this.daemon = await runDaemon({ clock: this.clock, data: this.data });
    for (const vessel of vessels) await this.daemon.read(`${SITE}/${vessel}/liquid-temperature`, 20);
    const stated = await this.daemon.send('PUT', `/api/v1/sites/${SITE}`, { pressureHPa: 1013.25 });
    expect(stated.status, stated.text).toBe(200);
  }

  async get(path: string): Promise<AnyJson> {
    const { status, json, text } = await this.daemon.get(`/api/v1/${path}`);
    expect(status, text).toBe(200);
    return json;
  }

  async post(path: string, body: object, wanted = 201): Promise<AnyJson> {
    const { status, json, text } = await this.daemon.send('POST', `/api/v1/${path}`, body);
    expect(status, text).toBe(wanted);
    return json;
  }

  /** Oil, methanol and lye, each with what is known of it. */
  async takeIn(): Promise<{ oil: Lot; methanol: Lot; lye: Lot }> {
    const by = 'Ada Brook';
    const common = { site: SITE, by };
    const oil = await this.post('lots', {
      ...common,
      kind: 'oil',
      name: 'March drum',
      from: 'Weir Lane kitchen',
      litres: 210,
      filtered: true,
      waterPpm: 400,
    });
    // The titration is made when the drum stands in the shed.
    const titration = { mL: [1.4, 1.5, 1.6], titrant: 'NaOH' };
    await this.post(`lots/${oil.id}/notes`, { what: { kind: 'titration', titration }, by });
    const methanol = await this.post('lots', {
      ...common,
      kind: 'methanol',
      name: 'Blue keg',
      litres: 60,
      purityPercent: 99.8,
    });
    const lye = await this.post('lots', {
      ...common,
      kind: 'catalyst',
      name: 'Flakes 3',
      base: 'NaOH',
      kg: 5,
      purityPercent: 98,
    });
    return { oil: await this.get(`lots/${oil.id}`), methanol, lye };
  }

  /** Asks for the plan of a lot, and opens a batch by it. */
  async open(oil: Lot, name: string, vessel = 'r1'): Promise<Batch> {
    const request = {
      oil: { volumeL: 100, titration: oil.known.titration, waterPpm: oil.known.waterPpm },
      methanol: { percentOfOilVolume: 22 },
      catalyst: { kind: 'NaOH', purityPercent: 98 },
      watch: { requiredReactionMinutes: 60, requiredSettleHours: 1, readingEverySeconds: EVERY_MS / 1000 },
    };
    const site = { pressureHPa: 1013.25 };
    const { workings: _, ...plan } = await this.post('plans', { ...request, site }, 200);
    const opened = await this.post('batches', {
      vessel: `${SITE}:${vessel}`,
      name,
      plan: request,
      soapLimitPpm: 60,
      by: 'Ada Brook',
    });
    // What was asked for is what is frozen.
    expect(opened.computed).toEqual(plan);
    return opened;
  }

  async note(id: string, what: object, by = 'Ada Brook', more: object = {}): Promise<AnyJson> {
    return this.post(`batches/${id}/entries`, { what, by, ...more });
  }

  /** Says that a batch goes on, however that is answered. */
  enter(id: string, body: { stage: string; by: string } & Record<string, unknown>): Promise<Answer> {
    return this.daemon.send('POST', `/api/v1/batches/${id}/stage`, body);
  }

  conditions(id: string, stage: string, vessel: string): Promise<AnyJson> {
    return this.get(`batches/${id}/conditions?stage=${stage}&vessel=${vessel}`);
  }

  /** Looks at all that a stage asks for and goes on to it; gives what was asked, in its order, with what was so. */
  async goOn(
    id: string,
    vessel: string,
    stage: string,
    by = 'Ada Brook',
  ): Promise<[string, boolean | null][]> {
    const { conditions } = await this.conditions(id, stage, vessel);
    const seen = conditions
      .filter(({ kind, met }: AnyJson) => kind === 'seen' && met === null)
      .map(({ what }: AnyJson) => what);
    const before: Batch = await this.get(`batches/${id}`);
    const stagesKnown = before.stages.length;
    const after: Batch = await this.post(
      `batches/${id}/stage`,
      { stage, vessel, by, seen, stagesKnown },
      200,
    );
    expect(after.stages).toHaveLength(stagesKnown + 1);
    expect(after.stages.at(-1)).toEqual({
      stage,
      vessel,
      at: isoTime(this.clock.wallMs()),
      by,
      deviation: null,
      seen,
      unseen: [],
      reason: null,
    });
    return conditions.map(({ what, met }: AnyJson) => [what, met]);
  }

  record(id: string, format: string): Promise<Response> {
    return fetch(`http://127.0.0.1:${this.daemon.httpPort}/api/v1/batches/${id}/record?format=${format}`);
  }

  /** Stops the daemon, finds its store whole, and starts another on it. */
  async startAgain(): Promise<void> {
    await this.daemon.stop();
    expect(this.daemon.errors).toEqual([]);
    const reader = openReadable(this.data);
    const found = verifyDatabase(reader);
    reader.close();
    expect(isDifference(found), JSON.stringify(found)).toBe(false);
    this.daemon = await runDaemon({ clock: this.clock, data: this.data });
  }
}

const looked = (...whats: string[]): [string, null][] => whats.map((what) => [what, null]);
const so = (...whats: string[]): [string, true][] => whats.map((what) => [what, true]);

/** What a CSV of readings has: parsed by a library, which wants as many fields in each row as in the first. */
function rowsOf(csv: string): string[] {
  const [head, ...rows] = parse(csv) as string[][];
  expect(head).toEqual(['at', 'channel', 'value', 'source']);
  return rows.map(([at, channel, value, source]) => {
    expect(source).toBe('device');
    return rowOf(at!, channel!, Number(value));
  });
}
const rowOf = (at: string, channel: string, value: number): string => `${at} ${channel} ${value}`;

/** The same of what was published of a vessel while it was in the batch, epoch ms, both included. */
const rowsOfStay = (
  published: readonly Published[],
  vessel: string,
  fromMs: number,
  toMs: number,
): string[] =>
  published
    .filter((one) => one.vessel === vessel && one.atMs >= fromMs && one.atMs <= toMs)
    .map(({ channel, atMs, value }) =>
      rowOf(isoTime(atMs), vessel === 'r1' ? channel : `${vessel}/${channel}`, value),
    );

/** The text of a PDF and how many pages it has, by programs that are not ours. */
function readPdf(bytes: Uint8Array): { text: string; pages: number } {
  const file = join(temporaryDir(), 'record.pdf');
  writeFileSync(file, bytes);
  const info = execFileSync('pdfinfo', [file], { encoding: 'utf8' });
  // Where a cell goes on in the next line, its words follow each other all the same.
  const text = execFileSync('pdftotext', ['-raw', file, '-'], { encoding: 'utf8' });
  return { text: text.replaceAll(/\s+/g, ' '), pages: Number(/Pages: +(\d+)/.exec(info)![1]) };
}

// ---- what must come of it ----

test('a batch from its lots to a released record', { timeout: 240_000 }, async () => {
  const shed = new Shed();
  await shed.start(['r1', 'm1', 't1']);
  const { oil, methanol, lye } = await shed.takeIn();
  shed.clock.advance(3_540_000);
  const openedMs = shed.clock.wallMs();
  const { id, computed } = await shed.open(oil, 'From the March drum');
  const plan = computed!;
  // 3.5 g of pure NaOH a litre of fresh oil, and as much again of the same flakes as the titration took.
  expect(plan.catalystG).toBeCloseTo((3.5 / 0.98 + 1.5) * 100, 6);

  const methanolKg = Number(plan.methanolKg.toFixed(1));
  const lyeKg = Number((plan.catalystG / 1000).toFixed(3));
  const weighed = { oil: 92, methanol: methanolKg, catalyst: lyeKg, glycerol: 15.2, fuel: 89.5 };
  for (const [lot, amount] of [
    [oil.id, { litres: 100 }],
    [methanol.id, { litres: 22 }],
    [lye.id, { kg: lyeKg }],
  ] as const)
    await shed.post(`batches/${id}/draws`, { lot, ...amount, by: 'Ada Brook' });

  const asked: Record<string, [string, boolean | null][]> = {};
  const at: Record<string, number> = {};
  const scenario = washedInTank();
  const published = await play(shed, scenario, SETTINGS, async ({ vessel, stage }) => {
    const by = stage === 'finished' ? 'Uwe Lind' : 'Ada Brook';
    const weigh = (what: keyof typeof weighed) =>
      shed.note(id, { kind: 'weighing', what, kg: weighed[what] });
    at[stage] = shed.clock.wallMs();
    if (stage === 'warm') expect((await weigh('oil')).result.passed).toBe(true);
    if (stage === 'methoxide')
      for (const what of ['methanol', 'catalyst'] as const)
        expect((await weigh(what)).result.passed).toBe(true);
    if (stage === 'dose') await shed.note(id, { kind: 'test', test: 'water', ppm: 400 });
    if (stage === 'settle') {
      const found = await shed.note(id, { kind: 'test', test: '3/27', dropoutMl: 0 });
      expect(found).toMatchObject({ stage: 'react', result: { passed: true } });
    }
    if (stage === 'wash') {
      // Glycerol is drained by taps, then the fuel goes to the tank.
      const taps: AnyJson[] = [];
      for (const litres of [6, 4, 3.5])
        taps.push(await shed.note(id, { kind: 'drained', what: 'glycerol', litres }));
      expect(taps.map(({ result }) => result.figure)).toEqual([6, 10, 13.5]);
      await weigh('glycerol');
      expect(await shed.note(id, { kind: 'test', test: 'shake', partsClean: true })).toMatchObject({
        vessel: 'r1',
        stage: 'drain',
      });
      const moved = { from: 'r1', to: 't1', litres: 102, what: 'ester', by };
      expect(await shed.post(`batches/${id}/move`, moved, 200)).toMatchObject({ vessel: 't1' });
      expect((await shed.get(`vessels/${SITE}:r1`)).batch).toBeNull();
    }
    if (stage === 'dry-fuel') {
      await shed.note(id, { kind: 'wash', method: 'mist', waterL: 15 });
      await shed.note(id, { kind: 'wash', method: 'bubble', waterL: 15 });
      await shed.note(id, { kind: 'drained', what: 'wash-water', litres: 30.5 });
      // 0.5 mL of 0.01 mol/L on 40 g, as sodium oleate of 304.4 g/mol.
      const soap = { kind: 'test', test: 'soap', acidMl: 0.6, blankMl: 0.1, sampleG: 40, base: 'NaOH' };
      const { result } = await shed.note(id, soap);
      expect(result.passed).toBe(true);
      expect(result.figure).toBeCloseTo((0.5e-3 * 0.01 * 304.44 * 1e6) / 40, 0);
    }
    if (stage === 'finished') {
      await shed.note(id, { kind: 'test', test: 'water', ppm: 210 });
      await shed.note(id, { kind: 'test', test: 'density', kgPerM3: 884, atC: 15 });
      await shed.note(id, { kind: 'volume', what: 'oil', litres: 100, atC: 20 });
      await shed.note(id, { kind: 'volume', what: 'fuel', litres: 101, atC: 20 });
      await weigh('fuel');
    }
    asked[stage] = await shed.goOn(id, vessel, stage, by);
  });

  // Each stage asked for what it waits for, and what was counted and tested was so.
  expect(asked).toEqual({
    warm: looked(...BEFORE_HEAT),
    methoxide: [],
    dose: [
      ...so('oil-dewatered'),
      ...looked('free-water-drained'),
      ...so('below-boiling', 'methoxide-minutes'),
      ...looked('methoxide-clear'),
    ],
    react: [],
    settle: so('reaction-minutes'),
    drain: looked('heat-off'),
    wash: so('settle-hours', 'shake-parts-clean'),
    'dry-fuel': [...looked(...BEFORE_HEAT), ...so('wash-clear')],
    test: [],
    filter: [],
    finished: so('conversion', 'fuel-dry'),
  });

  // Nobody was told of anything that is not so.
  const { alarms } = await shed.get('alarms?limit=1000');
  expect(againstTruth(alarms, scenario, SETTINGS)).toEqual({ uncalledFor: [], missed: [] });
  const filled = { fromMs: at.drain! + TANK.pumped * 60_000, toMs: at.wash! };
  const elsewhere = alarms.filter(
    ({ vessel, at: told }: AnyJson) =>
      vessel !== 't1' || Date.parse(told) < filled.fromMs || Date.parse(told) >= filled.toMs,
  );
  expect(elsewhere).toEqual([]);

  const record = recordSchema.parse(await (await shed.record(id, 'json')).json());
  const finishedAt = isoTime(at.finished!);
  expect(record).toMatchObject({
    from: isoTime(openedMs),
    to: finishedAt,
    batch: { open: false, stage: 'finished', vessel: 't1' },
    outcome: { stage: 'finished', at: finishedAt, by: 'Uwe Lind' },
    deviations: [],
    alarms: [],
  });
  expect(record.batch.stages.map(({ stage, vessel, at: when }) => [stage, vessel, when])).toEqual(
    Object.entries(at).map(([stage, ms]) => [
      stage,
      stage === 'methoxide' ? 'm1' : ms >= at.wash! ? 't1' : 'r1',
      isoTime(ms),
    ]),
  );
  expect(record.batch.moves).toEqual([
    { at: isoTime(at.wash!), by: 'Ada Brook', from: 'r1', to: 't1', litres: 102, what: 'ester' },
  ]);
  expect(record.tests.filter(({ passed }) => passed === false)).toEqual([]);
  expect(new Set(record.tests.map(({ test: name }) => name))).toEqual(
    new Set(['3/27', 'shake', 'soap', 'water', 'density']),
  );

  // What the readings show is no more than really was.
  const reactor = record.vessels.find(({ vessel }) => vessel === 'r1')!;
  const reactedMinutes = (at.settle! - at.react!) / 60_000;
  expect(reactor.creditedReactionMinutes).toBeGreaterThanOrEqual(60);
  expect(reactor.creditedReactionMinutes).toBeLessThanOrEqual(reactedMinutes);
  expect(reactor.creditedSettleHours).toBeGreaterThanOrEqual(1.2);
  expect(reactor.creditedSettleHours).toBeLessThanOrEqual((at.wash! - at.settle!) / 3_600_000);
  const hottest = Math.max(
    ...published
      .filter(({ vessel, channel }) => vessel === 't1' && channel === 'liquid-temperature')
      .map(({ value }) => value),
  );
  expect(hottest).toBeGreaterThan(95);
  expect(record.vessels.find(({ vessel }) => vessel === 't1')!.highestLiquidC).toBe(hottest);

  // The lots went down by what was drawn, and are found from the batch, and the batch from them.
  const [oilNow, methanolNow, lyeNow] = await Promise.all(
    [oil, methanol, lye].map((lot): Promise<Lot> => shed.get(`lots/${lot.id}`)),
  );
  expect([oilNow!.litresLeft, methanolNow!.litresLeft]).toEqual([110, 38]);
  expect(lyeNow!.kgLeft).toBeCloseTo(5 - lyeKg, 6);
  expect(record.lots.map(({ lot }) => lot)).toEqual([oil.id, methanol.id, lye.id]);
  expect(record.lots[0]!.known).toMatchObject({ titration: { mL: [1.4, 1.5, 1.6] }, waterPpm: 400 });
  for (const [i, lot] of [oilNow!, methanolNow!, lyeNow!].entries())
    expect(lot.wentInto).toMatchObject([{ batch: id, draw: record.lots[i]!.id, undone: null }]);
  expect(oilNow!.tried).toMatchObject([{ batch: id, litres: 100, passed: true }]);

  // What went in, less what came out, as on the scales; and litres by litres.
  const { balance, yield: gave } = batchBalanceSchema.parse(await shed.get(`batches/${id}/balance`));
  expect(record.balance).toEqual(balance);
  expect(record.yield).toEqual(gave);
  const inKg = weighed.oil + weighed.methanol + weighed.catalyst + 30;
  const outKg = weighed.glycerol + weighed.fuel + 30.5;
  expect(balance.missing).toEqual([]);
  expect(balance.inKg).toBeCloseTo(inKg, 6);
  expect(balance.outKg).toBeCloseTo(outKg, 6);
  expect(balance.unaccountedKg).toBeCloseTo(inKg - outKg, 6);
  expect(gave.litresPerLitre).toBeCloseTo(1.01, 9);

  // Every reading of a vessel while it was in the batch, once, and no other.
  const rows = rowsOf(await (await shed.record(id, 'csv')).text());
  const expected = [
    // Until its liquid went on.
    ...rowsOfStay(published, 'r1', openedMs, Date.parse(record.batch.moves.at(-1)!.at)),
    ...rowsOfStay(published, 'm1', at.methoxide!, at.finished!),
    ...rowsOfStay(published, 't1', at.wash!, at.finished!),
  ];
  expect(expected.length).toBeGreaterThan(8000);
  expect(published.length).toBeGreaterThan(expected.length);
  expect(rows.toSorted().join('\n')).toBe(expected.toSorted().join('\n'));
  const times = rows.map((row) => row.split(' ')[0]!);
  expect(times.join(' ')).toBe(times.toSorted().join(' '));
  expect(record.channels.reduce((sum, { readings }) => sum + readings, 0)).toBe(expected.length);

  const html = await (await shed.record(id, 'html')).text();
  expect(html).not.toMatch(/(src|href)=|url\(|@import/);
  const pdfBytes = new Uint8Array(await (await shed.record(id, 'pdf')).arrayBuffer());
  expect(pdfBytes.length).toBeLessThan(1_000_000);
  const pdf = readPdf(pdfBytes);
  expect(pdf.pages).toBeGreaterThan(2);
  for (let page = 1; page <= pdf.pages; page++) expect(pdf.text).toContain(`page ${page} of ${pdf.pages}`);
  for (const word of [
    'From the March drum',
    'Finished and released by Uwe Lind',
    'March drum',
    'Blue keg',
    'Flakes 3',
    'nothing drops out: passed',
    '13.5 L of about',
    record.chain.head.slice(0, 20),
  ]) {
    expect(html).toContain(word);
    expect(pdf.text).toContain(word);
  }

  // It stands up: the store is whole, and another daemon makes the same of it.
  await shed.startAgain();
  expect(await shed.get(`batches/${id}`)).toEqual(record.batch);
  expect(await shed.get(`lots/${oil.id}`)).toEqual(oilNow);
});

test('a batch that goes wrong in five ways, and another that draws from it', {
  timeout: 240_000,
}, async () => {
  const shed = new Shed();
  await shed.start(['r1', 'm1', 'r2']);
  const { oil } = await shed.takeIn();
  shed.clock.advance(3_540_000);
  const { id, computed } = await shed.open(oil, 'In a hurry');
  const next = await shed.open(oil, 'Once more', 'r2');
  await shed.post(`batches/${id}/draws`, { lot: oil.id, litres: 100, by: 'Ada Brook' });
  const drawFrom = () =>
    shed.daemon.send('POST', `/api/v1/batches/${next.id}/draws`, { batch: id, litres: 85, by: 'Uwe Lind' });
  const batchNow = (): Promise<Batch> => shed.get(`batches/${id}`);
  const lyeKg = Number((computed!.catalystG / 1000).toFixed(3));
  const at: Record<string, number> = {};
  let winner = '';

  const ways: Record<string, () => Promise<unknown>> = {
    methoxide: async () => {
      // The scales: the pot was not tared.
      const tooMuch = await shed.note(id, { kind: 'weighing', what: 'catalyst', kg: lyeKg + 0.2 });
      expect(tooMuch.result.passed).toBe(false);
      expect(tooMuch.result.says).toMatch(/^STOP: 200 g more/);
      const corrects = { entry: tooMuch.id, reason: 'the pot was on the scales' };
      const right = await shed.note(id, { kind: 'weighing', what: 'catalyst', kg: lyeKg }, 'Ada Brook', {
        corrects,
      });
      expect(right).toMatchObject({ result: { passed: true }, corrects });
      expect((await batchNow()).entries).toMatchObject([
        { id: tooMuch.id, what: { kg: lyeKg + 0.2 }, correctedBy: right.id },
        { id: right.id, correctedBy: null },
      ]);
      await shed.goOn(id, 'm1', 'methoxide');
    },
    'react again': async () => {
      // The stirrer has stopped: somebody looks, puts the belt on and says so.
      const { alarms } = await shed.get(`alarms?standing=true&vessel=${SITE}:r1`);
      expect(alarms).toMatchObject([{ alarm: 'mixing-stopped', standing: true, acknowledged: null }]);
      await shed.post(
        `alarms/${alarms[0].id}/acknowledge`,
        { by: 'Uwe Lind', reason: 'the belt came off' },
        204,
      );
      const [known] = (await shed.get(`alarms?vessel=${SITE}:r1`)).alarms;
      expect(known.acknowledged).toEqual({
        by: 'Uwe Lind',
        reason: 'the belt came off',
        at: isoTime(shed.clock.wallMs()),
      });
    },
    settle: async () => {
      const { counted } = await shed.get(`vessels/${SITE}:r1`);
      const stood = counted.notCounted.find(({ why }: AnyJson) => why === 'not-mixed');
      // To within a reading before it and one after.
      expect(Math.abs(stood.minutes - STOP.minutes)).toBeLessThanOrEqual((2 * EVERY_MS) / 60_000);
      const reactedMinutes = (at.settle! - at.react!) / 60_000;
      expect(counted.reactionMinutes.has).toBeLessThanOrEqual(reactedMinutes - stood.minutes);
      await shed.goOn(id, 'r1', 'settle');
    },
    drain: async () => {
      // Both have seen that it is settled enough for them, and press at once.
      const stagesKnown = (await batchNow()).stages.length;
      const people = ['Ada Brook', 'Uwe Lind'];
      const answers = await Promise.all(
        people.map((by) => shed.enter(id, { stage: 'drain', by, seen: ['heat-off'], stagesKnown })),
      );
      expect(answers.map(({ status }) => status).toSorted()).toEqual([200, 409]);
      const won = answers.findIndex(({ status }) => status === 200);
      winner = people[won]!;
      const told = answers[1 - won]!;
      expectProblem(told, 409, 'stage-moved');
      expect(told.json.detail).toContain(winner);
      expectProblem(await shed.enter(id, { stage: 'drain', by: people[1 - won]! }), 409, 'stage-same');
      const { stages } = await batchNow();
      expect(stages).toHaveLength(stagesKnown + 1);
      expect(stages.at(-1)).toMatchObject({ stage: 'drain', by: winner, seen: ['heat-off'] });
    },
    test: async () => {
      // The settling is ended early.
      const before = await batchNow();
      const going = { stage: 'test', by: 'Ada Brook' };
      const refused = await shed.enter(id, going);
      expectProblem(refused, 409, 'conditions-missing');
      const has = (at.test! - at.settle!) / 3_600_000;
      expect(refused.json.missing).toEqual([{ what: 'settle-hours', has: expect.closeTo(has, 1), needs: 1 }]);
      expectProblem(await shed.enter(id, { ...going, anyway: { reason: ' ' } }), 400, 'body-invalid');
      expect(await batchNow()).toEqual(before);
      const entered = await shed.enter(id, { ...going, anyway: { reason: 'the van comes at noon' } });
      expect(entered.status, entered.text).toBe(200);
      expect(entered.json.stages.at(-1).deviation).toEqual({
        reason: 'the van comes at noon',
        missing: refused.json.missing,
      });
      const { alarms } = await shed.get(`alarms?standing=true&vessel=${SITE}:r1`);
      expect(alarms).toMatchObject([{ alarm: 'settling-short', priority: 'medium' }]);
      await shed.post(`alarms/${alarms[0].id}/acknowledge`, { by: 'Ada Brook' }, 204);
    },
    wash: async () => {
      // It does not part from water in a bottle, nor will it in the vessel.
      const shaken = await shed.note(id, { kind: 'test', test: 'shake', partsClean: false });
      expect(shaken).toMatchObject({ stage: 'test', result: { passed: false } });
      const going = { stage: 'wash', by: 'Ada Brook' };
      const refused = await shed.enter(id, going);
      expectProblem(refused, 409, 'conditions-missing');
      expect(refused.json.missing).toEqual([{ what: 'shake-parts-clean', has: 0, needs: 1 }]);
      expect((await batchNow()).stage).toBe('test');
      const entered = await shed.enter(id, { ...going, anyway: { reason: 'gently, with mist' } });
      expect(entered.status, entered.text).toBe(200);
    },
    rejected: async () => {
      await shed.note(id, {
        kind: 'wash',
        method: 'mist',
        waterL: 10,
        emulsion: true,
        remedy: 'salt water, and left to stand warm',
      });
      const failed = await shed.note(id, { kind: 'test', test: '3/27', dropoutMl: 0.6 });
      expect(failed.result.passed).toBe(false);
      // While it is open nobody draws from it.
      expectProblem(await drawFrom(), 409, 'batch-not-failed');
      const rejected = { stage: 'rejected', by: 'Uwe Lind', reason: 'oil is left in it', seen: [] };
      const ended = await shed.enter(id, rejected);
      expect(ended.status, ended.text).toBe(200);
      expect(ended.json).toMatchObject({ open: false, stage: 'rejected' });
      expectProblem(await shed.enter(id, { stage: 'dose', by: 'Ada Brook' }), 409, 'batch-ended');
    },
  };
  const scenario = hasty();
  await play(shed, scenario, SETTINGS, async ({ vessel, stage }) => {
    const way = stage === 'react' && at.react !== undefined ? 'react again' : stage;
    at[way] = shed.clock.wallMs();
    if (ways[way] === undefined) await shed.goOn(id, vessel, stage);
    else await ways[way]();
  });

  // Another batch is made from it, and each knows of the other.
  const drawn = await drawFrom();
  expect(drawn.status, drawn.text).toBe(201);
  expect(drawn.json).toMatchObject({ kind: 'oil', lot: null, fromBatch: id, name: 'In a hurry', litres: 85 });
  expect((await batchNow()).wentInto).toMatchObject([
    { batch: next.id, draw: drawn.json.id, litres: 85, by: 'Uwe Lind', undone: null },
  ]);
  expect((await shed.get(`lots/${oil.id}`)).litresLeft).toBe(110);

  const { alarms } = await shed.get('alarms?limit=1000');
  expect(againstTruth(alarms, scenario, SETTINGS)).toEqual({ uncalledFor: [], missed: [] });

  // The record has all five, and who did what.
  const record = recordSchema.parse(await (await shed.record(id, 'json')).json());
  expect(record.outcome).toEqual({
    stage: 'rejected',
    at: isoTime(at.rejected!),
    by: 'Uwe Lind',
    reason: 'oil is left in it',
  });
  expect(record.alarms.map(({ alarm, acknowledged }) => [alarm, acknowledged?.by])).toEqual([
    ['mixing-stopped', 'Uwe Lind'],
    ['settling-short', 'Ada Brook'],
  ]);
  expect(record.deviations).toMatchObject([
    { stage: 'test', at: isoTime(at.test!), by: 'Ada Brook', missing: [{ what: 'settle-hours' }] },
    { stage: 'wash', at: isoTime(at.wash!), by: 'Ada Brook', missing: [{ what: 'shake-parts-clean' }] },
  ]);
  expect(record.batch.stages.filter(({ stage }) => stage === 'drain')).toMatchObject([{ by: winner }]);
  expect(record.balance.in.catalyst).toMatchObject({ kg: lyeKg, from: 'weighed' });
  const reactor = record.vessels.find(({ vessel }) => vessel === 'r1')!;
  const reactedMinutes = (at.settle! - at.react!) / 60_000;
  expect(reactor.creditedReactionMinutes).toBeGreaterThanOrEqual(60);
  expect(reactor.creditedReactionMinutes).toBeLessThanOrEqual(reactedMinutes - STOP.minutes + 0.5);
  const html = await (await shed.record(id, 'html')).text();
  const pdf = readPdf(new Uint8Array(await (await shed.record(id, 'pdf')).arrayBuffer()));
  for (const word of [
    'Rejected by Uwe Lind',
    'oil is left in it',
    'STOP: 200 g more',
    'the pot was on the scales',
    'the belt came off',
    'the van comes at noon',
    'does not part clean',
    'gently, with mist',
    'salt water, and left to stand warm',
    '0.6 mL of 3 mL drop out',
  ]) {
    expect(html).toContain(word);
    expect(pdf.text).toContain(word);
  }
  const others = recordSchema.parse(await (await shed.record(next.id, 'json')).json());
  expect(others.lots).toMatchObject([{ fromBatch: id, litres: 85, deviation: null }]);

  const before = [await batchNow(), await shed.get(`batches/${next.id}`)];
  await shed.startAgain();
  expect([await batchNow(), await shed.get(`batches/${next.id}`)]).toEqual(before);
});
