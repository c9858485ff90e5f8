import { describe, expect, it } from 'vitest';
import { PUMP, STIRRER } from '../../simulator/gear.ts';
import { Link, ORDINARY_LINK, PERFECT_LINK } from '../../simulator/link.ts';
import { currentA, flowLPerMin, type MixerFault, type MixerState, stepMixer } from '../../simulator/mixer.ts';
import { TemperatureProbe } from '../../simulator/probe.ts';
import { seededRandom } from '../../simulator/random.ts';
import { CLOSED_ROOM, leakFor, type RoomControls, stepRoom } from '../../simulator/room.ts';
import { AT_REST, type Contents, filledVessel, insideHPa, stepVessel } from '../../simulator/vessel.ts';

describe('a stirrer or pump', () => {
  const running: MixerState = { stirrerPerMin: 300, movingPerMin: 300 };
  const later = (seconds: number, fault: MixerFault | null, stirPerMin = 300, from = running) => {
    let state = from;
    for (let s = 0; s < seconds; s++) state = stepMixer(state, { stirPerMin, mixerFault: fault }, 1);
    return { ...state, amps: currentA(STIRRER, state, { stirPerMin, mixerFault: fault }, 50) };
  };

  it('draws its usual current at its usual speed, more in cold oil, none when it is off', () => {
    expect(later(60, null).amps).toBeCloseTo(STIRRER.ratedA, 3);
    const on = { stirPerMin: 300, mixerFault: null };
    expect(currentA(STIRRER, running, on, 20)).toBeGreaterThan(STIRRER.ratedA * 1.05);
    expect(currentA(STIRRER, running, on, 20)).toBeLessThan(STIRRER.ratedA * 1.4);
    expect(later(60, null, 0).amps).toBe(0);
  });

  it('that lets go turns at speed over liquid at rest, and its current falls by more than 40 %', () => {
    const { stirrerPerMin, movingPerMin, amps } = later(10, 'uncoupled');
    expect(stirrerPerMin).toBeCloseTo(300, 3);
    expect(movingPerMin).toBeLessThan(1);
    expect(amps).toBeLessThan(0.6 * STIRRER.ratedA);
  });

  it('that jams stands, and draws more than one and a half times its usual current', () => {
    const { stirrerPerMin, amps } = later(2, 'jammed');
    expect(stirrerPerMin).toBeLessThan(1);
    expect(amps).toBeGreaterThan(1.5 * STIRRER.ratedA);
  });

  it('draws much while it starts, for seconds', () => {
    const still = { stirrerPerMin: 0, movingPerMin: 0 };
    expect(later(1, null, 300, still).amps).toBeGreaterThan(1.2 * STIRRER.ratedA);
    expect(later(10, null, 300, still).amps).toBeCloseTo(STIRRER.ratedA, 1);
  });

  it('with air in it moves less and draws less', () => {
    let state: MixerState = { stirrerPerMin: PUMP.ratedPerMin, movingPerMin: PUMP.ratedPerMin };
    const air = { stirPerMin: PUMP.ratedPerMin, mixerFault: 'air' as const };
    expect(flowLPerMin(PUMP, state, null)).toBeCloseTo(PUMP.ratedLPerMin!, 6);
    state = stepMixer(state, air, 1);
    expect(flowLPerMin(PUMP, state, 'air')).toBeLessThan(PUMP.ratedLPerMin! * 0.95);
    expect(currentA(PUMP, state, air, 50)).toBeLessThan(0.6 * PUMP.ratedA);
  });
});

describe('a room', () => {
  const later = (minutes: number, controls: RoomControls, vapourPpm = 0) => {
    let state = { vapourPpm };
    for (let s = 0; s < minutes * 60; s++) state = stepRoom(state, controls, 1);
    return state.vapourPpm;
  };

  it('comes to the vapour that a leak keeps up against its air, and is aired again', () => {
    expect(later(600, { leakGPerMin: leakFor(500, 2), airChangesPerHour: 2 })).toBeCloseTo(500, 0);
    // Half an hour at two changes an hour leaves 1/e.
    expect(later(30, CLOSED_ROOM, 500)).toBeCloseTo(500 / Math.E, 0);
  });

  it('holds 12.6 ppm for each gram that evaporates', () => {
    // 1 g of 32.04 g/mol at 24.2 L/mol in 60 m³.
    expect(later(1, { leakGPerMin: 1, airChangesPerHour: 0 })).toBeCloseTo(12.6, 1);
  });
});

