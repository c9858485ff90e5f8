import { once } from 'node:events';
import { expect, test } from 'vitest';
import type { LiveMessage } from '../../../shared/wire/api.ts';
import { ManualClock } from '../../support/manual-clock.ts';
import { receiver } from '../../support/receivers.ts';
import { isThorough } from '../../support/thorough.ts';
import { runDaemon } from '../running-daemon.ts';

const START_MS = Date.UTC(2026, 2, 2, 10);

const isOf =
  <Type extends LiveMessage['type']>(type: Type) =>
  (message: LiveMessage): message is Extract<LiveMessage, { type: Type }> =>
    message.type === type;

test('who looks on has a beat at once, and the picture of every vessel', async () => {
  const daemon = await runDaemon({ clock: new ManualClock(START_MS) });
  await daemon.read('barn/r1/liquid-temperature', 54);
  const viewer = await daemon.look();
  expect(viewer.messages[0]).toEqual({ type: 'beat', at: '2026-03-02T10:00:00.000Z', speed: 1 });
  expect(await viewer.until(isOf('estimate'))).toMatchObject({ site: 'barn', vessel: 'r1', liquidC: 54 });
});

test('the beat says that nobody can be told, and no more once somebody can', async () => {
  const clock = new ManualClock(START_MS);
  const daemon = await runDaemon({ clock });
  const viewer = await daemon.look();
  const beatAfter = async (ms: number) => {
    const at = new Date(clock.wallMs() + ms).toISOString();
    clock.advance(ms);
    return viewer.until(
      (message): message is Extract<LiveMessage, { type: 'beat' }> =>
        message.type === 'beat' && message.at === at,
    );
  };
  expect(await beatAfter(2000)).not.toHaveProperty('unreached');
  await daemon.send('PUT', '/api/v1/reach/people/Ada', {});
  const { because } = (await daemon.get('/api/v1/health')).json.reach;
  expect(because).toEqual(expect.any(String));
  expect(await beatAfter(2000)).toMatchObject({ unreached: because });
  // Who comes now is told at once.
  expect((await daemon.look()).messages[0]).toMatchObject({ type: 'beat', unreached: because });
  const siren = await receiver();
  const post = { url: siren.url, secret: 'a secret of the siren' };
  await daemon.send('PUT', '/api/v1/reach/people/Ada', { post });
  expect(await beatAfter(2000)).not.toHaveProperty('unreached');
  siren.answers(500);
  await daemon.send('POST', '/api/v1/reach/people/Ada/test', { way: 'post' });
  expect(await beatAfter(2000)).toMatchObject({ unreached: expect.stringContaining('500') });
});

test('the beat goes on', async () => {
  const clock = new ManualClock(START_MS);
  const daemon = await runDaemon({ clock });
  const { until } = await daemon.look();
  clock.advance(5000);
  await until(
    (message): message is LiveMessage => message.type === 'beat' && message.at === '2026-03-02T10:00:04.000Z',
  );
});

test('readings are gathered, for a quarter of a second at most', async () => {
  const clock = new ManualClock(START_MS);
  const daemon = await runDaemon({ clock });
  await daemon.read('barn/r1/liquid-temperature', 20);
  const viewer = await daemon.look();
  await daemon.read('barn/r1/liquid-temperature', 21, 22);
  await daemon.read('barn/r1/stirrer-speed', 300);
  await daemon.read('barn/m1/liquid-temperature', -127);
  expect(viewer.messages.filter(isOf('readings'))).toEqual([]);
  clock.advance(250);
  const { readings } = await viewer.until(isOf('readings'));
  expect(readings).toMatchObject([
    { site: 'barn', vessel: 'r1', channel: 'liquid-temperature', value: 21, sound: true },
    { site: 'barn', vessel: 'r1', channel: 'liquid-temperature', value: 22, sound: true },
    { site: 'barn', vessel: 'r1', channel: 'stirrer-speed', value: 300, sound: true },
    { site: 'barn', vessel: 'm1', channel: 'liquid-temperature', value: -127, sound: false },
  ]);
});

/** Devices that were away send what they kept, so many readings a channel, the newest `newestMs` after the start. */
const kept = (count: number, newestMs: number, firstValue: number) =>
  JSON.stringify(
    Array.from({ length: count }, (_, i) => ({
      value: firstValue + i / 1000,
      at: START_MS + newestMs - (count - 1 - i) * 10,
      seq: i,
    })),
  );

