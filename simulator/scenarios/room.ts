import { batch, DEFAULT_CHANNELS } from '../batch.ts';
import type { Story } from '../gear.ts';
import { vapourMean } from '../hazards.ts';
import { leakFor } from '../room.ts';
import type { Expectation } from '../truth.ts';

/** Methanol in the air of the room. */

const AIR_CHANGES = 2;
const LEAK_AFTER = 10;

function leaks(
  description: string,
  ppm: number,
  minutes: number,
  expects: (leakAt: number) => Expectation,
): Story {
  return batch({
    description,
    reactMinutes: 66,
    settleHours: 24.2,
    channels: [...DEFAULT_CHANNELS, 'room-vapour'],
    endsAt: ({ react, shift }) => react + LEAK_AFTER + shift + minutes,
    events: ({ react, shift }) => [
      { atMinutes: react + LEAK_AFTER + shift, do: 'leak', gPerMin: leakFor(ppm, AIR_CHANGES) },
    ],
    truth: ({ react, shift }) => ({ expects: [expects(react + LEAK_AFTER + shift)], allows: [] }),
  });
}

export const ROOM = {
  'vapour-rises': leaks('a lid leaks: more than 200 ppm in the room, for long', 450, 45, (at) => ({
    alarm: 'vapour-high',
    vessel: 'r1',
    from: (course) => vapourMean(course, at, 15, 180),
    plainAt: (course) => vapourMean(course, at, 15, 210),
    withinSeconds: 15,
  })),
  'vapour-high': leaks('a can is open: more than 1,000 ppm in the room, for long', 2400, 45, (at) => ({
    alarm: 'vapour-high',
    vessel: 'r1',
    from: (course) => vapourMean(course, at, 15, 180),
    plainAt: (course) => vapourMean(course, at, 15, 1020),
    withinSeconds: 15,
    atLeast: 'high',
  })),
  'vapour-danger': leaks('methanol is spilt: more than 6,000 ppm within minutes', 30_000, 15, (at) => ({
    alarm: 'vapour-high',
    vessel: 'r1',
    from: (course) => vapourMean(course, at, 15, 180),
    plainAt: (course) => course.first(at, ({ vapourPpm }) => vapourPpm > 6100),
    withinSeconds: 10,
    atLeast: 'critical',
  })),
};
