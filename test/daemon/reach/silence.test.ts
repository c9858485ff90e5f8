import { chmodSync, existsSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { connectAsync } from 'mqtt';
import { describe, expect, test, vi } from 'vitest';
import { Guarding } from '../../../daemon/reach/guarding.ts';
import { type Posted, postedSchema } from '../../../shared/wire/reach.ts';
import { runCommand, startCommand } from '../../support/command.ts';
import { ManualClock } from '../../support/manual-clock.ts';
import { startMosquitto } from '../../support/mosquitto.ts';
import { patiently } from '../../support/patiently.ts';
import { mailServer, type Receiver, receiver } from '../../support/receivers.ts';
import { serve } from '../../support/serving.ts';
import { isThorough } from '../../support/thorough.ts';
import { runDaemon } from '../running-daemon.ts';
import { temporaryDir } from '../store/fixture.ts';

const SECRET = 'a secret of the siren';
const postsOf = ({ received }: Receiver): Posted[] =>
  received.map(({ body }) => postedSchema.parse(JSON.parse(String(body))));

describe('still watching', () => {
  test('is called at its interval, and not while nobody could be told', async () => {
    const [service, siren] = [await receiver(), await receiver()];
    const clock = new ManualClock(Date.UTC(2026, 2, 2, 10));
    const daemon = await runDaemon({
      clock,
      stillWatching: { url: `${service.url}/ping/x`, everySeconds: 60 },
    });
    const more = async () => {
      const before = service.received.length;
      await patiently(() => {
        clock.advance(60_000);
        expect(service.received.length).toBeGreaterThan(before);
      });
    };
    await patiently(() => expect(service.received).toMatchObject([{ path: '/ping/x' }]));
    clock.advance(59_999);
    await daemon.get('/api/v1/sites');
    expect(service.received).toHaveLength(1);
    clock.advance(1);
    await patiently(() => expect(service.received).toHaveLength(2));
    await more();
    const tests = () => daemon.send('POST', '/api/v1/reach/people/Ada/test', { way: 'post' });
    siren.answers(500);
    await daemon.send('PUT', '/api/v1/reach/people/Ada', { post: { url: siren.url, secret: SECRET } });
    expect((await tests()).json.result).toBe('failed');
    const before = service.received.length;
    for (let minute = 0; minute < 5; minute++) {
      clock.advance(60_000);
      await daemon.get('/api/v1/sites');
    }
    expect(service.received).toHaveLength(before);
    siren.answers(204);
    expect((await tests()).json.result).toBe('delivered');
    await more();
  });
});

describe('systemd', () => {
  test('hears that it is ready, and goes on hearing from it', async () => {
    const folder = temporaryDir();
    const said = join(folder, 'said');
    const program = join(folder, 'systemd-notify');
    writeFileSync(program, `#!/bin/sh\necho "$NOTIFY_SOCKET $*" >> ${said}\n`);
    chmodSync(program, 0o755);
    const environment = [
      `PATH=${folder}:${process.env.PATH}`,
      'NOTIFY_SOCKET=/run/n',
      'WATCHDOG_USEC=400000',
    ];
    const served = await serve({ data: join(folder, 'data'), under: ['env', ...environment] });
    const lines = () => (existsSync(said) ? readFileSync(said, 'utf8').trim().split('\n') : []);
    await patiently(() => expect(lines().length).toBeGreaterThan(3));
    expect(lines()[0]).toBe('/run/n --ready');
    expect(new Set(lines().slice(1))).toEqual(new Set(['/run/n WATCHDOG=1']));
    served.kill('SIGTERM');
    expect((await served.ended).code).toBe(0);
  });
});

test('a daemon is gone when it was missed three times in a row, and back when it is found', () => {
  const guarding = new Guarding(0);
  const looks = ['no', 'no', null, 'no', 'no', 'no', 'no', null, null, 'no', 'no', 'no'];
  const said = looks.map((because, i) => guarding.looked(because, i + 1));
  expect(said).toEqual([
    ...[null, null, null, null, null],
    { state: 'gone', sinceMs: 3 },
    null,
    { state: 'back', sinceMs: 3 },
    ...[null, null, null],
    { state: 'gone', sinceMs: 9 },
  ]);
});

/** A guard that looks every second and tells a siren; resolves once it guards. */
async function guarding(folder: string, siren: Receiver, watched: { url: string; broker?: string }) {
  const config = join(folder, 'guard.json');
  const post = { url: siren.url, secret: SECRET };
  writeFileSync(config, JSON.stringify({ ...watched, everySeconds: 1, post }));
  const run = startCommand(folder, ['guard', '--config', config]);
  await run.says(/guarding/);
  return {
    stop: async () => {
      run.child.kill('SIGTERM');
      expect(await run.ended).toBe(0);
    },
  };
}

/** The first reading of a site, and then its retained beat. */
async function beating(broker: string): Promise<void> {
  const client = await connectAsync(broker);
  const heard: string[] = [];
  client.on('message', (_, payload) => void heard.push(String(payload)));
  await client.subscribeAsync('esterwatch/v1/beat/barn', { qos: 1 });
  await patiently(async () => {
    // Again and again: the daemon may not listen at this broker yet.
    await client.publishAsync('esterwatch/v1/reading/barn/r1/liquid-temperature', '20', { qos: 1 });
    expect(heard.join()).toContain('"watching"');
  });
  await client.endAsync();
}

describe('guard', () => {
  test('tells by POST and e-mail when the daemon is gone, tries until it arrives, and says when it is back', {
    timeout: 40_000,
  }, async () => {
    const folder = temporaryDir();
    const [daemon, siren, mail] = [await receiver(), await receiver(), await mailServer()];
    siren.answers(500);
    const config = join(folder, 'guard.json');
    const smtp = { host: '127.0.0.1', port: mail.port, security: 'none', from: 'guard@example.org' };
    const post = { url: siren.url, secret: SECRET };
    writeFileSync(config, JSON.stringify({ smtp, email: ['ada@example.org'], post }));
    const run = startCommand(folder, ['guard', '--url', daemon.url, '--every', '1', '--config', config]);
    await patiently(() => expect(daemon.received.length).toBeGreaterThan(2));
    expect(daemon.received[0]!.path).toBe('/api/v1/health');
    expect([siren.received, mail.mails]).toEqual([[], []]);
    daemon.answers(503);
    await patiently(() => expect(mail.mails).toHaveLength(1));
    await patiently(() => expect(siren.received.length).toBeGreaterThan(1));
    siren.answers(204);
    const before = siren.received.length;
    await patiently(() => expect(siren.received).toHaveLength(before + 1));
    expect(new Set(postsOf(siren).map(({ id }) => id)).size).toBe(1);
    expect(postsOf(siren).at(-1)).toMatchObject({ kind: 'guard', priority: 'critical' });
    daemon.answers(200);
    await patiently(() => expect(mail.mails).toHaveLength(2));
    await patiently(() => expect(postsOf(siren).at(-1)).toMatchObject({ kind: 'guard', priority: 'medium' }));
    expect(mail.mails[1]!.text).toContain('answers again');
    run.child.kill('SIGTERM');
    expect(await run.ended).toBe(0);
    expect(siren.received).toHaveLength(before + 2);
  });

  test('notices a real daemon that is killed', { timeout: 60_000 }, async () => {
    const folder = temporaryDir();
    const siren = await receiver();
    const served = await serve({ data: join(folder, 'data') });
    const run = await guarding(folder, siren, { url: `http://127.0.0.1:${served.httpPort}` });
    served.kill('SIGKILL');
    await served.ended;
    await patiently(() => expect(postsOf(siren)).toMatchObject([{ kind: 'guard', priority: 'critical' }]));
    expect(postsOf(siren)[0]!.short.length).toBeLessThan(300);
    await run.stop();
  });

  describe('goes by the beat too, whatever answers at its URL', () => {
    test('that says gone, as the last will of a daemon that was killed does; and by the one that is back', {
      timeout: 60_000,
    }, async () => {
      const folder = temporaryDir();
      const [siren, page, mosquitto] = [await receiver(), await receiver(), await startMosquitto()];
      page.answers(200);
      const broker = `mqtt://127.0.0.1:${mosquitto.port}`;
      const data = join(folder, 'data');
      const served = await serve({ data, broker });
      await beating(broker);
      const run = await guarding(folder, siren, { url: page.url, broker });
      await patiently(() => expect(page.received.length).toBeGreaterThan(3));
      expect(siren.received).toEqual([]);
      served.kill('SIGKILL');
      await served.ended;
      await patiently(() => expect(postsOf(siren)).toMatchObject([{ kind: 'guard', priority: 'critical' }]));
      const again = await serve({ data, broker });
      await patiently(() => expect(postsOf(siren).slice(1)).toMatchObject([{ priority: 'medium' }]));
      again.kill('SIGTERM');
      await again.ended;
      await run.stop();
    });

    // It takes as long as it says.
    test('that stays away for half a minute', { timeout: 90_000, skip: !isThorough }, async () => {
      const folder = temporaryDir();
      const [siren, page] = [await receiver(), await receiver()];
      page.answers(200);
      const served = await serve({ data: join(folder, 'data') });
      const broker = `mqtt://127.0.0.1:${served.mqttPort}`;
      await beating(broker);
      const run = await guarding(folder, siren, { url: page.url, broker });
      served.kill('SIGKILL');
      await served.ended;
      const looks = page.received.length;
      await vi.waitFor(
        () => expect(postsOf(siren)).toMatchObject([{ kind: 'guard', priority: 'critical' }]),
        { timeout: 60_000, interval: 100 },
      );
      // A look a second: what it was told by its URL alone would have come after three of them.
      expect(page.received.length - looks).toBeGreaterThan(10);
      await run.stop();
    });
  });

  test.for([
    [[]],
    [['--url', 'ftp://10.0.0.5']],
    [['--url', 'http://10.0.0.5']],
    [['--url', 'http://10.0.0.5', '--post', 'http://10.0.0.7']],
    [['--url', 'http://10.0.0.5', '--every', '0']],
  ] as const)('wrong use %j ends with 2 and one line', async ([args]) => {
    const { code, err } = await runCommand(temporaryDir(), ['guard', ...args]);
    expect(code).toBe(2);
    expect(err.trim().split('\n')).toHaveLength(1);
  });
});
