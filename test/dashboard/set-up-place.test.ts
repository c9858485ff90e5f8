import { describe, expect, test } from 'vitest';
import { typedAltitudeM } from '../../dashboard/height.ts';
import { boilsThere, brokerFrom, publishLine, typedPressureHPa } from '../../dashboard/pages/set-up/place.ts';

describe('an altitude', () => {
  test('is taken in metres and feet, up to what the daemon takes', () => {
    expect(typedAltitudeM('340', 'm')).toBe(340);
    expect(typedAltitudeM('1609,3', 'm')).toBe(1609.3);
    expect(typedAltitudeM('5280', 'ft')).toBe(1609.34);
    expect(typedAltitudeM('-500', 'm')).toBe(-500);
    expect(typedAltitudeM('6000', 'm')).toBe(6000);
  });
  test.each(['', 'high', '340 m', '-501', '6001', 'NaN', '1e3'])('%j is none', (text) => {
    expect(typedAltitudeM(text, 'm')).toBeUndefined();
  });
  test('says where methanol boils there', () => {
    // U.S. Standard Atmosphere 1976: 834.4 hPa at 1,609 m.
    expect(boilsThere(1609).pressureHPa).toBeCloseTo(834.4, 0);
    expect(boilsThere(1609).boilingC).toBeLessThan(boilsThere(0).boilingC - 4);
  });
});

test('a pressure is taken within what the daemon takes', () => {
  expect(typedPressureHPa('973.1')).toBe(973.1);
  expect([typedPressureHPa('200'), typedPressureHPa('1100')]).toEqual([200, 1100]);
  for (const text of ['199.9', '1100.1', '29.9 inHg', '']) expect(typedPressureHPa(text)).toBeUndefined();
});

describe('the broker', () => {
  const line = (listens: Parameters<typeof brokerFrom>[0], pageHost = '192.0.2.7') => {
    const broker = brokerFrom(listens, pageHost);
    return [publishLine(broker, 'a/b', '54.2'), broker.only];
  };
  test('on loopback is reached there, whatever the page was reached by', () => {
    expect(line({ host: '127.0.0.1', port: 1883 })).toEqual([
      'mosquitto_pub -h 127.0.0.1 -p 1883 -q 1 -t a/b -m 54.2',
      'here',
    ]);
    for (const host of ['localhost', '::1']) expect(line({ host, port: 1 })[1]).toBe('here');
  });
  test('that listens everywhere is reached by the name that the page was reached by', () => {
    expect(line({ host: '0.0.0.0', port: 1884 })).toEqual([
      'mosquitto_pub -h 192.0.2.7 -p 1884 -q 1 -t a/b -m 54.2',
      null,
    ]);
    expect(line({ host: '::', port: 1 }, '[2001:db8::7]')[0]).toContain('-h 2001:db8::7 ');
  });
  test('of another program has to be named', () => {
    expect(line(null)).toEqual(['mosquitto_pub -h BROKER -q 1 -t a/b -m 54.2', 'outside']);
  });
});
