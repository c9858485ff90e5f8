import { expect, test } from 'vitest';
import { twoDevices } from '../../../shared/rules/two-devices.ts';
import { at, end, every, type Line, liquid, ofAlarm, play, stage, vesselLine } from '../run.ts';

const senders = (seconds: number, ...names: string[]): Line => ({
  type: 'senders',
  at: at(seconds),
  vessel: 'r1',
  channel: 'liquid-temperature',
  senders: names,
});
const run = (...lines: (Line | Line[])[]) => play(vesselLine(), ...lines);
/** One device says 21 °C in every even second, another 54 °C in every odd one. */
const both = (from: number, to: number): Line[] =>
  every(from, to, 1, (seconds) => liquid(seconds, seconds % 2 === 0 ? 21 : 54));

test('where senders are not known, hops between two readings raise it once, and it stands on', () => {
  const played = run(both(0, 300), liquid(301, 21), end(1000));
  // The fourth hop, 0-1, 2-3, 4-5, 6-7; the last one at 299.
  expect(ofAlarm(played, 'two-devices')).toEqual(['7 raised medium', '419 cleared medium']);
  // Until it is known what it is, a jump is a jump; after that it is none of the probe's.
  const jumps = ofAlarm(played, 'probe-jump');
  expect(jumps.length).toBeGreaterThan(0);
  expect(jumps.map((line) => Number(line.split(' ')[0])).filter((seconds) => seconds > 7)).toEqual([]);
  expect(jumps.at(-1)).toContain('cleared');
});

test('the readings of one device may come twice as often, or two of each in a row', () => {
  const thirds = every(0, 30, 1, (seconds) => liquid(seconds, seconds % 3 === 0 ? 54 : 21));
  expect(ofAlarm(run(thirds), 'two-devices')).toHaveLength(1);
  const pairs = every(0, 30, 1, (seconds) => liquid(seconds, seconds % 4 < 2 ? 54 : 21));
  expect(ofAlarm(run(pairs), 'two-devices')).toHaveLength(1);
});

test('three hops, a loose plug that goes anywhere, or a probe that loses its power are no second device', () => {
  expect(ofAlarm(run(both(0, 6)), 'two-devices')).toEqual([]);
  const anywhere = [30, 44, 61, 12, 75, 39, 5, 68];
  const loose = every(0, 200, 1, (seconds) =>
    liquid(seconds, seconds % 5 === 0 ? anywhere[(seconds / 5) % anywhere.length]! : 21),
  );
  expect(ofAlarm(run(loose), 'two-devices')).toEqual([]);
  const power = every(0, 200, 1, (seconds) => liquid(seconds, seconds % 5 === 0 ? 85 : 21));
  expect(ofAlarm(run(power), 'two-devices')).toEqual([]);
});

test('hops that are two minutes apart are no hopping, unless the channel is so slow', () => {
  const seldom = every(0, 1000, 1, (seconds) => liquid(seconds, seconds % 125 === 60 ? 54 : 21));
  expect(ofAlarm(run(seldom), 'two-devices')).toEqual([]);
  const slow = every(0, 2400, 60, (seconds) => liquid(seconds, seconds % 180 === 0 ? 21 : 54));
  expect(ofAlarm(run(slow), 'two-devices')).toHaveLength(1);
});

test('where senders are known it stands while they send together, whatever they say, and names them', () => {
  const same = every(0, 60, 1, (seconds) => liquid(seconds, 21));
  const played = run(
    same,
    senders(61, 'device kettle', 'device still'),
    liquid(62, 21),
    senders(400, 'device still'),
    end(500),
  );
  expect(ofAlarm(played, 'two-devices')).toEqual(['61 raised medium', '400 cleared medium']);
  const { because } = played.alarmLines.find(({ alarm }) => alarm === 'two-devices')!;
  expect(because).toContain('device kettle and device still');
});

test('it ends when both are over: what is known of the senders, and the hopping', () => {
  const known = [senders(20, 'a', 'b'), ...both(21, 60), senders(61), end(1000)];
  expect(ofAlarm(run(both(0, 20), ...known), 'two-devices')).toEqual([
    '7 raised medium',
    '179 cleared medium',
  ]);
});

test('only of temperatures it says to go by the warmer, and only of the liquid’s what a second one is called', () => {
  const todo = (...channels: string[]) =>
    twoDevices.describe(
      { channel: channels.join(' and '), senders: 'a and b', lowC: null, highC: null, methanol: true },
      'C',
    ).todo;
  expect(todo('liquid-temperature')).toMatch(/go by the warmer.*liquid-temperature-2/);
  expect(todo('condensate-temperature')).toMatch(/go by the warmer/);
  for (const channel of ['stirrer-speed', 'pump-flow', 'ambient-pressure', 'room-vapour', 'own-channel']) {
    expect(todo(channel)).toMatch(/measure another way.*another channel/);
    expect(todo(channel)).not.toMatch(/warmer|liquid-temperature/);
  }
  expect(todo('liquid-temperature', 'stirrer-speed')).not.toMatch(/warmer/);
});

test('with methanol in the vessel it is a warning, and becomes one when methanol comes', () => {
  expect(ofAlarm(run(stage(0, 'react'), senders(1, 'a', 'b')), 'two-devices')).toEqual(['1 raised high']);
  expect(ofAlarm(run(senders(1, 'a', 'b'), stage(9, 'dose')), 'two-devices')).toEqual([
    '1 raised medium',
    '9 raised high',
  ]);
});
