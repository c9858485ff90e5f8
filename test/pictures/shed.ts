import { once } from 'node:events';
import { createServer } from 'node:http';
import type { AddressInfo } from 'node:net';
import { setTimeout as wait } from 'node:timers/promises';
import { connectAsync, type MqttClient } from 'mqtt';
import { besideHref, hrefOf, idHref, type Route, vesselHref } from '../../dashboard/route.ts';
import type { Stage } from '../../shared/wire/names.ts';
import { readingTopic } from '../../shared/wire/topics.ts';
import { dueMs, type RunItem, run } from '../../simulator/run.ts';
import { SCENARIOS, type ScenarioName, variant } from '../../simulator/scenarios/index.ts';
import { Api } from '../support/api.ts';
import { ManualClock } from '../support/manual-clock.ts';
import { dataFolder, LOOPBACK, startHere } from '../support/serving.ts';

/**
 * The invented shed of the pictures: two people, a reactor, a vessel for methoxide and a tank. One batch is
 * done, one settles in the tank, and in the reactor the third is under way when its stirrer stops.
 */
const SITE = 'larkfield';
const ADA = 'Ada Brook';
const TOM = 'Tom Vale';
const MINUTE_MS = 60_000;
const HOUR_MS = 60 * MINUTE_MS;
const TANK_READ_EVERY_MS = 10_000;
/** When it begins. Any day would do; the same one makes the same pictures. */
const FIRST_MS = Date.UTC(2026, 4, 12, 7, 50);
const PLAN = {
  oil: { volumeL: 100, kind: 'used', titration: { mL: [2.4, 2.5, 2.4], titrant: 'KOH' }, waterPpm: 400 },
  methanol: { percentOfOilVolume: 22 },
  catalyst: { kind: 'KOH', purityPercent: 90 },
};

export interface Shed {
  httpPort: number;
  hashes: Record<Route['page'], string>;
  nowMs(): number;
  /** Lets it go on as fast as life, until told otherwise. */
  goOn(): () => Promise<void>;
  /** Nobody watches for so many minutes. */
  cutPower(minutes: number): Promise<void>;
  /** Has everybody sign in from now on; the cookie of one who did. */
  letIn(): Promise<{ name: string; value: string }>;
  end(): Promise<void>;
}

