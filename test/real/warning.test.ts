import { connectAsync } from 'mqtt';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { Alarm, LiveMessage } from '../../shared/wire/api.ts';
import { eventually, look } from '../support/api.ts';
import { BROKERS, startWatched, type Watched } from '../support/watched.ts';

type LiveAlarm = Extract<LiveMessage, { type: 'alarm' }>;

describe.each(BROKERS)('a reading over the limit, at %s', (broker) => {
  let watched: Watched;
  beforeAll(async () => {
    watched = await startWatched(broker);
  });
  afterAll(() => watched?.close());

  test('reaches a viewer and the alarm topic, and both learn that it is over', async () => {
    const { api, clients } = watched;
    const onTopic: Alarm[][] = [];
    const device = await connectAsync(watched.brokerUrl);
    device.on('message', (_topic, payload) => onTopic.push(JSON.parse(String(payload))));
    await device.subscribeAsync('esterwatch/v1/alarm/shed/r1', { qos: 1 });
    const measure = (value: number) =>
      clients.publish('esterwatch/v1/reading/shed/r1/liquid-temperature', String(value));
    const standing = async () => onTopic.at(-1)?.map(({ alarm }) => alarm);

    await measure(58);
    await eventually(
      () => api.raw('shed:r1'),
      ({ t }) => t.length === 1,
    );
    await api.stateSite('shed', { altitudeM: 0 });
    await api.enter(await api.openBatch('shed:r1'), 'react');
    const viewer = await look(watched.httpPort);
    const alarms = () => viewer.heard.filter((message): message is LiveAlarm => message.type === 'alarm');
    expect(alarms()).toEqual([]);

    // Methanol boils at 64.5 °C at sea level (Ambrose & Sprake); near is less than 3 °C below.
    for (const value of [60.5, 62.5]) await measure(value);
    const near = (await eventually(alarms, ({ length }) => length === 1))[0]!;
    expect(near).toMatchObject({
      site: 'shed',
      vessel: 'r1',
      alarm: 'boiling-near',
      event: 'raised',
      priority: 'high',
      late: false,
      limit: 3,
    });
    expect(near.value).toBeCloseTo(64.5 - 62.5, 0);
    expect(await eventually(standing, (names) => names?.length === 1)).toEqual(['boiling-near']);
    expect(onTopic.at(-1)![0]).toMatchObject({ id: near.id, standing: true, acknowledged: null });

    await measure(64.8);
    expect(await eventually(alarms, ({ length }) => length === 2)).toMatchObject([
      {},
      { alarm: 'boiling-reached', event: 'raised', priority: 'critical' },
    ]);
    await eventually(standing, (names) => names?.length === 2);
    // Somebody who comes later finds it there.
    const retained: Alarm[] = JSON.parse(await clients.retained('esterwatch/v1/alarm/shed/r1'));
    expect(retained.map(({ alarm }) => alarm).sort()).toEqual(['boiling-near', 'boiling-reached']);

    for (const value of [62.4, 60, 58]) await measure(value);
    await eventually(alarms, ({ length }) => length === 4);
    expect(alarms().slice(2)).toMatchObject([
      { alarm: 'boiling-reached', event: 'cleared' },
      { alarm: 'boiling-near', event: 'cleared', id: near.id },
    ]);
    await eventually(standing, (names) => names?.length === 0);
    expect(await clients.retained('esterwatch/v1/alarm/shed/r1')).toBe('[]');

    // Over, but nobody has said that they saw it.
    expect((await api.alarms('?standing=true')).map(({ alarm }) => alarm).sort()).toEqual([
      'boiling-near',
      'boiling-reached',
    ]);
    for (const { id } of await api.alarms('?standing=true')) {
      await api.call('POST', `/api/v1/alarms/${id}/acknowledge`, { by: 'Ada Brook' });
    }
    expect(await api.alarms('?standing=true')).toEqual([]);
    viewer.close();
    await device.endAsync();
  });
});