test('of two thousand readings in one gathering all go out', async () => {
  const clock = new ManualClock(START_MS);
  const daemon = await runDaemon({ clock });
  const viewer = await daemon.look();
  await daemon.publish('esterwatch/v1/reading/barn/r1/lamp', kept(1000, 0, 20));
  await daemon.publish('esterwatch/v1/reading/barn/r2/lamp', kept(1000, 0, 30));
  clock.advance(250);
  expect((await viewer.until(isOf('readings'))).readings).toHaveLength(2000);
});

test('of more than two thousand only the newest of each channel: by its time, whatever came last', async () => {
  const clock = new ManualClock(START_MS);
  const daemon = await runDaemon({ clock });
  const viewer = await daemon.look();
  // What a device measures now comes before what it kept while it was away.
  await daemon.publish(
    'esterwatch/v1/reading/barn/r1/lamp',
    JSON.stringify({ value: 7, at: START_MS, seq: 5000 }),
    kept(1000, -5000, 20),
  );
  await daemon.publish('esterwatch/v1/reading/barn/r1/fan', kept(999, -1000, 30));
  await daemon.publish('esterwatch/v1/reading/barn/r2/lamp', JSON.stringify({ value: 8, at: START_MS - 1 }));
  clock.advance(250);
  const { readings } = await viewer.until(isOf('readings'));
  expect(readings).toEqual([
    { site: 'barn', vessel: 'r1', channel: 'lamp', at: '2026-03-02T10:00:00.000Z', value: 7, sound: true },
    {
      site: 'barn',
      vessel: 'r1',
      channel: 'fan',
      at: '2026-03-02T09:59:59.000Z',
      value: 30.998,
      sound: true,
    },
    { site: 'barn', vessel: 'r2', channel: 'lamp', at: '2026-03-02T09:59:59.999Z', value: 8, sound: true },
  ]);
  // The next gathering is told whole again.
  await daemon.read('barn/r1/lamp', 9);
  clock.advance(250);
  await viewer.until(
    (message): message is LiveMessage => message.type === 'readings' && message.readings[0]?.value === 9,
  );
});

test('in real time too: committed to seen within 250 ms of gathering', async () => {
  const daemon = await runDaemon();
  await daemon.read('barn/r1/liquid-temperature', 20);
  const viewer = await daemon.look();
  const startMs = performance.now();
  await daemon.read('barn/r1/liquid-temperature', 21);
  await viewer.until(isOf('readings'));
  // The gathering itself, and as much again for a busy machine.
  expect(performance.now() - startMs).toBeLessThan(500);
});

test('stages, estimates and alarms are sent at once, without any time going by', async () => {
  const clock = new ManualClock(START_MS);
  const daemon = await runDaemon({ clock });
  await daemon.read('barn/r1/liquid-temperature', 60);
  await daemon.send('PUT', '/api/v1/sites/barn', { pressureHPa: 1013.25 });
  const { json: batch } = await daemon.send('POST', '/api/v1/batches', { vessel: 'barn:r1' });
  const viewer = await daemon.look();

  await daemon.send('POST', `/api/v1/batches/${batch.id}/stage`, { stage: 'react' });
  expect(await viewer.until(isOf('stage'))).toEqual({
    type: 'stage',
    at: '2026-03-02T10:00:00.000Z',
    site: 'barn',
    vessel: 'r1',
    stage: 'react',
    batch: batch.id,
  });
  await viewer.until(
    (message): message is LiveMessage => message.type === 'estimate' && message.stage === 'react',
  );

  await daemon.publish(
    'esterwatch/v1/reading/barn/r1/liquid-temperature',
    JSON.stringify({ value: 62.5, at: START_MS + 500 }),
  );
  const raised = await viewer.until(isOf('alarm'));
  expect(raised).toMatchObject({
    at: '2026-03-02T10:00:00.500Z',
    site: 'barn',
    vessel: 'r1',
    alarm: 'boiling-near',
    event: 'raised',
    priority: 'high',
    late: false,
  });
  const { json } = await daemon.get('/api/v1/alarms?standing=true');
  expect(json.alarms).toMatchObject([{ id: raised.id, because: raised.because, todo: raised.todo }]);
  await viewer.until(
    (message): message is LiveMessage => message.type === 'estimate' && message.alarms.length === 1,
  );

  await daemon.publish(
    'esterwatch/v1/reading/barn/r1/liquid-temperature',
    JSON.stringify({ value: 60, at: START_MS + 1000 }),
  );
  await viewer.until(
    (message): message is LiveMessage =>
      message.type === 'alarm' && message.event === 'cleared' && message.id === raised.id,
  );
});

