import type { MixingChannel } from '../wire/names.ts';
import { intervalMs, mixingRatio } from './channels.ts';
import type { DriveState, VesselState } from './state.ts';

/** What the drive of a mixing channel draws. */
export const driveCurrentChannel = (mixing: MixingChannel): 'stirrer-current' | 'pump-current' =>
  mixing === 'stirrer-speed' ? 'stirrer-current' : 'pump-current';

/** The settled current is the median of so long, and known once it covers the least, ms. */
const SETTLED_SPAN_MS = 5 * 60_000;
const SETTLED_LEAST_MS = 30_000;
/** No more readings than one in so many ms go into it. */
const STEP_MS = 5000;
/** A speed that differs by more than this share is another one. */
const SPEED_SHARE = 0.1;
/** Under this share of the settled current the load is gone … */
const LOST_SHARE = 0.6;
/** … when it has been so for so long, ms; over this share it is back. */
const LOST_AFTER_MS = 10_000;
const BACK_SHARE = 0.8;
/** A speed not heard of for more than so many intervals is not known. */
const KNOWN_INTERVALS = 3;

export const newDrive = (): DriveState => ({
  readings: [],
  speed: 0,
  settledA: null,
  low: null,
  lost: [],
});

/** Whether it turns and the liquid does not. */
export const isCouplingLost = ({ drive }: VesselState): boolean => drive.lost.at(-1)?.toMs === null;

/** Of a stretch of time, ms, what the coupling was lost for. */
export function lostMs({ drive }: VesselState, fromMs: number, toMs: number): number {
  let ms = 0;
  for (const lost of drive.lost) {
    ms += Math.max(0, Math.min(toMs, lost.toMs ?? toMs) - Math.max(fromMs, lost.fromMs));
  }
  return ms;
}

/** What is noted of a loss that is over before a time is of no use any more. */
export function forgetLost({ drive }: VesselState, beforeMs: number): void {
  drive.lost = drive.lost.filter(({ toMs }) => toMs === null || toMs > beforeMs);
}

/** The mixing is over, and with it what is in doubt or lost. */
export function endDoubt({ drive }: VesselState, atMs: number): void {
  drive.low = null;
  const lost = drive.lost.at(-1);
  if (lost?.toMs === null) lost.toMs = Math.max(lost.fromMs, atMs);
}

/** A reading of what the drive draws: what is usual at this speed, and whether it turns without its load. */
export function takeCurrent(vessel: VesselState, mixing: MixingChannel, atMs: number, amperes: number): void {
  const { drive } = vessel;
  const channel = vessel.channels[mixing]!;
  const speed = channel.sound!;
  if (Math.abs(atMs - speed.atMs) > KNOWN_INTERVALS * intervalMs(vessel, channel)) return;
  const lost = isCouplingLost(vessel);
  if (mixingRatio(vessel, mixing, speed.value) < 1) {
    if (!lost) drive.low = null;
    return;
  }
  if (lost) {
    if (amperes < BACK_SHARE * drive.settledA!) return;
    endDoubt(vessel, atMs);
  }
  if (isLow(drive, speed, atMs, amperes)) {
    drive.low ??= { sinceMs: atMs, atSpeed: false };
    drive.low.atSpeed ||= speed.atMs >= drive.low.sinceMs;
    if (drive.low.atSpeed && atMs - drive.low.sinceMs >= LOST_AFTER_MS) {
      drive.lost.push({ fromMs: drive.low.sinceMs, toMs: null });
    }
    return;
  }
  drive.low = null;
  settle(vessel, speed.value, atMs, amperes);
}

/** Whether it draws far too little for its speed, where it is known what is usual at this speed. */
function isLow(
  drive: DriveState,
  speed: { atMs: number; value: number },
  atMs: number,
  amperes: number,
): boolean {
  if (drive.settledA === null || amperes >= LOST_SHARE * drive.settledA) return false;
  // Once in doubt, what is usual stays what it was: a drive that loses its load may well change its speed.
  if (drive.low?.atSpeed) return true;
  // One that was slowed down draws less, too. The reading that says so may come after that of the current.
  if (speed.value < (1 - SPEED_SHARE) * drive.speed) return false;
  const fromMs = drive.readings.find(([t]) => atMs - t <= SETTLED_SPAN_MS)?.[0];
  return fromMs !== undefined && drive.readings.at(-1)![0] - fromMs >= SETTLED_LEAST_MS;
}

function settle({ drive }: VesselState, speed: number, atMs: number, amperes: number): void {
  if (Math.abs(speed - drive.speed) > SPEED_SHARE * drive.speed) {
    drive.readings = [];
    drive.speed = speed;
  }
  const newest = drive.readings.at(-1);
  if (newest !== undefined && atMs - newest[0] < STEP_MS) return;
  drive.readings.push([atMs, amperes]);
  while (atMs - drive.readings[0]![0] > SETTLED_SPAN_MS) drive.readings.shift();
  if (atMs - drive.readings[0]![0] < SETTLED_LEAST_MS) return;
  const sorted = drive.readings.map(([, reading]) => reading).toSorted((a, b) => a - b);
  const middle = sorted.length >> 1;
  drive.settledA = sorted.length % 2 ? sorted[middle]! : (sorted[middle - 1]! + sorted[middle]!) / 2;
}
