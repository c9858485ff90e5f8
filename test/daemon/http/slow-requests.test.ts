import { once } from 'node:events';
import { connect } from 'node:net';
import { performance } from 'node:perf_hooks';
import { expect, test } from 'vitest';
import { isThorough } from '../../support/thorough.ts';
import { runDaemon } from '../running-daemon.ts';

/** It takes the time that it is about. */
test.runIf(isThorough)(
  'a request that does not come to its end is ended after 30 s, within 5',
  {
    timeout: 80_000,
  },
  async () => {
    const { httpPort } = await runDaemon();
    const fromMs = performance.now();
    const begun = [
      'POST /api/v1/batches HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\nContent-Length: 9\r\n\r\n{',
      'GET /api/v1/vessels HTTP/1.1\r\nHost: localhost\r\n',
    ].map(async (text) => {
      const socket = connect(httpPort, '127.0.0.1');
      socket.on('error', () => {});
      socket.resume();
      socket.write(text);
      await once(socket, 'close');
      return performance.now() - fromMs;
    });
    for (const tookMs of await Promise.all(begun)) {
      expect(tookMs).toBeGreaterThan(25_000);
      // With a moment for a loaded machine.
      expect(tookMs).toBeLessThan(38_000);
    }
  },
);
