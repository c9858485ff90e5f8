import { once } from 'node:events';
import { connect, type Socket } from 'node:net';
import { setTimeout as wait } from 'node:timers/promises';
import { connectAsync } from 'mqtt';
import { afterAll, beforeAll, expect, test } from 'vitest';
import type { Random } from '../../../simulator/random.ts';
import {
  below,
  bytes,
  chance,
  flipped,
  mutatedBytes,
  mutatedJson,
  mutatedText,
  pick,
  pieces,
  shuffled,
} from '../../support/fuzz/mutations.ts';
import { TRIES_TIMEOUT_MS, tryOften } from '../../support/fuzz/tries.ts';
import { startVictim, type Victim } from '../../support/fuzz/victim.ts';
import { LOOPBACK } from '../../support/serving.ts';

/** A connection is closed, a message acknowledged, within so long, ms. */
const WITHIN_MS = 10_000;

let victim: Victim;
beforeAll(async () => {
  victim = await startVictim();
});
afterAll(() => victim.endWell());

// ---- packets (MQTT 3.1.1, 2 and 3) ----

const text = (value: string | Buffer): Buffer => {
  const own = Buffer.from(value);
  return Buffer.concat([uint16(own.length), own]);
};
const uint16 = (value: number): Buffer => Buffer.from([(value >> 8) & 0xff, value & 0xff]);

/** Seven bits a byte, the least first (2.2.3). */
function remainingLength(length: number): Buffer {
  const digits: number[] = [];
  for (let left = length; digits.length === 0 || left > 0; left = Math.floor(left / 128))
    digits.push((left % 128) | (left >= 128 ? 0x80 : 0));
  return Buffer.from(digits);
}

const packet = (head: number, ...parts: Buffer[]): Buffer => {
  const body = Buffer.concat(parts);
  return Buffer.concat([Buffer.from([head]), remainingLength(body.length), body]);
};

const TOPICS = [
  'esterwatch/v1/reading/shed/r1/liquid-temperature',
  'esterwatch/v1/reading/shed/r2/stirrer-speed',
  'esterwatch/v1/presence/shed/r1-probe',
  'esterwatch/v1/alarm/shed/r1',
  'esterwatch/v1/beat/shed',
  'shed/thermometer',
  '$SYS/heap',
];
const FILTERS = [...TOPICS, '#', '+/+/#', 'esterwatch/v1/+/shed/#', '$SYS/#'];

function connectPacket(random: Random): Buffer {
  const hasWill = chance(random, 0.3);
  const hasName = chance(random, 0.3);
  const flags =
    (hasName ? 0xc0 : 0) | (hasWill ? 0x04 | (below(random, 3) << 3) | (below(random, 2) << 5) : 0);
  return packet(
    0x10,
    text('MQTT'),
    Buffer.from([4, flags | (below(random, 2) << 1)]),
    uint16(pick(random, [0, 1, 60, 65_535])),
    text(`probe-${below(random, 30)}`),
    ...(hasWill ? [text(pick(random, TOPICS)), text('gone')] : []),
    ...(hasName ? [text('probe'), text('secret')] : []),
  );
}

function otherPacket(random: Random): Buffer {
  const id = uint16(below(random, 4));
  switch (below(random, 11)) {
    case 0:
      return packet(0x82, id, text(pick(random, FILTERS)), Buffer.from([below(random, 3)]));
    case 1:
      return packet(0xa2, id, text(pick(random, FILTERS)));
    case 2:
      return packet(0xc0);
    case 3:
      return packet(0xe0);
    case 4:
      return packet(0x62, id);
    case 5:
      return packet(pick(random, [0x40, 0x50, 0x70, 0x20, 0x90, 0xb0, 0xd0, 0x00, 0xf0]), id);
    default: {
      const qos = below(random, 3);
      return packet(
        0x30 | (qos << 1) | below(random, 2) | (below(random, 2) << 3),
        text(pick(random, TOPICS)),
        ...(qos > 0 ? [id] : []),
        Buffer.from(pick(random, ['61.4', '{"value":61.4}', 'here', '', '[]'])),
      );
    }
  }
}