export async function openShed(): Promise<Shed> {
  const { data, remove } = dataFolder();
  const clock = new ManualClock(FIRST_MS);
  let daemon = await startHere({ data, clock, publicUrl: 'https://watch.larkfield.example' });
  let device = await connectDevice(daemon.mqttPort);
  let api = new Api(daemon.httpPort);
  const httpPort = daemon.httpPort;
  await device.publishAsync(readingTopic(SITE, 'r1', 'heater'), '0', { qos: 1 });
  await device.publishAsync(readingTopic(SITE, 'r1', 'liquid-temperature'), '23.8', { qos: 1 });
  await device.publishAsync(readingTopic(SITE, 'm1', 'stirrer-speed'), '0', { qos: 1 });
  await api.stateSite(SITE, { altitudeM: 20 });
  await api.call('PUT', `/api/v1/vessels/${SITE}:m1`, { role: 'methoxide' });
  await api.call('PUT', `/api/v1/vessels/${SITE}:t1`, { role: 'settling' });
  const lots = await fillStore(api);
  await earlierBatches(api);

  const story = async (
    scenario: ScenarioName,
    seed: number,
    batch: string,
    everyMs: number,
    until?: Stage,
  ) => {
    const settings = { seed, startMs: clock.wallMs(), readingEveryMs: everyMs };
    const items = run(seed === 1 ? SCENARIOS[scenario] : variant(scenario, seed), settings);
    await play(items, batch, (item) => item.kind === 'stage' && item.vessel === 'r1' && item.stage === until);
  };
  let isTankFull = false;
  let tankReadMs = 0;
  const readTank = (celsius: number) =>
    device.publishAsync(readingTopic(SITE, 't1', 'liquid-temperature'), celsius.toFixed(1), { qos: 1 });
  /** Plays until an item is the last wanted; each moment's readings are acknowledged before time goes on. */
  const play = async (items: Iterator<RunItem>, batch: string, isLast: (item: RunItem) => boolean) => {
    let underWay: Promise<unknown>[] = [];
    for (let next = items.next(); !next.done; next = items.next()) {
      const item = next.value;
      const aheadMs = dueMs(item) - clock.wallMs();
      if (aheadMs > 0) {
        await Promise.all(underWay);
        underWay = [];
        clock.advance(aheadMs);
      }
      if (isTankFull && clock.wallMs() - tankReadMs > TANK_READ_EVERY_MS) {
        tankReadMs = clock.wallMs();
        underWay.push(readTank(17.2));
      }
      if (item.kind === 'stage') await enter(api, batch, item.stage, item.vessel);
      else underWay.push(send(device, item));
      if (isLast(item)) break;
    }
    await Promise.all(underWay);
  };

  const past = await open(api, 'Canteen oil, first drum');
  await draw(api, past, lots);
  await story('ordinary-batch', 1, past, 20_000);
  for (const what of [
    { kind: 'drained', what: 'glycerol', litres: 13.5 },
    { kind: 'test', test: '3/27', dropoutMl: 0 },
    { kind: 'volume', what: 'fuel', litres: 96, atC: 18 },
    { kind: 'handed-out', use: 'used', litres: 40, to: 'the tractor' },
  ])
    await note(api, past, TOM, what);

  clock.advance(100 * MINUTE_MS);
  const settling = await open(api, 'Village hall fryer');
  await draw(api, settling, lots);
  await story('ordinary-batch', 3, settling, 20_000, 'settle');
  await api.call('POST', `/api/v1/batches/${settling}/move`, {
    from: 'r1',
    to: 't1',
    litres: 118,
    what: 'ester',
    by: TOM,
  });
  clock.advance(4 * MINUTE_MS);
  // Moving has stirred it up: what was settled begins anew.
  await enter(api, settling, 'settle', 't1', { again: true });
  const nextMorningMs = FIRST_MS + 2 * 24 * HOUR_MS;
  isTankFull = true;
  for (let celsius = 52; clock.wallMs() < nextMorningMs; celsius -= (celsius - 17) / 40) {
    await readTank(celsius);
    clock.advance(Math.min(5 * MINUTE_MS, nextMorningMs - clock.wallMs()));
  }

  const now = await open(api, 'Canteen oil, second drum');
  await draw(api, now, lots);
  for (const [what, kg] of [
    ['oil', 91.6],
    ['methanol', 17.4],
  ] as const)
    await note(api, now, ADA, { kind: 'weighing', what, kg });
  const items = run(SCENARIOS['stirrer-stops'], { seed: 1, startMs: clock.wallMs(), readingEveryMs: 2000 });
  let reactsSinceMs = Number.POSITIVE_INFINITY;
  await play(items, now, (item) => {
    if (item.kind === 'stage' && item.stage === 'react') reactsSinceMs = item.atMs;
    return dueMs(item) - reactsSinceMs > 31 * MINUTE_MS;
  });
  for (const [topic, payload] of [
    [`esterwatch/v1/reading/${SITE}/r1/liquid-temperature`, '54,8'],
    [`esterwatch/v1/reading/${SITE}/Reactor 1/liquid-temperature`, '55.1'],
    [`esterwatch/v1/reading/${SITE}/t1/liquid-temperature`, '{"value":21.4,"at":"yesterday"}'],
  ] as const)
    await device.publishAsync(topic, payload, { qos: 1 });
  const alarms = await api.alarms();
  for (const { id, standing, acknowledged } of alarms) {
    if (!standing && acknowledged === null)
      await api.call('POST', `/api/v1/alarms/${id}/acknowledge`, { by: ADA });
  }
  const [alarm] = alarms.filter((one) => one.alarm === 'mixing-stopped');
  if (alarm === undefined) throw new Error('the stirrer has not stopped');

  const link = await linkSentTo(api, ADA);

  const r1 = { site: SITE, vessel: 'r1' };
  return {
    httpPort,
    hashes: {
      overview: hrefOf('overview'),
      vessel: vesselHref(r1),
      wall: vesselHref(r1, 'wall'),
      history: vesselHref(r1, 'history'),
      oil: hrefOf('oil'),
      recipe: hrefOf('recipe'),
      batches: hrefOf('batches'),
      batch: idHref('batch', now),
      beside: besideHref(past, settling),
      stock: hrefOf('stock'),
      alarms: hrefOf('alarms'),
      alarm: idHref('alarm', alarm.id),
      answer: link.slice(link.indexOf('#')),
      'power-cut': hrefOf('power-cut'),
      'set-up': hrefOf('set-up'),
      people: hrefOf('people'),
      refused: hrefOf('refused'),
    },
    nowMs: () => clock.wallMs(),
    goOn() {
      let going = true;
      const gone = (async () => {
        let lastMs = performance.now();
        let next = items.next();
        while (going) {
          await wait(200);
          const nowMs = performance.now();
          clock.advance(Math.round(nowMs - lastMs));
          lastMs = nowMs;
          if (clock.wallMs() - tankReadMs > TANK_READ_EVERY_MS) {
            tankReadMs = clock.wallMs();
            await readTank(17.2);
          }
          while (!next.done && dueMs(next.value) <= clock.wallMs()) {
            if (next.value.kind !== 'stage') await send(device, next.value);
            next = items.next();
          }
        }
      })();
      return () => {
        going = false;
        return gone;
      };
    },
    async cutPower(minutes) {
      await device.endAsync();
      await daemon.close();
      clock.advance(minutes * MINUTE_MS);
      daemon = await startHere({ data, clock, http: { host: LOOPBACK, port: httpPort } });
      device = await connectDevice(daemon.mqttPort);
      api = new Api(httpPort);
      await api.ready();
      for (const [vessel, celsius] of [
        ['t1', 18.2],
        ['r1', 47.3],
        ['m1', 22.1],
      ] as const)
        await device.publishAsync(readingTopic(SITE, vessel, 'liquid-temperature'), String(celsius), {
          qos: 1,
        });
      await device.publishAsync(readingTopic(SITE, 'r1', 'stirrer-speed'), '0', { qos: 1 });
    },
    async letIn() {
      const [keeper, helper] = ['seven geese in a row', 'a kettle full of rain'];
      const put = (name: string, body: object, cookie = '') =>
        ask('PUT', `people/${encodeURIComponent(name)}`, body, cookie);
      const ask = async (method: string, path: string, body: object, cookie: string) => {
        const answer = await fetch(`http://${LOOPBACK}:${httpPort}/api/v1/${path}`, {
          method,
          headers: { 'content-type': 'application/json', cookie },
          body: JSON.stringify(body),
        });
        if (!answer.ok) throw new Error(`${method} ${path}: ${answer.status} ${await answer.text()}`);
        return answer;
      };
      await put(ADA, { rights: ['look', 'work', 'keep'], passphrase: keeper });
      const answer = await ask('POST', 'session', { name: ADA, passphrase: keeper }, '');
      const cookie = answer.headers.getSetCookie()[0]!.split(';')[0]!;
      await put(TOM, { rights: ['look', 'work'], passphrase: helper }, cookie);
      await ask('POST', 'tokens', { name: 'spreadsheet' }, cookie);
      const [name, value] = cookie.split('=');
      return { name: name!, value: value! };
    },
    async end() {
      await device.endAsync(true);
      await daemon.close();
      remove();
    },
  };
}

