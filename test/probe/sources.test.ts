import fc from 'fast-check';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { sourceSchema } from '../../probe/configuration.ts';
import { openSources } from '../../probe/sources/open.ts';
import { PulseRate } from '../../probe/sources/pulse-rate.ts';
import { SourceTrouble } from '../../probe/sources/source.ts';
import { ManualClock } from '../support/manual-clock.ts';
import { SensorTree } from '../support/sensor-tree.ts';

let tree: SensorTree;
let clock: ManualClock;
beforeEach(() => {
  tree = new SensorTree();
  clock = new ManualClock(Date.UTC(2026, 2, 2));
});
afterEach(() => tree.remove());

function open(configuration: object) {
  const parsed = sourceSchema.parse({ channel: 'c', ...configuration });
  return openSources([parsed], tree.root, clock)[0]!;
}
const value = async (configuration: object) => (await open(configuration).read())?.value;
const expectTrouble = (configuration: object, names: RegExp) =>
  expect(open(configuration).read()).rejects.toSatisfy(
    (error) => error instanceof SourceTrouble && names.test(error.message),
  );

describe('a 1-Wire thermometer', () => {
  const id = '28-0316a2791eff';
  const source = { kind: 'one-wire', id };

  test.for([54.25, 0, -10.125, 125, -55, 85, -127])('%d °C', async (celsius) => {
    tree.oneWire(id, celsius);
    expect(await value(source)).toBe(celsius);
  });

  test('by the newer file where there is no other', async () => {
    tree.write(`sys/bus/w1/devices/${id}/temperature`, '54187');
    expect(await value(source)).toBe(54.187);
  });

  test('a wrong checksum is no reading: what the kernel prints then is an old value', async () => {
    tree.oneWire(id, 54.25, 'NO');
    await expectTrouble(source, /checksum/);
  });

  test('nothing but zeros passes the checksum, and is no reading', async () => {
    const zeros = '00 00 00 00 00 00 00 00 00';
    tree.write(`sys/bus/w1/devices/${id}/w1_slave`, `${zeros} : crc=00 YES\n${zeros} t=0`);
    await expectTrouble(source, /zeros/);
  });

  test.for(['', 'YES', '4b 46 t=100', '54.2'])('what is no measurement: "%s"', async (text) => {
    tree.write(`sys/bus/w1/devices/${id}/w1_slave`, text);
    await expectTrouble(source, /no measurement/);
  });

  test('control characters in it reach no terminal as such', async () => {
    tree.write(`sys/bus/w1/devices/${id}/w1_slave`, 'a\x1b[2J\x9bb');
    await expectTrouble(source, /gave "a\\u001b\[2J\\u009bb", which is no measurement/);
  });

  test('not there', () => expectTrouble(source, /is not there: look whether the sensor is plugged in/));

  test('empty, or no number, in the newer file', async () => {
    tree.write(`sys/bus/w1/devices/${id}/temperature`, '');
    await expectTrouble(source, /no number/);
    tree.write(`sys/bus/w1/devices/${id}/temperature`, 'warm');
    await expectTrouble(source, /no number/);
  });
});

describe('a monitoring chip', () => {
  test('temperature and fan, found by name wherever it is now', async () => {
    tree.chip('sys/class/hwmon/hwmon0', 'other', { temp1_input: 1000 });
    tree.chip('sys/class/hwmon/hwmon10', 'nct6775', { temp2_input: 54500, fan1_input: 1180 });
    expect(await value({ kind: 'hwmon', chip: 'nct6775', input: 'temp2' })).toBe(54.5);
    expect(await value({ kind: 'hwmon', chip: 'nct6775', input: 'fan1' })).toBe(1180);
  });

  test('a sensor that it says is faulty', async () => {
    tree.chip('sys/class/hwmon/hwmon0', 'max31865', { temp1_input: 988_000, temp1_fault: 1 });
    await expectTrouble({ kind: 'hwmon', chip: 'max31865', input: 'temp1' }, /faulty/);
    tree.write('sys/class/hwmon/hwmon0/temp1_fault', 0);
    expect(await value({ kind: 'hwmon', chip: 'max31865', input: 'temp1' })).toBe(988);
  });

  test('two of one name are told apart by their device, and not guessed', async () => {
    tree.chip('sys/class/hwmon/hwmon0', 'lm75', { temp1_input: 20_000 }, '1-0048');
    tree.chip('sys/class/hwmon/hwmon1', 'lm75', { temp1_input: 60_000 }, '1-0049');
    const source = { kind: 'hwmon', chip: 'lm75', input: 'temp1' };
    await expectTrouble(source, /"device", one of 1-0048, 1-0049/);
    expect(await value({ ...source, device: '1-0049' })).toBe(60);
    await expectTrouble({ ...source, device: '1-0050' }, /no chip lm75 on 1-0050/);
  });
});