/** What a client might send, and then not quite that. */
function spoilt(random: Random): Buffer {
  const packets = [
    connectPacket(random),
    ...Array.from({ length: below(random, 7) }, () => otherPacket(random)),
  ];
  const whole = Buffer.concat(packets);
  switch (below(random, 8)) {
    case 0:
    case 1:
      return flipped(random, whole);
    case 2:
      return whole.subarray(0, below(random, whole.length));
    case 3:
      return Buffer.concat(shuffled(random, [...packets, connectPacket(random), otherPacket(random)]));
    case 4: {
      // Says that it is longer than it is, or too long.
      const head = pick(random, [0x10, 0x30, 0x32, 0x34, 0x82, 0xc0]);
      const length = pick(random, [
        remainingLength(268_435_455),
        remainingLength(5_000_000),
        Buffer.from([0xff, 0xff, 0xff, 0xff, 0xff, 0x7f]),
        remainingLength(8 * 1024 + 1),
      ]);
      return Buffer.concat([
        chance(random, 0.7) ? packets[0]! : Buffer.alloc(0),
        Buffer.from([head]),
        length,
        Buffer.alloc(below(random, 100_000), 0x41),
      ]);
    }
    case 5:
      return bytes(random, 1 + below(random, 200));
    case 6:
      return Buffer.concat([packets[0]!, bytes(random, 1 + below(random, 200))]);
    default:
      return Buffer.concat(packets.map((one, i) => (i === 0 ? one : mutatedBytes(random, one))));
  }
}

async function send(random: Random, whole: Buffer): Promise<void> {
  const socket: Socket = connect(victim.served.mqttPort!, LOOPBACK).setNoDelay(true);
  // Cut off by the other side, as may be.
  socket.on('error', () => {});
  socket.resume();
  const closed = new Promise((resolve) => socket.once('close', resolve));
  await once(socket, 'connect');
  for (const piece of pieces(random, whole, 3)) {
    socket.write(piece);
    if (chance(random, 0.2)) await wait(1);
  }
  if (chance(random, 0.1)) socket.resetAndDestroy();
  else socket.end();
  await closed;
}

test('packets that are broken, cut short, too large or out of turn', { timeout: TRIES_TIMEOUT_MS }, () =>
  tryOften('MQTT packets', { withinMs: WITHIN_MS, atOnce: 10, others: victim.others }, (random) =>
    send(random, spoilt(random)),
  ),
);

// ---- payloads ----

const NOW_MS = Date.now();
const PAYLOADS: readonly unknown[] = [
  61.4,
  { value: 61.4, at: '2026-03-02T10:15:00.000Z', seq: 1041 },
  { value: 142, at: NOW_MS - 5000, seq: 3, unit: 'degF' },
  [
    { value: 61.4, at: NOW_MS - 9000 },
    { value: 61.5, at: NOW_MS - 8000, seq: 7 },
  ],
  [
    { bn: 'urn:dev:ow:10e2073a01080063:', bt: 1.276020076e9, bu: 'Cel', bver: 10, n: 'temp', v: 23.5 },
    { n: 'temp', t: -5, v: 23.6 },
  ],
  'here',
  'gone',
];
const NAMES = ['r1', 'r2', 'm1', 'constructor', 'tostring', 'R1', '', 'r1 ', '-r', 'ä', 'x'.repeat(41)];
const CHANNELS = ['liquid-temperature', 'stirrer-speed', 'heater', 'ambient-pressure', 'pump', 'ph', 'Temp'];

function topic(random: Random): string {
  const whole = chance(random, 0.8)
    ? `esterwatch/v1/reading/${pick(random, ['shed', 'barn'])}/${pick(random, NAMES)}/${pick(random, CHANNELS)}`
    : `esterwatch/v1/presence/shed/${pick(random, NAMES)}`;
  if (chance(random, 0.8)) return whole;
  // With a wildcard in it, it is no topic but a broken packet, which the other test sends.
  return mutatedText(random, whole).replaceAll(/[+#\0\ud800-\udfff]/g, '') || 'shed';
}

function payload(random: Random): Buffer {
  const sent = pick(random, PAYLOADS);
  const json = chance(random, 0.5) ? mutatedJson(random, sent) : sent;
  const written = typeof json === 'string' ? json : JSON.stringify(json);
  const spoiltText = chance(random, 0.4) ? mutatedText(random, written) : written;
  const own = Buffer.from(spoiltText);
  return chance(random, 0.2) ? mutatedBytes(random, own) : own;
}

test('payloads that are none: each is acknowledged, the connection stays', {
  timeout: TRIES_TIMEOUT_MS,
}, async () => {
  const device = await connectAsync(`mqtt://${LOOPBACK}:${victim.served.mqttPort}`, { reconnectPeriod: 0 });
  await tryOften('MQTT payloads', { withinMs: WITHIN_MS, atOnce: 10, others: victim.others }, (random) =>
    device.publishAsync(topic(random), payload(random), {
      qos: pick(random, [1, 1, 2]),
      retain: chance(random, 0.1),
    }),
  );
  expect(device.connected).toBe(true);
  await device.endAsync();
});
