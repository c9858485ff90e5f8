import { approach } from './approach.ts';

/** What moves the liquid: a stirrer's motor and shaft, or a pump that circulates it. */
export interface Mixer {
  /** Usual speed, 1/min. */
  ratedPerMin: number;
  /** Current at that speed in a warm mix, A. */
  ratedA: number;
  /** What a pump moves at that speed, L/min; null for a stirrer. */
  ratedLPerMin: number | null;
}

/**
 * What goes wrong with it. `uncoupled`: the magnets have let go, the motor turns and the liquid does not;
 * `jammed`: something holds the shaft, and the motor pulls against it; `air`: a pump draws air with the
 * liquid.
 */
export type MixerFault = 'uncoupled' | 'jammed' | 'air';

export interface MixerState {
  /** Of the drive, 1/min. */
  stirrerPerMin: number;
  /** Of what moves the liquid, 1/min. */
  movingPerMin: number;
}

/** Time constant with which the drive takes up speed or runs down, s. Chosen. */
const DRIVE_S = 1.5;
/** The same for liquid that nothing drives any more, and for a shaft that is jammed. Chosen. */
const LEFT_ALONE_S = 1;
const JAMMED_S = 0.2;
/** What is left of a pump's push with air in it. Chosen. */
const PUSH_WITH_AIR = 0.5;
/** A flow meter counts some of the air along. Chosen. */
const METERED_WITH_AIR = 0.93;

/** Parts of the current at usual speed: bearings and magnetisation, and the liquid's drag. Chosen. */
const IDLE = 0.3;
const DRAG = 0.7;
/** Current of a motor that does not turn: 2.5 to 7 times the usual, for small geared ones the least (memory). */
const LOCKED = 3;
/** Cold oil drags more, by this part for each °C under 50. Chosen; drag in turbulent flow is little thicker. */
const THICKER_PER_C = 0.006;

export function stepMixer(
  state: MixerState,
  controls: { stirPerMin: number; mixerFault: MixerFault | null },
  dtS: number,
): MixerState {
  const { stirPerMin, mixerFault } = controls;
  if (mixerFault === 'jammed') {
    const left = Math.exp(-dtS / JAMMED_S);
    return { stirrerPerMin: state.stirrerPerMin * left, movingPerMin: state.movingPerMin * left };
  }
  const stirrerPerMin = approach(state.stirrerPerMin, stirPerMin, dtS / DRIVE_S);
  if (mixerFault === 'uncoupled') {
    return { stirrerPerMin, movingPerMin: approach(state.movingPerMin, 0, dtS / LEFT_ALONE_S) };
  }
  return {
    stirrerPerMin,
    movingPerMin: mixerFault === 'air' ? stirrerPerMin * PUSH_WITH_AIR : stirrerPerMin,
  };
}

/** What the drive draws, A: nothing while it is switched off, more while it starts or is held. */
export function currentA(
  mixer: Mixer,
  state: MixerState,
  controls: { stirPerMin: number; mixerFault: MixerFault | null },
  liquidC: number,
): number {
  if (controls.stirPerMin === 0) return 0;
  const slip = Math.max(0, 1 - state.stirrerPerMin / controls.stirPerMin);
  const drag = (state.movingPerMin / mixer.ratedPerMin) ** 2 * (1 + THICKER_PER_C * (50 - liquidC));
  return mixer.ratedA * (IDLE + DRAG * drag + (LOCKED - IDLE) * slip);
}

/** What a pump's flow meter sees, L/min. */
export const flowLPerMin = (mixer: Mixer, state: MixerState, fault: MixerFault | null): number =>
  ((mixer.ratedLPerMin ?? 0) * state.stirrerPerMin * (fault === 'air' ? METERED_WITH_AIR : 1)) /
  mixer.ratedPerMin;