describe('an industrial I/O device', () => {
  const folder = 'sys/bus/iio/devices/iio:device0';

  test('barometer: hPa from kPa; thermometer: °C from thousandths', async () => {
    tree.chip(folder, 'bmp280', { in_pressure_input: '97.312500000', in_temp_input: 21_300 });
    expect(await value({ kind: 'iio', chip: 'bmp280', input: 'in_pressure' })).toBeCloseTo(973.125, 9);
    expect(await value({ kind: 'iio', chip: 'bmp280', input: 'in_temp' })).toBeCloseTo(21.3, 9);
  });

  test('converter: (raw + offset) × scale, its own or that of its kind, in V', async () => {
    tree.chip(folder, 'ads1015', {
      in_voltage0_raw: 1000,
      in_voltage0_scale: 2,
      in_voltage1_raw: 1000,
      in_voltage_scale: 3,
      in_voltage1_offset: -500,
    });
    expect(await value({ kind: 'iio', chip: 'ads1015', input: 'in_voltage0' })).toBeCloseTo(2, 9);
    expect(await value({ kind: 'iio', chip: 'ads1015', input: 'in_voltage1' })).toBeCloseTo(1.5, 9);
    await expectTrouble(
      { kind: 'iio', chip: 'ads1015', input: 'in_voltage2' },
      /in_voltage2_raw is not there/,
    );
  });
});

describe('a converter’s', () => {
  const folder = 'sys/bus/iio/devices/iio:device0';

  test('differences: what they share goes by the names of both, whatever single inputs share', async () => {
    tree.chip(folder, 'ad7793', {
      'in_voltage0-voltage1_raw': 1000,
      'in_voltage2-voltage3_raw': 1000,
      'in_voltage2-voltage3_scale': 0.5,
      'in_voltage-voltage_scale': 0.25,
      'in_voltage-voltage_offset': -200,
      in_voltage4_raw: 1000,
      in_voltage_scale: 2,
    });
    const of = (input: string) => value({ kind: 'iio', chip: 'ad7793', input });
    expect(await of('in_voltage0-voltage1')).toBeCloseTo(0.2, 9);
    expect(await of('in_voltage2-voltage3')).toBeCloseTo(0.4, 9);
    expect(await of('in_voltage4')).toBeCloseTo(2, 9);
  });

  test('raw count without a scale is no measurement', async () => {
    tree.chip(folder, 'ad7793', { 'in_voltage0-voltage1_raw': 1000, in_voltage3_raw: 5, in_temp_raw: 300 });
    for (const [input, wanted] of [
      ['in_voltage0-voltage1', /neither in_voltage0-voltage1_scale nor in_voltage-voltage_scale/],
      ['in_voltage3', /neither in_voltage3_scale nor in_voltage_scale/],
      ['in_temp', /in_temp_scale/],
    ] as const)
      await expectTrouble({ kind: 'iio', chip: 'ad7793', input }, wanted);
  });
});

describe('a counter', () => {
  const folder = 'sys/bus/counter/devices/counter0';
  const source = { kind: 'counter', chip: 'interrupt-cnt', count: 'count0', pulsesPerUnit: 2 };

  test('says at the second look how many a minute', async () => {
    tree.chip(folder, 'interrupt-cnt', { 'count0/count': 1000 });
    const counter = open(source);
    expect(await counter.read()).toBeNull();
    clock.advance(1000);
    tree.write(`${folder}/count0/count`, 1010);
    expect((await counter.read())?.value).toBeCloseTo(300, 9);
    clock.advance(2000);
    expect((await counter.read())?.value).toBe(0);
  });

  test('that turns over goes on; one that was reset has to be looked at twice', async () => {
    tree.chip(folder, 'interrupt-cnt', { 'count0/count': 65_530, 'count0/ceiling': 65_535 });
    const counter = open(source);
    await counter.read();
    clock.advance(1000);
    tree.write(`${folder}/count0/count`, 4);
    expect((await counter.read())?.value).toBeCloseTo(300, 9);
    clock.advance(1000);
    tree.write(`${folder}/count0/count`, 0);
    expect(await counter.read()).toBeNull();
    clock.advance(1000);
    tree.write(`${folder}/count0/count`, 10);
    expect((await counter.read())?.value).toBeCloseTo(300, 9);
  });

  test('counts every pulse once, however the looks fall', () => {
    const looks = fc.array(
      fc.record({ ms: fc.integer({ min: 1, max: 5000 }), pulses: fc.integer({ min: 0, max: 200 }) }),
    );
    fc.assert(
      fc.property(
        looks,
        fc.integer({ min: 0, max: 1023 }),
        fc.integer({ min: 1, max: 60 }),
        (list, first, per) => {
          const time = new ManualClock(0);
          const rate = new PulseRate(time, per);
          const ceiling = 1023;
          let count = first;
          rate.look(count, ceiling);
          let units = 0;
          let pulses = 0;
          for (const look of list) {
            time.advance(look.ms);
            count = (count + look.pulses) % (ceiling + 1);
            pulses += look.pulses;
            units += (rate.look(count, ceiling)!.value * look.ms) / 60_000;
          }
          expect(units * per).toBeCloseTo(pulses, 6);
        },
      ),
    );
  });
});
