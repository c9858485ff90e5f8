import { describe, expect, it } from 'vitest';
import { tachometer } from '../../simulator/instruments.ts';
import {
  POWER_UP_C,
  PROBE_STEP_C,
  type ProbePlace,
  TemperatureProbe,
  UNPLUGGED_C,
} from '../../simulator/probe.ts';
import { gaussian, seededRandom } from '../../simulator/random.ts';

const IN_LIQUID: ProbePlace = { liquidC: 55, airC: 20, covered: true, moving: true };

const probeAt = (celsius: number, seed = 1) => new TemperatureProbe(celsius, seededRandom(seed, 'probe'));
const readings = (probe: TemperatureProbe, count: number) =>
  Array.from({ length: count }, () => probe.read());

describe('a probe', () => {
  it('reports whole steps of 0.0625 °C that scatter about the temperature', () => {
    const values = readings(probeAt(55.02), 2000) as number[];
    for (const value of values) expect(value / PROBE_STEP_C).toBe(Math.round(value / PROBE_STEP_C));
    expect(new Set(values).size).toBeGreaterThan(1);
    expect(Math.max(...values) - Math.min(...values)).toBeLessThan(0.5);
    expect(values.reduce((sum, value) => sum + value) / values.length).toBeCloseTo(55.02, 2);
  });

  it('lags behind the liquid, more where the liquid is at rest', () => {
    const afterTen = (moving: boolean) => {
      const probe = probeAt(20);
      for (let s = 0; s < 10; s++) probe.advance({ ...IN_LIQUID, moving }, 1);
      return probe.read()!;
    };
    expect(afterTen(true)).toBeGreaterThan(40);
    expect(afterTen(true)).toBeLessThan(50);
    expect(afterTen(false)).toBeLessThan(35);
  });

  it.each([
    ['power-up', POWER_UP_C],
    ['unplugged', UNPLUGGED_C],
    ['silent', undefined],
  ] as const)('that fails as %s gives %s for so many readings, then is well again', (fault, value) => {
    const probe = probeAt(55);
    probe.fail(fault, 2);
    expect(readings(probe, 2)).toEqual([value, value]);
    expect(probe.read()).toBeCloseTo(55, 0);
  });

  it('that is frozen repeats its last value while the liquid warms', () => {
    const probe = probeAt(55);
    const last = probe.read();
    probe.fail('frozen');
    for (let s = 0; s < 100; s++) probe.advance({ ...IN_LIQUID, liquidC: 60 }, 1);
    expect(new Set(readings(probe, 50))).toEqual(new Set([last]));
    probe.fail(null);
    expect(probe.read()).toBeCloseTo(60, 0);
  });

  it('that has a spike reads far too much once', () => {
    const probe = probeAt(55);
    probe.fail('spike', 1);
    expect(probe.read()).toBeGreaterThan(70);
    expect(probe.read()).toBeCloseTo(55, 0);
  });

  it.each([
    ['has fallen out', 'fallen-out', true],
    ['is left bare', null, false],
  ] as const)('that %s goes to the temperature of the room', (_what, fault, covered) => {
    const probe = probeAt(55);
    probe.fail(fault);
    for (let s = 0; s < 900; s++) probe.advance({ ...IN_LIQUID, covered }, 1);
    expect(probe.read()).toBeCloseTo(20, 0);
  });

  it('reads the same after a fault as it would have without', () => {
    const [well, failing] = [probeAt(55), probeAt(55)];
    failing.fail('silent', 5);
    readings(well, 5);
    readings(failing, 5);
    expect(readings(failing, 20)).toEqual(readings(well, 20));
  });
});

describe('a tachometer', () => {
  it('reports whole numbers near the speed, and 0 at rest', () => {
    const random = seededRandom(1, 'tachometer');
    for (let i = 0; i < 1000; i++) {
      const value = tachometer(300, random);
      expect(Number.isInteger(value)).toBe(true);
      expect(Math.abs(value - 300)).toBeLessThan(20);
      expect(tachometer(0, random)).toBe(0);
    }
  });
});

describe('random numbers', () => {
  const take = (seed: number, name: string) => {
    const random = seededRandom(seed, name);
    return Array.from({ length: 5 }, random);
  };

  it('are the same for the same seed and name, and others for another', () => {
    expect(take(7, 'a')).toEqual(take(7, 'a'));
    expect(take(7, 'a')).not.toEqual(take(8, 'a'));
    expect(take(7, 'a')).not.toEqual(take(7, 'b'));
  });

  it('spread evenly over [0, 1), and normally with mean 0 and deviation 1', () => {
    const random = seededRandom(1, 'even');
    const tenths = new Array<number>(10).fill(0);
    for (let i = 0; i < 100_000; i++) tenths[Math.floor(random() * 10)]! += 1;
    for (const count of tenths) expect(Math.abs(count - 10_000)).toBeLessThan(500);

    let sum = 0;
    let squares = 0;
    for (let i = 0; i < 100_000; i++) {
      const value = gaussian(random);
      sum += value;
      squares += value * value;
    }
    expect(sum / 100_000).toBeCloseTo(0, 1);
    expect(Math.sqrt(squares / 100_000)).toBeCloseTo(1, 1);
  });
});