test('the figures of many vessels come spread over a second, those of one with an alarm at once', async () => {
  const clock = new ManualClock(START_MS);
  const daemon = await runDaemon({ clock });
  const vessels = Array.from({ length: 40 }, (_, i) => `v${i}`);
  for (const vessel of vessels) await daemon.read(`barn/${vessel}/liquid-temperature`, 20);
  const viewer = await daemon.look();
  const figuresOf = (value: number) =>
    viewer.messages
      .filter(isOf('estimate'))
      .filter(({ liquidC }) => liquidC === value)
      .map(({ vessel }) => vessel);
  for (const vessel of vessels) await daemon.read(`barn/${vessel}/liquid-temperature`, 21);
  clock.advance(1000);
  await daemon.read('barn/v39/liquid-temperature', -127);
  await viewer.until(isOf('alarm'));
  await viewer.until(
    (message): message is LiveMessage => message.type === 'estimate' && message.alarms.length === 1,
  );
  expect(figuresOf(21).length).toBeLessThan(20);
  clock.advance(950);
  await viewer.until(
    (message): message is LiveMessage =>
      message.type === 'estimate' && message.vessel === 'v38' && message.liquidC === 21,
  );
  expect(figuresOf(21).filter((vessel) => vessel !== 'v39')).toEqual(vessels.slice(0, 39));
});

// Five hundred live sockets in one process take seconds.
test.runIf(isThorough)(
  'more figures than can be told in a second are told the longest waiting first',
  async () => {
    const clock = new ManualClock(START_MS);
    const daemon = await runDaemon({ clock });
    const vessels = Array.from({ length: 25 }, (_, i) => `v${i}`);
    for (const vessel of vessels) await daemon.read(`barn/${vessel}/liquid-temperature`, 20);
    for (let i = 0; i < 500; i++) await daemon.look();
    const viewer = await daemon.look();
    const seen = () =>
      viewer.messages
        .filter(isOf('estimate'))
        .filter(({ liquidC }) => liquidC !== 20)
        .map(({ vessel }) => vessel);
    // One vessel a part: 20 a second; all change each second.
    for (let second = 1; second <= 4; second++) {
      for (const vessel of vessels) await daemon.read(`barn/${vessel}/liquid-temperature`, 20 + second);
      clock.advance(1000);
    }
    await viewer.until(
      (message): message is LiveMessage =>
        message.type === 'estimate' && message.vessel === 'v24' && message.liquidC !== 20,
    );
    expect(seen().slice(0, 25)).toEqual(vessels);
  },
);

test('several look on, and each sees the same', async () => {
  const clock = new ManualClock(START_MS);
  const daemon = await runDaemon({ clock });
  const viewers = [await daemon.look(), await daemon.look(), await daemon.look()];
  expect((await daemon.get('/metrics')).text).toContain('\nesterwatch_viewers 3\n');
  await daemon.read('barn/r1/liquid-temperature', 21);
  clock.advance(250);
  const seen = await Promise.all(viewers.map(({ until }) => until(isOf('readings'))));
  expect(seen[1]).toEqual(seen[0]);
  expect(seen[2]).toEqual(seen[0]);
});

test('what a viewer sends is passed over, and too much of it ends the link', async () => {
  const daemon = await runDaemon();
  const viewer = await daemon.look();
  viewer.socket.send('hello');
  viewer.socket.send('{"type":"alarm","__proto__":{}}');
  viewer.socket.send(Buffer.from([0xff, 0xfe]));
  await daemon.read('barn/r1/liquid-temperature', 21);
  await viewer.until(isOf('readings'));
  const closed = once(viewer.socket, 'close');
  viewer.socket.send('x'.repeat(100_000));
  await closed;
  expect((await daemon.get('/api/v1/health')).status).toBe(200);
});

test('a stop tells who looks on that it goes', async () => {
  const daemon = await runDaemon();
  const viewer = await daemon.look();
  const closed = once(viewer.socket, 'close');
  const stopping = daemon.stop();
  expect((await closed)[0]).toBe(1001);
  await stopping;
});
