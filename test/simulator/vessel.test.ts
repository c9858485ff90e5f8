import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  AT_REST,
  type Contents,
  type Controls,
  drawOff,
  type Equipment,
  filledVessel,
  liquidKg,
  pourIn,
  pureBoilingC,
  stepVessel,
  type VesselState,
} from '../../simulator/vessel.ts';

const EQUIPMENT: Equipment = {
  fullKg: 100,
  heaterW: 3000,
  elementKJPerK: 0.8,
  elementWPerK: 30,
  wallKJPerK: 12,
  wallWPerK: 300,
  lossWPerK: 7,
  thermostatBandC: 0.5,
  thermostatAt: 'liquid',
};
const AIR = { ambientC: 20, pressureHPa: 1013.25 };
const OFF: Controls = AT_REST;
const oil = (kg: number): Contents => ({ oilKg: kg, productKg: 0, methanolKg: 0, flakesKg: 0 });

function later(seconds: number, state: VesselState, controls: Controls, equipment = EQUIPMENT): VesselState {
  let next = state;
  for (let s = 0; s < seconds; s++) next = stepVessel(next, equipment, controls, AIR, 1);
  return next;
}

describe('heat', () => {
  it('without heater and reaction only falls, and ends at the temperature of the room', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 25, max: 90, noNaN: true }),
        fc.double({ min: 5, max: 100, noNaN: true }),
        fc.integer({ min: 0, max: 400 }),
        (startC, kg, stirPerMin) => {
          let state = filledVessel(oil(kg), startC);
          for (let hour = 0; hour < 100; hour++) {
            const next = later(3600, state, { ...OFF, stirPerMin });
            // Within rounding of the room's temperature it can stand still.
            expect(next.liquidC < state.liquidC || state.liquidC - AIR.ambientC < 1e-6).toBe(true);
            expect(next.liquidC).toBeGreaterThan(AIR.ambientC - 1e-6);
            state = next;
          }
          expect(state.liquidC).toBeCloseTo(AIR.ambientC, 1);
        },
      ),
      { numRuns: 10 },
    );
  });

  it('stays where it is with everything off at the temperature of the room', () => {
    const start = filledVessel({ oilKg: 0, productKg: 80, methanolKg: 10, flakesKg: 0 }, AIR.ambientC);
    expect(later(86_400, start, OFF)).toEqual(start);
  });

  it('keeps what the heater gives where nothing is lost', () => {
    const sealed = { ...EQUIPMENT, lossWPerK: 0 };
    const heating = { ...OFF, setPointC: 200, stirPerMin: 300 };
    const heated = later(1800, filledVessel(oil(100), 20), heating, sealed);
    const evened = later(1800, heated, { ...OFF, stirPerMin: 300 }, sealed);
    // 3 kW for 1,800 s into 100 kg at 2.05 kJ/(kg K), wall and element.
    expect(evened.liquidC).toBeCloseTo(20 + (3 * 1800) / (100 * 2.05 + 12 + 0.8), 2);
  });

  it('goes on rising for a while after the heater is switched off', () => {
    const heated = later(600, filledVessel(oil(100), 20), { ...OFF, setPointC: 55, stirPerMin: 300 });
    const soon = later(60, heated, { ...OFF, stirPerMin: 300 });
    expect(soon.heating).toBe(false);
    expect(soon.liquidC).toBeGreaterThan(heated.liquidC + 0.1);
  });

  it('is held at the set point by the thermostat, which turns on and off', () => {
    const holding = { ...OFF, setPointC: 55, stirPerMin: 300 };
    let state = later(3600, filledVessel(oil(100), 40), holding);
    let switched = 0;
    for (let s = 0; s < 7200; s++) {
      const next = later(1, state, holding);
      if (next.heating !== state.heating) switched++;
      state = next;
      expect(Math.abs(state.liquidC - 55)).toBeLessThan(1.5);
    }
    expect(switched).toBeGreaterThanOrEqual(4);
  });

  it('is asked for by a stuck thermostat at any temperature, until it is switched off at the wall', () => {
    const stuck = { ...OFF, setPointC: 55, heaterFault: 'asks-on' as const, stirPerMin: 300 };
    const hot = later(600, filledVessel(oil(100), 70), stuck);
    expect(hot.heating).toBe(true);
    expect(hot.liquidC).toBeGreaterThan(74);
    expect(later(1, hot, { ...stuck, setPointC: null }).heating).toBe(false);
  });
});

