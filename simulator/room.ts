/** The room that the vessels stand in, as far as methanol's vapour goes: one well-mixed volume. */
export interface RoomState {
  vapourPpm: number;
}

export interface RoomControls {
  /** Methanol that evaporates into it, g/min. */
  leakGPerMin: number;
  /** Times an hour that its air is changed. */
  airChangesPerHour: number;
}

/** A single garage. Chosen. */
const VOLUME_M3 = 60;
/** A mole of gas at 22 °C and sea level, m³, and methanol's molar mass, g/mol. */
const MOLAR_M3 = 0.0242;
const METHANOL_G_PER_MOL = 32.04;
/** ppm for each g in the room. */
const PPM_PER_G = (1e6 * MOLAR_M3) / METHANOL_G_PER_MOL / VOLUME_M3;

/** Doors shut, nothing open. Chosen. */
export const CLOSED_ROOM: RoomControls = { leakGPerMin: 0, airChangesPerHour: 2 };

export function stepRoom(state: RoomState, controls: RoomControls, dtS: number): RoomState {
  const minutes = dtS / 60;
  const change = (controls.airChangesPerHour / 60) * state.vapourPpm;
  return { vapourPpm: Math.max(0, state.vapourPpm + (controls.leakGPerMin * PPM_PER_G - change) * minutes) };
}

/** The leak that ends at so many ppm, g/min. */
export const leakFor = (ppm: number, airChangesPerHour: number): number =>
  (ppm * airChangesPerHour) / 60 / PPM_PER_G;
