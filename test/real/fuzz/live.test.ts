import { once } from 'node:events';
import { connect } from 'node:net';
import { setTimeout as wait } from 'node:timers/promises';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { WebSocket } from 'ws';
import { liveMessageSchema } from '../../../shared/wire/api.ts';
import type { Random } from '../../../simulator/random.ts';
import {
  below,
  bytes,
  chance,
  mutatedBytes,
  mutatedJson,
  pick,
  pieces,
} from '../../support/fuzz/mutations.ts';
import { TRIES_TIMEOUT_MS, tryOften } from '../../support/fuzz/tries.ts';
import { startVictim, type Victim } from '../../support/fuzz/victim.ts';
import { LOOPBACK } from '../../support/serving.ts';

/** A socket is closed within so long, ms. */
const WITHIN_MS = 10_000;
/** Whoever looks on hears something within this, ms: a beat comes every two seconds. */
const HEARD_WITHIN_MS = 10_000;

let victim: Victim;
let viewer: WebSocket;
let heard = 0;
let heardAtMs = 0;
beforeAll(async () => {
  victim = await startVictim();
  viewer = new WebSocket(`ws://${LOOPBACK}:${victim.served.httpPort}/api/v1/live`);
  viewer.on('message', (data) => {
    liveMessageSchema.parse(JSON.parse(String(data)));
    heard++;
    heardAtMs = performance.now();
  });
  await once(viewer, 'message');
});
afterAll(async () => {
  viewer.terminate();
  await victim.endWell();
});

/** Also the page beside goes on hearing. */
async function others(): Promise<void> {
  await victim.others();
  expect(viewer.readyState).toBe(WebSocket.OPEN);
  expect(performance.now() - heardAtMs).toBeLessThan(HEARD_WITHIN_MS);
}

/** A frame (RFC 6455, 5.2); what a client sends is masked. */
function frame(
  random: Random,
  content: Buffer,
  { opcode = 1, isLast = true, isMasked = true, reserved = 0, length = content.length, wide = 0 } = {},
): Buffer {
  const head = Buffer.from([(isLast ? 0x80 : 0) | (reserved << 4) | opcode, 0]);
  const size = Buffer.alloc(wide === 2 || length > 0xffff ? 8 : wide === 1 || length > 125 ? 2 : 0);
  if (size.length === 8) size.writeBigUInt64BE(BigInt.asUintN(64, BigInt(length)));
  else if (size.length === 2) size.writeUInt16BE(length);
  head[1] = (isMasked ? 0x80 : 0) | (size.length === 8 ? 127 : size.length === 2 ? 126 : length);
  if (!isMasked) return Buffer.concat([head, size, content]);
  const mask = bytes(random, 4);
  return Buffer.concat([head, size, mask, content.map((byte, i) => byte ^ mask[i % 4]!)]);
}

const MESSAGE = { type: 'subscribe', vessels: ['barn:r1'], since: 1_760_000_000_000, raw: false };
const BAD_UTF8 = [
  Buffer.from([0xff, 0xfe]),
  Buffer.from([0xc0, 0x80]),
  Buffer.from([0xed, 0xa0, 0x80]),
  Buffer.from([0xf4, 0x90, 0x80, 0x80]),
  Buffer.from([0xe2, 0x82]),
];

function oneFrame(random: Random): Buffer {
  const json = Buffer.from(JSON.stringify(mutatedJson(random, MESSAGE)) ?? '');
  switch (below(random, 12)) {
    case 0:
      return frame(random, json, { isMasked: false });
    case 1:
      return frame(random, json, { opcode: below(random, 16), reserved: below(random, 8) });
    case 2:
      return Buffer.concat([
        frame(random, json.subarray(0, 5), { isLast: false }),
        frame(random, json.subarray(5), { opcode: pick(random, [0, 0, 1]), isLast: chance(random, 0.5) }),
      ]);
    case 3:
      return frame(random, pick(random, BAD_UTF8), { opcode: pick(random, [1, 8]) });
    case 4:
      return frame(random, json, { length: pick(random, [2 ** 31, 2 ** 53, 2 ** 63, 2 ** 64 - 2048, 5000]) });
    case 5:
      return frame(random, bytes(random, 4000 + below(random, 200)), { opcode: 2 });
    case 6:
      // What steers has 125 bytes at most, and comes in one piece.
      return frame(random, bytes(random, below(random, 300)), {
        opcode: pick(random, [8, 9, 10]),
        isLast: chance(random, 0.7),
      });
    case 7:
      return frame(random, json.subarray(0, 100), { wide: pick(random, [1, 2]) });
    case 8:
      return Buffer.concat(Array(200).fill(frame(random, Buffer.from('ping'), { opcode: 9 })));
    case 9:
      return Buffer.concat(Array(100).fill(frame(random, Buffer.alloc(40), { isLast: false, opcode: 0 })));
    case 10:
      return bytes(random, below(random, 60));
    default:
      return frame(random, json);
  }
}

const greeting = (random: Random): Buffer =>
  Buffer.from(
    [
      'GET /api/v1/live HTTP/1.1',
      `Host: ${LOOPBACK}`,
      'Connection: Upgrade',
      'Upgrade: websocket',
      'Sec-WebSocket-Version: 13',
      `Sec-WebSocket-Key: ${bytes(random, 16).toString('base64')}`,
      ...(chance(random, 0.2)
        ? ['Sec-WebSocket-Extensions: permessage-deflate; client_max_window_bits']
        : []),
      '\r\n',
    ].join('\r\n'),
  );

async function send(random: Random): Promise<void> {
  const frames = Buffer.concat(Array.from({ length: 1 + below(random, 4) }, () => oneFrame(random)));
  const spoilt = chance(random, 0.4) ? mutatedBytes(random, frames) : frames;
  const hello = chance(random, 0.1) ? mutatedBytes(random, greeting(random)) : greeting(random);
  const socket = connect(victim.served.httpPort, LOOPBACK).setNoDelay(true);
  // Cut off by the other side, as may be.
  socket.on('error', () => {});
  const closed = new Promise((resolve) => socket.once('close', resolve));
  await once(socket, 'connect');
  const isHurried = chance(random, 0.3);
  socket.write(hello);
  // Its frames right behind the greeting, or once it is answered.
  if (!isHurried) await Promise.race([once(socket, 'data').catch(() => {}), closed, wait(200)]);
  socket.resume();
  for (const piece of pieces(random, spoilt, 3)) {
    socket.write(piece);
    if (chance(random, 0.2)) await wait(1);
  }
  if (chance(random, 0.1)) socket.resetAndDestroy();
  else socket.end();
  await closed;
}

test('frames that are none, or come out of turn', { timeout: TRIES_TIMEOUT_MS }, async () => {
  await tryOften('WebSocket frames', { withinMs: WITHIN_MS, atOnce: 8, others }, send);
  expect(heard).toBeGreaterThan(1);
  // All of them have gone.
  await expect
    .poll(async () => (await fetch(`http://${LOOPBACK}:${victim.served.httpPort}/metrics`)).text())
    .toContain('\nesterwatch_viewers 1\n');
});