const connectDevice = (port: number | null): Promise<MqttClient> =>
  connectAsync(`mqtt://${LOOPBACK}:${port}`, { keepalive: 0 });

function send(device: MqttClient, item: Exclude<RunItem, { kind: 'stage' }>): Promise<unknown> {
  if (item.kind === 'presence') {
    const topic = `esterwatch/v1/presence/${SITE}/${item.device}`;
    return device.publishAsync(topic, item.presence, { qos: 1, retain: true });
  }
  if (item.kind === 'backlog') throw new Error('a device that kept readings is not played here');
  const { vessel, channel, value, atMs, seq } = item;
  const payload = JSON.stringify({ value, at: atMs, seq });
  return device.publishAsync(readingTopic(SITE, vessel, channel), payload, { qos: 1 });
}

async function open(api: Api, name: string, more: object = {}): Promise<string> {
  const body = { vessel: `${SITE}:r1`, name, by: ADA, plan: PLAN, ...more };
  return ((await (await api.call('POST', '/api/v1/batches', body)).json()) as { id: string }).id;
}

const note = (api: Api, batch: string, by: string, what: object, more: object = {}): Promise<unknown> =>
  api.call('POST', `/api/v1/batches/${batch}/entries`, { by, what, ...more });

/** Goes on as a careful person does: what is to be looked at is looked at. */
async function enter(
  api: Api,
  batch: string,
  stage: Stage,
  vessel: string,
  more: object = {},
): Promise<void> {
  const at = `${SITE}:${vessel}`;
  const { conditions } = await api.get<{ conditions: { what: string; kind: string; met: boolean | null }[] }>(
    `/api/v1/batches/${batch}/conditions?stage=${stage}&vessel=${at}`,
  );
  const seen = conditions.filter(({ kind }) => kind === 'seen').map(({ what }) => what);
  const isShort = conditions.some(({ kind, met }) => kind !== 'seen' && met !== true);
  await api.call('POST', `/api/v1/batches/${batch}/stage`, {
    stage,
    vessel: at,
    by: ADA,
    seen,
    ...more,
    ...(isShort && { anyway: { reason: 'the jar of this oil came out well' } }),
  });
}