describe('a vessel for recovery', () => {
  const air = { ambientC: 20, pressureHPa: 1013.25 };
  const fuel: Contents = { oilKg: 0, productKg: 88, methanolKg: 8, flakesKg: 0 };
  const equipment = {
    fullKg: 110,
    heaterW: 3000,
    elementKJPerK: 0.8,
    elementWPerK: 30,
    wallKJPerK: 12,
    wallWPerK: 300,
    lossWPerK: 7,
    thermostatBandC: 0.5,
    thermostatAt: 'liquid' as const,
  };
  const later = (minutes: number, controls: Partial<typeof AT_REST>, from = filledVessel(fuel, 60)) => {
    let state = from;
    for (let s = 0; s < minutes * 60; s++) {
      state = stepVessel(state, equipment, { ...AT_REST, stirPerMin: 300, ...controls }, air, 1);
    }
    return state;
  };

  it('is drawn down by its vacuum pump, and boils cold then', () => {
    // 36.5 °C at 300 hPa, from the Antoine constants of Poling, Prausnitz & O'Connell.
    const drawn = later(30, { underHPa: 713.25, setPointC: 60 });
    expect(insideHPa(drawn, air)).toBeCloseTo(300, 0);
    expect(drawn.methanolKg).toBeLessThan(6);
    const idle = later(30, { setPointC: 60 });
    expect(idle.methanolKg).toBeGreaterThan(7.5);
  });

  it('has cold condensate while the cooling water runs, and hot when it fails', () => {
    const boiling = later(20, { setPointC: 110, coolingWater: true });
    expect(boiling.condensateC).toBeGreaterThan(14);
    expect(boiling.condensateC).toBeLessThan(35);
    expect(later(5, { setPointC: 110, coolingWater: false }, boiling).condensateC).toBeGreaterThan(50);
  });

  it('is heated by a welded relay that nobody asks, and not by a dead element', () => {
    expect(later(10, { heaterFault: 'welded' })).toMatchObject({ heating: false });
    expect(later(10, { heaterFault: 'welded' }).liquidC).toBeGreaterThan(62);
    const dead = later(10, { heaterFault: 'dead', setPointC: 80 });
    expect(dead.heating).toBe(true);
    expect(dead.liquidC).toBeLessThan(60);
  });
});

describe('a probe that drifts', () => {
  it('reads a quarter of a degree less each minute, and right again when it is mended', () => {
    const probe = new TemperatureProbe(55, seededRandom(1, 'probe'));
    const place = { liquidC: 55, airC: 20, covered: true, moving: true };
    probe.fail('drift');
    for (let s = 0; s < 600; s++) probe.advance(place, 1);
    expect(probe.read()).toBeCloseTo(52.5, 0);
    probe.fail(null);
    probe.advance(place, 1);
    expect(probe.read()).toBeCloseTo(55, 0);
  });
});

describe('a link', () => {
  /** Delays of each reading of so many hours at one a second. */
  const day = (link: Link, hours = 24) =>
    Array.from({ length: hours * 3600 }, (_, s) => link.delays(s * 1000));

  it('that is perfect passes everything on at once', () => {
    expect(day(new Link(PERFECT_LINK, seededRandom(1, 'link')), 1).every(([delay]) => delay === 0)).toBe(
      true,
    );
  });

  it('that is ordinary never leaves a gap of 15 s', () => {
    for (const seed of [1, 2, 3]) {
      const lost = day(new Link({ ...ORDINARY_LINK, dropoutsPerHour: 6 }, seededRandom(seed, 'link')));
      let run = 0;
      let longest = 0;
      for (const delays of lost) {
        run = delays.length === 0 ? run + 1 : 0;
        longest = Math.max(longest, run);
      }
      expect(longest).toBeGreaterThan(5);
      expect(longest).toBeLessThan(14);
    }
  });

  it('sends as many late and twice as it says, never later than it says', () => {
    const quality = { ...PERFECT_LINK, lateShare: 0.1, mostLateS: 4, twiceShare: 0.05 };
    const sent = day(new Link(quality, seededRandom(1, 'link')), 3);
    const twice = sent.filter((delays) => delays.length === 2).length / sent.length;
    const late = sent.filter(([first]) => first! > 0).length / sent.length;
    expect(twice).toBeCloseTo(0.05, 2);
    expect(late).toBeCloseTo(0.1, 2);
    expect(Math.max(...sent.map(([first]) => first!))).toBeLessThanOrEqual(4000);
  });
});