describe('methanol', () => {
  // Computed from the Antoine constants of Ambrose & Sprake 1970 (as in the NIST WebBook).
  it.each([
    [1050, 65.46],
    [1013.25, 64.55],
    [900, 61.57],
    [800, 58.66],
    [700, 55.43],
  ])('at %d hPa boils at %d °C, within 0.2 °C', (pressureHPa, celsius) => {
    expect(Math.abs(pureBoilingC(pressureHPa) - celsius)).toBeLessThan(0.2);
  });

  it('caps the temperature near its boiling point while there is some; oil alone goes on rising', () => {
    const heating = { ...OFF, setPointC: 200, stirPerMin: 300 };
    const mix = { oilKg: 0, productKg: 90, methanolKg: 15, flakesKg: 0 };
    const boiling = later(3600, filledVessel(mix, 55), heating);
    expect(boiling.liquidC).toBeGreaterThan(pureBoilingC(1013.25));
    expect(boiling.liquidC).toBeLessThan(pureBoilingC(1013.25) + 4);
    expect(boiling.methanolKg).toBeLessThan(12);
    expect(boiling.methanolKg).toBeGreaterThan(0);
    expect(later(7200, filledVessel(oil(105), 55), heating).liquidC).toBeGreaterThan(90);
  });

  it('boils off to the last without leaving less than none', () => {
    const heating = { ...OFF, setPointC: 200, stirPerMin: 300 };
    const nearlyNone = { oilKg: 5, productKg: 90, methanolKg: 0.5, flakesKg: 0 };
    const dry = later(7200, filledVessel(nearlyNone, 60), heating);
    expect(dry.methanolKg).toBeGreaterThanOrEqual(0);
    expect(dry.liquidC).toBeGreaterThan(85);
  });

  it('makes stirred oil react and warm by a few degrees; at rest hardly anything happens', () => {
    const fresh = pourIn(filledVessel(oil(91.6), 55), { ...oil(0), methanolKg: 17.5, temperatureC: 55 });
    const sealed = { ...EQUIPMENT, lossWPerK: 0 };
    const stirred = later(3600, fresh, { ...OFF, stirPerMin: 300 }, sealed);
    const resting = later(3600, fresh, OFF, sealed);
    expect(stirred.oilKg).toBeLessThan(15);
    expect(stirred.liquidC - 55).toBeGreaterThan(1);
    expect(stirred.liquidC - 55).toBeLessThan(5);
    expect(resting.oilKg).toBeGreaterThan(75);
    expect(liquidKg(stirred)).toBeCloseTo(liquidKg(fresh), 6);
  });

  it('warms by dissolving catalyst', () => {
    const flakes = { ...oil(0), flakesKg: 0.5, temperatureC: 15 };
    const vessel = { ...EQUIPMENT, heaterW: 0, lossWPerK: 0, wallKJPerK: 2, fullKg: 18 };
    const start = pourIn(filledVessel({ ...oil(0), methanolKg: 17.5 }, 15), flakes);
    const dissolved = later(3600, start, { ...OFF, stirPerMin: 300 }, vessel);
    expect(dissolved.flakesKg).toBeLessThan(0.001);
    // 0.5 kg of NaOH at 1,108 kJ/kg (44.3 kJ/mol, CRC) into 18 kg at 2.6 kJ/(kg K) and the wall.
    expect(dissolved.liquidC).toBeCloseTo(15 + 554 / (18 * 2.6 + 2), 0);
  });
});

describe('liquid that moves', () => {
  it('cools hot oil by a cold dose to where heat capacities meet', () => {
    const dosed = pourIn(filledVessel(oil(91.6), 55), { ...oil(0), methanolKg: 17.5, temperatureC: 25 });
    // 91.6 kg at 2.05 and 17.5 kg at 2.6 kJ/(kg K).
    expect(dosed.liquidC).toBeCloseTo((91.6 * 2.05 * 55 + 17.5 * 2.6 * 25) / (91.6 * 2.05 + 17.5 * 2.6), 6);
    expect(dosed.liquidC).toBeGreaterThan(48);
    expect(dosed.liquidC).toBeLessThan(50);
  });

  it('is neither made nor lost on its way, and never drawn below the heel', () => {
    const kg = fc.double({ min: 0.1, max: 50, noNaN: true });
    fc.assert(
      fc.property(
        kg,
        kg,
        kg,
        fc.double({ min: 0, max: 300, noNaN: true }),
        (oilKg, productKg, methanolKg, drawn) => {
          const full = filledVessel({ oilKg, productKg, methanolKg, flakesKg: 0 }, 40);
          const [left, portion] = drawOff(full, drawn);
          expect(liquidKg(left)).toBeGreaterThan(0.1);
          expect(liquidKg(portion)).toBeLessThanOrEqual(drawn + 1e-9);
          expect(left.methanolKg + portion.methanolKg).toBeCloseTo(methanolKg, 9);
          const together = pourIn(left, portion);
          expect(liquidKg(together)).toBeCloseTo(liquidKg(full), 9);
          expect(together.liquidC).toBeCloseTo(40, 9);
        },
      ),
    );
  });

  it('takes its stirrer some seconds to start and to stop', () => {
    const started = later(2, filledVessel(oil(100), 20), { ...OFF, stirPerMin: 300 });
    expect(started.stirrerPerMin).toBeGreaterThan(100);
    expect(started.stirrerPerMin).toBeLessThan(290);
    const running = later(10, started, { ...OFF, stirPerMin: 300 });
    expect(running.stirrerPerMin).toBeCloseTo(300, 0);
    expect(later(1, running, OFF).stirrerPerMin).toBeGreaterThan(30);
    expect(later(8, running, OFF).stirrerPerMin).toBeLessThan(3);
  });
});