interface Lots {
  oil: string;
  methanol: string;
  catalyst: string;
}

async function fillStore(api: Api): Promise<Lots> {
  const buy = async (lot: object) =>
    (
      (await (
        await api.call('POST', '/api/v1/lots', {
          site: SITE,
          by: TOM,
          at: FIRST_MS - 50 * 24 * HOUR_MS,
          ...lot,
        })
      ).json()) as { id: string }
    ).id;
  const titration = PLAN.oil.titration;
  await buy({
    kind: 'oil',
    name: 'Winter drums',
    from: 'The Swan',
    litres: 60,
    filtered: true,
    pricePerL: 0.25,
  });
  return {
    oil: await buy({
      kind: 'oil',
      name: 'Canteen, spring',
      from: 'School canteen',
      litres: 400,
      filtered: true,
      waterPpm: 400,
      titration,
      pricePerL: 0.3,
    }),
    methanol: await buy({
      kind: 'methanol',
      name: 'Blue drum',
      litres: 200,
      purityPercent: 99.9,
      pricePerL: 0.9,
    }),
    catalyst: await buy({
      kind: 'catalyst',
      name: 'Flakes',
      base: 'KOH',
      kg: 25,
      purityPercent: 90,
      pricePerKg: 3,
    }),
  };
}

async function draw(api: Api, batch: string, { oil, methanol, catalyst }: Lots): Promise<void> {
  for (const body of [
    { lot: oil, litres: 100 },
    { lot: methanol, litres: 22 },
    { lot: catalyst, kg: 1.1 },
  ])
    await api.call('POST', `/api/v1/batches/${batch}/draws`, { ...body, by: ADA });
}

/** Noted afterwards, as from a notebook. */
async function earlierBatches(api: Api): Promise<void> {
  for (const [daysAgo, name, litres, end] of [
    [44, 'The Swan, a jar', 1, 'finished'],
    [37, 'The Swan, winter drums', 58, 'finished'],
    [23, 'Fairground oil', 80, 'rejected'],
  ] as const) {
    const startMs = FIRST_MS - daysAgo * 24 * HOUR_MS;
    const batch = await open(api, name, {
      at: startMs,
      plan: { ...PLAN, oil: { ...PLAN.oil, volumeL: litres } },
    });
    const stages =
      end === 'rejected'
        ? ([
            ['warm', 0.2],
            [end, 2],
          ] as const)
        : ([
            ['warm', 0.2],
            ['dose', 2],
            ['react', 2.4],
            ['settle', 3.8],
            [end, 29],
          ] as const);
    for (const [stage, hours] of stages) {
      if (stage === 'settle')
        await note(
          api,
          batch,
          TOM,
          { kind: 'test', test: '3/27', dropoutMl: 0 },
          { at: startMs + 3.7 * HOUR_MS },
        );
      await api.call('POST', `/api/v1/batches/${batch}/stage`, {
        stage,
        by: TOM,
        at: startMs + hours * HOUR_MS,
        anyway: {
          reason: stage === 'rejected' ? 'water in it that would not settle' : 'written up from the notebook',
        },
      });
    }
    if (end === 'finished')
      await note(
        api,
        batch,
        TOM,
        { kind: 'volume', what: 'fuel', litres: litres * 0.95, atC: 15 },
        { at: startMs + 30 * HOUR_MS },
      );
  }
}

/** Has a person told of what stands, and gives the link that the message had. */
async function linkSentTo(api: Api, name: string): Promise<string> {
  const receiver = createServer().listen(0, LOOPBACK);
  await once(receiver, 'listening');
  const { port } = receiver.address() as AddressInfo;
  const received = once(receiver, 'request');
  const post = { url: `http://${LOOPBACK}:${port}/`, secret: 'only for the pictures' };
  await api.call('PUT', `/api/v1/reach/people/${encodeURIComponent(name)}`, { post });
  const [request, response] = await received;
  let body = '';
  for await (const chunk of request) body += String(chunk);
  response.writeHead(204).end();
  receiver.close();
  return (JSON.parse(body) as { answer: string }).answer;
}
