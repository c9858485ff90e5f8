import { afterEach, beforeEach, expect, test } from 'vitest';
import { sourceSchema } from '../../probe/configuration.ts';
import { findSources } from '../../probe/find.ts';
import { openSources } from '../../probe/sources/open.ts';
import { ManualClock } from '../support/manual-clock.ts';
import { SensorTree } from '../support/sensor-tree.ts';

let tree: SensorTree;
beforeEach(() => {
  tree = new SensorTree();
});
afterEach(() => tree.remove());

test('a machine without sensors has none', async () => {
  expect(await findSources(tree.root)).toEqual([]);
});

test('everything that is connected gets a name of its own, and can be read as proposed', async () => {
  tree.oneWire('28-0316a2791eff', 54.25);
  tree.oneWire('28-0316a2792aff', 21);
  tree.oneWire('10-000802b5538e', 22);
  // No thermometer, and the bus itself.
  tree.write('sys/bus/w1/devices/3a-000000123456/state', 1);
  tree.write('sys/bus/w1/devices/w1_bus_master1/w1_master_slaves', '28-0316a2791eff');
  // The kernel shows the same thermometer again.
  tree.chip('sys/class/hwmon/hwmon0', 'w1_slave_temp', { temp1_input: 54_250 });
  tree.chip('sys/class/hwmon/hwmon2', 'lm75', { temp1_input: 30_000 }, '1-0048');
  tree.chip('sys/class/hwmon/hwmon10', 'lm75', { temp1_input: 31_000 }, '1-0049');
  tree.chip('sys/class/hwmon/hwmon3', 'nct6775', {
    temp1_input: 30_000,
    temp1_label: 'SYS TIN',
    fan1_input: 900,
    pwm1: 5,
  });
  tree.chip('sys/bus/iio/devices/iio:device0', 'bme280', {
    in_pressure_input: '97.3',
    in_temp_input: 21_300,
    in_humidityrelative_input: 50_000,
  });
  tree.chip('sys/bus/iio/devices/iio:device1', 'ads1015', { in_voltage0_raw: 5, in_voltage_scale: 3 });
  tree.chip('sys/bus/counter/devices/counter0', 'interrupt-cnt', { 'count0/count': 5, 'count1/count': 5 });
  const found = await findSources(tree.root);
  expect(found).toEqual([
    { kind: 'one-wire', id: '10-000802b5538e', channel: 'liquid-temperature' },
    { kind: 'one-wire', id: '28-0316a2791eff', channel: 'liquid-temperature-2' },
    { kind: 'one-wire', id: '28-0316a2792aff', channel: 'liquid-temperature-3' },
    { kind: 'counter', chip: 'interrupt-cnt', count: 'count0', pulsesPerUnit: 1, channel: 'stirrer-speed' },
    {
      kind: 'counter',
      chip: 'interrupt-cnt',
      count: 'count1',
      pulsesPerUnit: 1,
      channel: 'interrupt-cnt-count1',
    },
    { kind: 'iio', chip: 'bme280', input: 'in_pressure', channel: 'ambient-pressure' },
    { kind: 'iio', chip: 'bme280', input: 'in_temp', channel: 'bme280-temperature' },
    { kind: 'iio', chip: 'ads1015', input: 'in_voltage0', channel: 'ads1015-voltage0' },
    { kind: 'hwmon', chip: 'lm75', device: '1-0048', input: 'temp1', channel: 'lm75-temp1' },
    { kind: 'hwmon', chip: 'nct6775', input: 'fan1', channel: 'nct6775-fan1' },
    { kind: 'hwmon', chip: 'nct6775', input: 'temp1', channel: 'nct6775-sys-tin' },
    { kind: 'hwmon', chip: 'lm75', device: '1-0049', input: 'temp1', channel: 'lm75-temp1-2' },
  ]);
  const sources = openSources(
    found.map((one) => sourceSchema.parse(one)),
    tree.root,
    new ManualClock(0),
  );
  const values = await Promise.all(sources.map(async (source) => (await source.read())?.value));
  expect(values).toEqual([22, 54.25, 21, undefined, undefined, 973, 21.3, 0.015, 30, 900, 30, 31]);
});

test('two counters of one name are told apart by their devices, and can be read as proposed', async () => {
  tree.chip('sys/bus/counter/devices/counter0', 'interrupt-cnt', { 'count0/count': 1 }, 'counter-a');
  tree.chip('sys/bus/counter/devices/counter1', 'interrupt-cnt', { 'count0/count': 1 }, 'counter-b');
  const found = await findSources(tree.root);
  expect(found.map(({ device, channel }) => [device, channel])).toEqual([
    ['counter-a', 'stirrer-speed'],
    ['counter-b', 'interrupt-cnt-count0'],
  ]);
  const clock = new ManualClock(0);
  const sources = openSources(
    found.map((one) => sourceSchema.parse(one)),
    tree.root,
    clock,
  );
  for (const source of sources) await source.read();
  clock.advance(60_000);
  tree.write('sys/bus/counter/devices/counter1/count0/count', 8);
  expect(await Promise.all(sources.map(async (source) => (await source.read())?.value))).toEqual([0, 7]);
});

test('serial ports go by the name that stays', async () => {
  tree.write('dev/ttyUSB0', '');
  tree.write('dev/ttyACM3', '');
  tree.write('dev/ttyS0', '');
  expect((await findSources(tree.root)).map(({ port }) => port)).toEqual(['/dev/ttyACM3', '/dev/ttyUSB0']);
  tree.link('dev/serial/by-id/usb-Shed_Works_Node-if00', '../../ttyUSB0');
  expect(await findSources(tree.root)).toEqual([
    { kind: 'serial', port: '/dev/serial/by-id/usb-Shed_Works_Node-if00', channel: 'serial' },
  ]);
});
