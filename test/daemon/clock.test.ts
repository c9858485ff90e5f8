import { expect, test } from 'vitest';
import { ArrivalClock, every, machineClock } from '../../daemon/clock.ts';
import { ManualClock } from '../support/manual-clock.ts';
import { runDaemon } from './running-daemon.ts';

const START_MS = Date.UTC(2026, 2, 2, 10);
const HOUR_MS = 3_600_000;

test('arrivals go on with the monotonic clock', () => {
  const clock = new ManualClock(START_MS);
  const arrivals = new ArrivalClock(clock);
  clock.advance(1500);
  expect(arrivals.nowMs()).toBe(START_MS + 1500);
  expect(arrivals.steps).toEqual({ count: 0, lastMs: null });
});

test('a wall clock that is nudged moves no arrival, back least of all', () => {
  const clock = new ManualClock(START_MS);
  const arrivals = new ArrivalClock(clock);
  clock.advance(1000);
  clock.setWallBy(-1900);
  expect(arrivals.nowMs()).toBe(START_MS + 1000);
  clock.advance(10);
  clock.setWallBy(3800);
  expect(arrivals.nowMs()).toBe(START_MS + 1010);
  expect(arrivals.steps.count).toBe(0);
});

test.for([HOUR_MS, -HOUR_MS])(
  'a step of %i ms is followed, and told before the first stamp after it',
  (stepMs) => {
    const clock = new ManualClock(START_MS);
    const arrivals = new ArrivalClock(clock);
    const told: number[] = [];
    arrivals.onStep = (ms) => told.push(ms);
    clock.advance(1000);
    clock.setWallBy(stepMs);
    expect(arrivals.nowMs()).toBe(START_MS + 1000 + stepMs);
    expect(told).toEqual([stepMs]);
    clock.advance(5);
    expect(arrivals.nowMs()).toBe(START_MS + 1005 + stepMs);
    expect(told).toHaveLength(1);
    expect(arrivals.steps).toEqual({ count: 1, lastMs: stepMs });
  },
);

test('a timer comes again until it is cancelled', () => {
  const clock = new ManualClock(START_MS);
  let calls = 0;
  const timer = every(clock, 500, () => calls++);
  clock.advance(1600);
  expect(calls).toBe(3);
  timer.cancel();
  clock.advance(5000);
  expect(calls).toBe(3);
  expect(clock.pendingTimers).toBe(0);
});

test('the machine’s clock runs as many times as fast as told', async () => {
  const clock = machineClock(60);
  const look = () => ({
    before: performance.now(),
    monotonic: clock.monotonicMs(),
    wall: clock.wallMs(),
    after: performance.now(),
  });
  const first = look();
  await new Promise<void>((resolve) => clock.after(3000, resolve));
  const second = look();
  const least = (second.before - first.after) * 60;
  const most = (second.after - first.before) * 60;
  // Node's timers may come up to 1 ms early.
  expect(least).toBeGreaterThan(49 * 60);
  for (const passed of [second.monotonic - first.monotonic, second.wall - first.wall]) {
    expect(passed).toBeGreaterThanOrEqual(least - 1e-3);
    expect(passed).toBeLessThanOrEqual(most + 1e-3);
  }
});

test.for([
  { way: 'forward', stepMs: HOUR_MS },
  { way: 'back', stepMs: -HOUR_MS },
])('the wall clock set an hour $way makes no fresh reading old', async ({ stepMs }) => {
  const clock = new ManualClock(START_MS);
  const daemon = await runDaemon({ clock });
  await daemon.read('barn/r1/liquid-temperature', 20);
  await daemon.send('PUT', '/api/v1/sites/barn', { altitudeM: 340 });
  const { json: batch } = await daemon.send('POST', '/api/v1/batches', { vessel: 'barn:r1' });
  await daemon.send('POST', `/api/v1/batches/${batch.id}/stage`, { stage: 'warm' });

  const readEverySecond = async (times: number) => {
    for (let i = 0; i < times; i++) {
      clock.advance(1000);
      await daemon.read('barn/r1/liquid-temperature', 20 + i / 100);
    }
  };
  await readEverySecond(5);
  clock.setWallBy(stepMs);
  await readEverySecond(5);

  const { json: vessel } = await daemon.get('/api/v1/vessels/r1');
  expect(vessel.alarms).toEqual([]);
  const newest = vessel.readings['liquid-temperature'];
  expect(newest.ageMs).toBeLessThanOrEqual(1000);
  expect(newest.value).toBe(20.04);
  expect(Date.parse(newest.at)).toBe(clock.wallMs());
  const { json: history } = await daemon.get('/api/v1/alarms');
  expect(history.alarms).toEqual([]);
  const { json: health } = await daemon.get('/api/v1/health');
  expect(health.clock).toMatchObject({ steps: 1, lastStepMs: stepMs });

  // Real silence is still told after it.
  clock.advance(20_000);
  const { json: silent } = await daemon.get('/api/v1/vessels/r1');
  expect(silent.alarms).toMatchObject([{ alarm: 'reading-late' }]);
});
