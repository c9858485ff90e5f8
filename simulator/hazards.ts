import { type Alarm, type Expectation, headroomC, type TrueCourse, type TrueMoment } from './truth.ts';

/**
 * When hazards begin and when they are plain, from what really happens. A limit on a temperature is right to
 * tell from a little before it is crossed, for a probe scatters, and plain a little after, for it lags.
 */

/** How far a reading may be off, °C: noise, a step, and what tables of the boiling point differ by. */
const EARLY_C = 0.6;
const PLAIN_C = 0.4;
/** What a probe lags in stirred liquid, and in liquid at rest, s: three time constants. */
const LAG_S = 30;
const LAG_AT_REST_S = 75;
/** Boiling is not called near so long before, minutes. */
const AHEAD_AT_MOST = 12;
/** Seconds of warning that boiling must have. */
const AHEAD_S = 60;

interface LiquidHazard {
  vessel?: string;
  /** Minutes before which nothing counts. */
  after: number;
  atRest?: boolean;
}

/** The liquid comes nearer to boiling than so many °C. */
export const headroomUnder = (
  alarm: Alarm,
  marginC: number,
  { vessel = 'r1', after, atRest = false }: LiquidHazard,
): Expectation => ({
  alarm,
  vessel,
  from: (course) => course.first(after, (moment) => headroomC(moment, vessel) < marginC + EARLY_C),
  plainAt: (course) => course.first(after, (moment) => headroomC(moment, vessel) < marginC - PLAIN_C),
  withinSeconds: atRest ? LAG_AT_REST_S : LAG_S,
});

export const boilingNear = (hazard: LiquidHazard): Expectation => headroomUnder('boiling-near', 3, hazard);
export const boilingReached = (hazard: LiquidHazard): Expectation =>
  headroomUnder('boiling-reached', 0.5, hazard);

const boils = (course: TrueCourse, vessel: string, after: number): number =>
  course.first(after, (moment) => headroomC(moment, vessel) <= 0);

/** It will boil; a minute's warning is due. */
export const boilingAhead = ({ vessel = 'r1', after }: LiquidHazard): Expectation => ({
  alarm: 'boiling-ahead',
  vessel,
  from: (course) => Math.max(after, boils(course, vessel, after) - AHEAD_AT_MOST),
  plainAt: (course) => boils(course, vessel, after),
  withinSeconds: -AHEAD_S,
});

/** All that a liquid on its way to boiling calls for. */
export const goesToBoiling = (hazard: LiquidHazard): Expectation[] => [
  boilingAhead(hazard),
  boilingNear(hazard),
  boilingReached(hazard),
];

/** The liquid becomes hotter than it may. */
export const hotterThan = (
  alarm: Alarm,
  celsius: number,
  { vessel = 'r1', after, atRest = false }: LiquidHazard,
): Expectation => ({
  alarm,
  vessel,
  from: (course) => course.first(after, (moment) => moment.vessels[vessel]!.liquidC > celsius - EARLY_C),
  plainAt: (course) => course.first(after, (moment) => moment.vessels[vessel]!.liquidC > celsius + PLAIN_C),
  withinSeconds: atRest ? LAG_AT_REST_S : LAG_S,
});

/** A tenth of the lowest speed at which a stirrer mixes, 1/min. */
export const STIRRER_STOPPED = 20;

/** The drive has come to rest for so many seconds. */
export const mixingStopped = (
  after: number,
  { vessel = 'r1', underPerMin = STIRRER_STOPPED, seconds = 10 } = {},
): Expectation => ({
  alarm: 'mixing-stopped',
  vessel,
  from: (course) => course.first(after, ({ vessels }) => vessels[vessel]!.stirrerPerMin < underPerMin),
  withinSeconds: seconds,
});

/** A hazard that begins with a cue and is plain so many seconds after it. */
export const since = (
  alarm: Alarm,
  atMinutes: number,
  withinSeconds: number,
  vessel = 'r1',
): Expectation => ({
  alarm,
  vessel,
  from: atMinutes,
  withinSeconds,
});

/** No reading for the longer of 15 s and 5 intervals. */
export const silent = (atMinutes: number, everySeconds = 1, vessel = 'r1'): Expectation =>
  since('reading-late', atMinutes, Math.max(15, 5 * everySeconds), vessel);

/** Minutes at which the mean of the room's vapour over the minutes before first passes so many ppm. */
export const vapourMean = (course: TrueCourse, after: number, overMinutes: number, ppm: number): number => {
  const { moments } = course;
  let first = 0;
  let area = 0;
  for (let i = 1; i < moments.length; i++) {
    const moment = moments[i]!;
    area += vapourOver(moments[i - 1]!, moment);
    while (moment.minutes - moments[first]!.minutes > overMinutes) {
      area -= vapourOver(moments[first]!, moments[first + 1]!);
      first++;
    }
    const minutes = moment.minutes - moments[first]!.minutes;
    if (moment.minutes >= after && area > ppm * minutes) return moment.minutes;
  }
  throw new RangeError('what the story is about never happens');
};

const vapourOver = (from: TrueMoment, to: TrueMoment): number => from.vapourPpm * (to.minutes - from.minutes);
