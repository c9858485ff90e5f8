import { mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { openStore } from '../../../daemon/store/open.ts';
import { StoreError } from '../../../daemon/store/store.ts';
import { answerSchema, messagesSchema, type Posted, postedSchema } from '../../../shared/wire/reach.ts';
import { Api, eventually } from '../../support/api.ts';
import { ManualClock } from '../../support/manual-clock.ts';
import { patiently } from '../../support/patiently.ts';
import { mailServer, type Receiver, receiver } from '../../support/receivers.ts';
import { dataFolder, serve } from '../../support/serving.ts';
import { expectProblem } from '../http/problem.ts';
import { type RunningDaemon, runDaemon } from '../running-daemon.ts';
import { temporaryDir } from '../store/fixture.ts';

const START_MS = Date.UTC(2026, 2, 2, 10);
const SECRET = 'a secret of the siren';
const PUBLIC = 'https://watch.example.org';

const postsOf = ({ received }: Receiver): Posted[] =>
  received.map(({ body }) => postedSchema.parse(JSON.parse(String(body))));
/** Those about boiling: silence and restarts have alarms of their own. */
const boilingOf = (receiver: Receiver): Posted[] =>
  postsOf(receiver).filter(({ alarms }) => alarms.some(({ alarm }) => alarm.startsWith('boiling-')));
const messagesOf = async (daemon: RunningDaemon) =>
  messagesSchema.strict().parse((await daemon.get('/api/v1/reach/messages')).json).messages;

/** A batch in `react`, at 60 °C; people each with a receiver of their own. */
async function reacting(
  people: { name: string; [wish: string]: unknown }[],
  options: Parameters<typeof runDaemon>[0] = {},
) {
  const clock = new ManualClock(START_MS);
  const daemon = await runDaemon({ clock, publicUrl: PUBLIC, ...options });
  const receivers: Receiver[] = [];
  for (const { name, ...wishes } of people) {
    const own = await receiver();
    receivers.push(own);
    const post = { url: own.url, secret: SECRET };
    const { status, text } = await daemon.send('PUT', `/api/v1/reach/people/${name}`, { post, ...wishes });
    expect(status, text).toBe(200);
  }
  await daemon.read('barn/r1/liquid-temperature', 60);
  await daemon.send('PUT', '/api/v1/sites/barn', { pressureHPa: 1013.25 });
  const { json: batch } = await daemon.send('POST', '/api/v1/batches', { vessel: 'barn:r1' });
  await daemon.send('POST', `/api/v1/batches/${batch.id}/stage`, { stage: 'react' });
  /** The liquid comes to a temperature a second later; 62.5 °C is near boiling, 64.5 °C is boiling. */
  const comesTo = async (temperatureC: number) => {
    clock.advance(1000);
    await daemon.read('barn/r1/liquid-temperature', temperatureC);
  };
  return { clock, daemon, receivers, comesTo };
}

test('an alarm is told with what happened, where, since when, the number and what to do', async () => {
  const { daemon, receivers, comesTo } = await reacting([{ name: 'Ada' }]);
  await comesTo(62.5);
  const [posted] = await patiently(() => {
    expect(postsOf(receivers[0]!)).toHaveLength(1);
    return postsOf(receivers[0]!);
  });
  const [alarm] = (await daemon.get('/api/v1/alarms?standing=true')).json.alarms;
  expect(posted).toMatchObject({
    kind: 'alarms',
    to: 'Ada',
    site: 'barn',
    priority: 'high',
    alarms: [{ id: alarm.id, alarm: 'boiling-near', vessel: 'r1', value: alarm.value, limit: alarm.limit }],
    answer: expect.stringMatching(`^${PUBLIC}/#/answer/`),
  });
  expect(posted!.short.length).toBeLessThan(300);
  for (const part of ['r1', 'barn', 'Turn the heat off'])
    for (const text of [posted!.short, posted!.text]) expect(text).toContain(part);
  expect(posted!.short).toContain('62.5 C');
  expect(posted!.text).toContain('62.5 °C');
  expect(posted!.text).toContain(posted!.answer);
  await patiently(async () =>
    expect(await messagesOf(daemon)).toMatchObject([
      { to: 'Ada', about: 'alarms', alarms: [alarm.id], tries: [{ way: 'post', result: 'delivered' }] },
    ]),
  );
});

test('an e-mail has it as well', async () => {
  const server = await mailServer();
  const { daemon, comesTo } = await reacting([]);
  const smtp = { host: '127.0.0.1', port: server.port, security: 'none', from: 'shed@example.org' };
  await daemon.send('PUT', '/api/v1/reach', { smtp });
  await daemon.send('PUT', '/api/v1/reach/people/Ada', { email: 'ada@example.org' });
  await comesTo(62.5);
  await patiently(() => expect(server.mails).toHaveLength(1));
  const [{ text, subject, id }] = server.mails as [(typeof server.mails)[0]];
  expect(subject).toContain('r1');
  expect(text).toContain('Turn the heat off');
  const [message] = await messagesOf(daemon);
  expect(id).toBe(`<${message!.id}@example.org>`);
});

test('a quiet line that failed, and has nothing to say any more when it is due again, is let go of', async () => {
  const { clock, daemon, receivers, comesTo } = await reacting([{ name: 'Ada' }]);
  const [siren] = receivers as [Receiver];
  siren.answers(500);
  const [{ id }] = (await daemon.get('/api/v1/batches')).json.batches;
  const goOn = (stage: string) =>
    daemon.send('POST', `/api/v1/batches/${id}/stage`, { stage, anyway: { reason: 'a test' } });
  await goOn('settle');
  for (let i = 0; i < 3; i++) await comesTo(25);
  const hour = new Date(clock.wallMs()).toTimeString().slice(0, 5);
  await daemon.send('PUT', '/api/v1/reach', { smtp: null, night: { from: hour, to: '00:00' } });
  const quiet = async () => (await messagesOf(daemon)).find(({ about }) => about === 'quiet')?.tries;
  await patiently(async () => expect(await quiet()).toHaveLength(1));
  await goOn('drain');
  clock.advance(5000);
  await patiently(async () =>
    expect(await quiet()).toMatchObject([{ result: 'failed' }, { result: 'gone' }]),
  );
  clock.advance(3_600_000);
  expect(await quiet()).toHaveLength(2);
});

test('tried again with growing pauses while the receiver fails, hangs and comes back: once, with one id', async () => {
  const { clock, daemon, receivers, comesTo } = await reacting([{ name: 'Ada' }]);
  const [siren] = receivers as [Receiver];
  siren.answers(500);
  const tries = async () => (await messagesOf(daemon)).at(-1)?.tries ?? [];
  await comesTo(62.5);
  await patiently(async () => expect(await tries()).toHaveLength(1));
  clock.advance(4999);
  expect(boilingOf(siren)).toHaveLength(1);
  clock.advance(1);
  await patiently(async () => expect(await tries()).toHaveLength(2));
  siren.answers('hang');
  clock.advance(15_000);
  await patiently(() => expect(boilingOf(siren)).toHaveLength(3));
  await patiently(async () => expect(await tries()).toHaveLength(3));
  siren.answers(204);
  clock.advance(45_000);
  await patiently(async () => expect(await tries()).toHaveLength(4));
  expect((await tries()).map(({ result, because }) => [result, because])).toEqual([
    ['failed', 'status 500'],
    ['failed', 'status 500'],
    ['failed', 'timeout'],
    ['delivered', null],
  ]);
  clock.advance(3_600_000);
  await daemon.get('/api/v1/health');
  expect(boilingOf(siren)).toHaveLength(4);
  expect(new Set(boilingOf(siren).map(({ id }) => id)).size).toBe(1);
}, 40_000);

test('the next person is told where nobody acknowledges, and nobody after somebody did', async () => {
  const { clock, daemon, receivers, comesTo } = await reacting([
    { name: 'Ada', least: 'critical' },
    { name: 'Ben', least: 'critical', order: 2 },
    { name: 'Cleo', least: 'critical', order: 3 },
  ]);
  const counts = () => receivers.map(({ received }) => received.length);
  await comesTo(62.5);
  await comesTo(64.5);
  await patiently(() => expect(counts()).toEqual([1, 0, 0]));
  clock.advance(179_000);
  await daemon.get('/api/v1/health');
  expect(counts()).toEqual([1, 0, 0]);
  clock.advance(1000);
  await patiently(() => expect(counts()[1]).toBe(1));
  for (const { id } of (await daemon.get('/api/v1/alarms?standing=true')).json.alarms)
    await daemon.send('POST', `/api/v1/alarms/${id}/acknowledge`, { by: 'Ben' });
  clock.advance(3_600_000);
  await daemon.get('/api/v1/health');
  expect(counts()).toEqual([1, 1, 0]);
});

test('what follows from an alarm is no message of its own; the message says that it is held back', async () => {
  const { clock, daemon, receivers } = await reacting([{ name: 'Ada' }]);
  const [siren] = receivers as [Receiver];
  await daemon.publish('esterwatch/v1/presence/barn/r1-probe', 'here');
  siren.answers(500);
  await daemon.publish('esterwatch/v1/presence/barn/r1-probe', 'gone');
  clock.advance(30_000);
  const held = (await daemon.get('/api/v1/alarms?standing=true')).json.alarms.filter(
    ({ explainedBy }: { explainedBy: string | null }) => explainedBy !== null,
  );
  expect(held).toMatchObject([{ alarm: 'reading-late', explainedBy: 'device-gone' }]);
  siren.answers(204);
  clock.advance(60_000);
  await patiently(() => expect(postsOf(siren).at(-1)!.heldBack).toMatchObject([{ alarm: 'reading-late' }]));
  expect(postsOf(siren).flatMap(({ alarms }) => alarms.map(({ alarm }) => alarm))).not.toContain(
    'reading-late',
  );
});

test('a disk that refuses holds no warning up, and all is noted when it takes it', async () => {
  let refuses = false;
  const { clock, daemon, receivers, comesTo } = await reacting([{ name: 'Ada' }], {
    openStore: async (data) => {
      const store = await openStore(data);
      return {
        ...store,
        write: (units) =>
          refuses ? Promise.reject(new StoreError('store-write-failed', 'full')) : store.write(units),
      };
    },
  });
  refuses = true;
  const heard = comesTo(62.5);
  await patiently(() => {
    clock.advance(100);
    expect(receivers[0]!.received).toHaveLength(1);
  });
  refuses = false;
  clock.advance(1000);
  await heard;
  await patiently(async () => expect((await messagesOf(daemon))[0]!.tries).toHaveLength(1));
  expect(receivers[0]!.received).toHaveLength(1);
});

describe('over a restart', () => {
  test('what was delivered is not told again, and what was not goes on at its time', async () => {
    const data = join(temporaryDir(), 'data');
    const { clock, daemon, receivers, comesTo } = await reacting([{ name: 'Ada' }, { name: 'Ben' }], {
      data,
    });
    receivers[1]!.answers(500);
    await comesTo(62.5);
    await patiently(async () =>
      expect((await messagesOf(daemon)).map(({ tries }) => tries.length)).toEqual([1, 1]),
    );
    await daemon.stop();
    receivers[1]!.answers(204);
    clock.advance(3000);
    const again = await runDaemon({ data, clock, publicUrl: PUBLIC });
    expect(receivers.map((one) => boilingOf(one).length)).toEqual([1, 1]);
    clock.advance(2500);
    await patiently(() => expect(boilingOf(receivers[1]!)).toHaveLength(2));
    expect(boilingOf(receivers[0]!)).toHaveLength(1);
    const [first, second] = boilingOf(receivers[1]!);
    expect(second!.id).toBe(first!.id);
    expect(second!.answer).toBe(first!.answer);
    await patiently(async () =>
      expect((await messagesOf(again)).find(({ id }) => id === first!.id)!.tries).toHaveLength(2),
    );
  });

  test('a daemon that is killed in the middle of its tries loses none and tells none twice', {
    timeout: 60_000,
  }, async () => {
    const { data, remove } = dataFolder();
    const [siren, phone] = [await receiver(), await receiver()];
    siren.answers('hang');
    let served = await serve({ data });
    let api = new Api(served.httpPort);
    await api.ready();
    await api.call('PUT', '/api/v1/reach/people/Ada', { post: { url: siren.url, secret: SECRET } });
    await api.call('PUT', '/api/v1/reach/people/Ben', { post: { url: phone.url, secret: SECRET } });
    await api.stateSite('barn', { pressureHPa: 1013.25 });
    await api.call('PUT', '/api/v1/vessels/barn:r1', { role: 'reactor' });
    const batch = await api.openBatch('barn:r1');
    await api.enter(batch, 'react');
    await api.call('POST', '/api/v1/vessels/r1/readings', { channel: 'liquid-temperature', value: 62.5 });
    await eventually(
      () => [siren.received.length, phone.received.length],
      ([a, b]) => a === 1 && b === 1,
    );
    // Ben's try is noted; Ada's is under way.
    type Said = { messages: { to: string; tries: object[] }[] };
    await eventually(
      () => api.get<Said>('/api/v1/reach/messages'),
      ({ messages }) => messages.some(({ to, tries }) => to === 'Ben' && tries.length === 1),
    );
    served.kill('SIGKILL');
    await served.ended;
    siren.answers(204);
    served = await serve({ data });
    api = new Api(served.httpPort);
    await eventually(
      () => api.get<Said>('/api/v1/reach/messages'),
      ({ messages }) => messages.some(({ to, tries }) => to === 'Ada' && tries.length === 1),
    );
    expect(boilingOf(phone)).toHaveLength(1);
    const ids = boilingOf(siren).map(({ id }) => id);
    expect(ids).toHaveLength(2);
    expect(new Set(ids).size).toBe(1);
    served.kill('SIGTERM');
    await served.ended;
    remove();
  });
});

describe('the link of a message', () => {
  async function sent(people = [{ name: 'Ada' }]) {
    const all = await reacting(people);
    await all.comesTo(62.5);
    await patiently(() => expect(all.receivers[0]!.received).toHaveLength(1));
    const link = postsOf(all.receivers[0]!)[0]!.answer!;
    return { ...all, path: `/api/v1/answers/${link.slice(link.lastIndexOf('/') + 1)}` };
  }

  test('shows what it is about and changes nothing until it is answered, once, by whom it was sent to', async () => {
    const { daemon, path } = await sent();
    const { json } = await daemon.get(path);
    expect(answerSchema.strict().parse(json)).toMatchObject({
      to: 'Ada',
      site: 'barn',
      state: 'open',
      alarms: [{ alarm: 'boiling-near', vessel: 'r1', todo: expect.stringContaining('heat off') }],
    });
    const standing = async () => (await daemon.get('/api/v1/alarms?standing=true')).json.alarms;
    expect(await standing()).toMatchObject([{ acknowledged: null }]);
    const answered = await daemon.send('POST', path, {});
    expect(answered.json).toMatchObject({ state: 'answered' });
    expect(await standing()).toMatchObject([{ acknowledged: { by: 'Ada' } }]);
    expectProblem(await daemon.send('POST', path, {}), 410, 'answer-ended');
    expect((await daemon.get(path)).json.state).toBe('answered');
    expect((await messagesOf(daemon))[0]!.answered).not.toBe(null);
  });

  test('ends with the alarm', async () => {
    const { daemon, path, comesTo } = await sent();
    await comesTo(60);
    expect((await daemon.get(path)).json).toMatchObject({ state: 'over', alarms: [] });
    expectProblem(await daemon.send('POST', path, {}), 410, 'answer-ended');
  });

  test('ends after 24 h', async () => {
    const { clock, daemon, path } = await sent();
    clock.setWallBy(24 * 3_600_000 - 1000);
    expect((await daemon.get(path)).json.state).toBe('open');
    clock.advance(2000);
    expectProblem(await daemon.send('POST', path, {}), 410, 'answer-ended');
  });

  test('cannot be guessed or changed', async () => {
    const { daemon, path } = await sent();
    const other = path.endsWith('A') ? 'B' : 'A';
    for (const wrong of [
      `${path.slice(0, -1)}${other}`,
      `${path}.`,
      path.slice(0, -1),
      path.replace(/\..*/, ''),
    ])
      for (const method of ['GET', 'POST'])
        expectProblem(await daemon.send(method, wrong, method === 'GET' ? '' : {}), 404, 'answer-unknown');
  });

  test('without an address of the page there is none, and the message says where to look', async () => {
    const { receivers, comesTo } = await reacting([{ name: 'Ada' }], { publicUrl: undefined });
    await comesTo(62.5);
    await patiently(() => expect(receivers[0]!.received).toHaveLength(1));
    const [posted] = postsOf(receivers[0]!);
    expect(posted).toMatchObject({ answer: null });
    expect(posted!.text).toContain('on the page');
  });
});

test('keys that cannot be read hold no warning up: it goes without its link', async () => {
  const data = join(temporaryDir(), 'data');
  mkdirSync(data);
  writeFileSync(join(data, 'reach-keys.json'), '{"half":');
  const { receivers, comesTo } = await reacting([], { data }).then(async (all) => {
    const siren = await receiver();
    writeFileSync(
      join(data, 'reach.json'),
      JSON.stringify({ people: [{ name: 'Ada', post: { url: siren.url, secret: SECRET } }] }),
    );
    await all.daemon.stop();
    const daemon = await runDaemon({ data, clock: all.clock, publicUrl: PUBLIC });
    const comesTo = async (temperatureC: number) => {
      all.clock.advance(1000);
      await daemon.read('barn/r1/liquid-temperature', temperatureC);
    };
    return { receivers: [siren], comesTo };
  });
  await comesTo(62.5);
  await patiently(() => expect(boilingOf(receivers[0]!)).toMatchObject([{ answer: null }]));
});

test('a file of wishes that is damaged is told of, kept, and keeps nobody from watching', async () => {
  const data = temporaryDir();
  writeFileSync(join(data, 'reach.json'), '{"people":[{"na');
  const daemon = await runDaemon({ data });
  const health = async () => (await daemon.get('/api/v1/health')).json;
  expect(await health()).toMatchObject({ ready: true, reach: { works: false } });
  const siren = await receiver();
  const post = { url: siren.url, secret: SECRET };
  expect((await daemon.send('PUT', '/api/v1/reach/people/Ada', { post })).status).toBe(200);
  expect(await health()).toMatchObject({ reach: { works: true } });
  expect(readFileSync(join(data, 'reach.json.damaged'), 'utf8')).toBe('{"people":[{"na');
});

test('health says that there are vessels of which nobody is told, and people who cannot be reached, and names none', async () => {
  const { daemon, receivers } = await reacting([
    { name: 'Ada', vessels: ['barn:nosuch'] },
    { name: 'Ben', vessels: ['barn:nosuch'] },
  ]);
  const reach = async () => (await daemon.get('/api/v1/health')).json.reach;
  expect(await reach()).toEqual({ works: false, because: 'vessels of which nobody is told: 1' });
  const wish = (name: string, i: number) =>
    daemon.send('PUT', `/api/v1/reach/people/${name}`, { post: { url: receivers[i]!.url, secret: SECRET } });
  await wish('Ada', 0);
  await wish('Ben', 1);
  expect(await reach()).toEqual({ works: true, because: null });
  receivers[1]!.answers(500);
  await daemon.send('POST', '/api/v1/reach/people/Ben/test', { way: 'post' });
  expect(await reach()).toEqual({
    works: true,
    because: 'people who cannot be reached: 1 of 2 (post: status 500)',
  });
});

describe('who works alone', () => {
  const alone = async (daemon: RunningDaemon) => (await daemon.get('/api/v1/alone')).json.alone;
  const begin = (daemon: RunningDaemon, more: object = {}) =>
    daemon.send('POST', '/api/v1/vessels/r1/alone', { tell: 'Ben', by: 'Eve', ...more });

  test('is asked every 15 min; no answer in 3 min is told at once, kept over a restart', async () => {
    const data = join(temporaryDir(), 'data');
    const { clock, daemon, receivers } = await reacting([{ name: 'Ben' }], { data });
    const [phone] = receivers as [Receiver];
    expect((await begin(daemon)).json).toMatchObject({
      by: 'Eve',
      tell: 'Ben',
      asks: '2026-03-02T10:15:00.000Z',
      tells: '2026-03-02T10:18:00.000Z',
      unanswered: false,
    });
    const unrelated = () => postsOf(phone).filter(({ kind }) => kind !== 'alone').length;
    clock.advance(16 * 60_000);
    await daemon.send('POST', '/api/v1/vessels/r1/alone/answer', { by: 'Eve' });
    expect(await alone(daemon)).toMatchObject([{ asks: '2026-03-02T10:31:00.000Z' }]);
    await daemon.stop();
    clock.advance(60_000);
    const again = await runDaemon({ data, clock, publicUrl: PUBLIC });
    expect(await alone(again)).toMatchObject([{ tells: '2026-03-02T10:34:00.000Z' }]);
    clock.advance(17 * 60_000 - 1);
    await again.get('/api/v1/health');
    expect(phone.received.length - unrelated()).toBe(0);
    clock.advance(1);
    const told = await patiently(() => {
      const found = postsOf(phone).filter(({ kind }) => kind === 'alone');
      expect(found).toHaveLength(1);
      return found[0]!;
    });
    expect(told).toMatchObject({ priority: 'critical', to: 'Ben', site: 'barn' });
    expect(told.short).toContain('Eve');
    expect(told.short.length).toBeLessThan(300);
    expect(await alone(again)).toMatchObject([{ unanswered: true }]);
    const path = `/api/v1/answers/${told.answer!.slice(told.answer!.lastIndexOf('/') + 1)}`;
    expect((await again.get(path)).json).toMatchObject({ about: 'alone', vessels: ['r1'], state: 'open' });
    expect((await again.send('POST', path, {})).json.state).toBe('answered');
    await again.send('POST', '/api/v1/vessels/r1/alone/answer', { by: 'Eve' });
    expect(await alone(again)).toMatchObject([{ unanswered: false }]);
    expect((await again.send('DELETE', '/api/v1/vessels/r1/alone', {})).status).toBe(204);
    expect(await alone(again)).toEqual([]);
  });

  test('of two who begin at once one does; nobody else answers for them, or ends it before it was told', async () => {
    const { clock, daemon } = await reacting([{ name: 'Ben' }]);
    const [one, other] = await Promise.all([begin(daemon), begin(daemon, { by: 'Cy' })]);
    expect([one, other].map(({ status }) => status).sort()).toEqual([200, 409]);
    const works: string = (await alone(daemon))[0].by;
    const stranger = { by: works === 'Eve' ? 'Cy' : 'Eve' };
    const path = '/api/v1/vessels/r1/alone';
    expectProblem(await daemon.send('POST', `${path}/answer`, stranger), 409, 'alone-other');
    const end = () => daemon.send('DELETE', `${path}?by=${stranger.by}`, undefined);
    expectProblem(await end(), 409, 'alone-other');
    clock.advance(19 * 60_000);
    await patiently(async () => expect(await alone(daemon)).toMatchObject([{ unanswered: true }]));
    expect((await end()).status).toBe(204);
  });

  test('where nobody does there is nothing to answer or to end', async () => {
    const { daemon } = await reacting([]);
    expectProblem(await begin(daemon), 409, 'way-missing');
    expect(await alone(daemon)).toEqual([]);
    for (const [method, path] of [
      ['POST', '/api/v1/vessels/r1/alone/answer'],
      ['DELETE', '/api/v1/vessels/r1/alone'],
    ] as const)
      expectProblem(await daemon.send(method, path, {}), 404, 'alone-unknown');
    expectProblem(await begin(daemon, { everyMinutes: 0 }), 400, 'body-invalid');
    expectProblem(await daemon.send('POST', '/api/v1/vessels/r1/alone', {}), 400, 'body-invalid');
  });
});
