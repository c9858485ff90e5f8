import { spawnSync } from 'node:child_process';
import { once } from 'node:events';
import { existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { type AddressInfo, createServer, type Server } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import Database from 'better-sqlite3';
import { connectAsync } from 'mqtt';
import { afterAll, beforeAll, describe, expect, onTestFinished, test } from 'vitest';
import { Api } from '../support/api.ts';
import { runCommand, runHere, startCommand } from '../support/command.ts';
import { withReadOnlySwitch } from '../support/read-only-folder.ts';
import { share } from '../support/thorough.ts';

const VERBS = [
  'serve',
  'unit',
  'demo',
  'simulate',
  'probe',
  'plan',
  'replay',
  'verify',
  'backup',
  'restore',
  'person',
  'device',
];
const BUILT = fileURLToPath(new URL('../../dist/daemon/main.js', import.meta.url));
/** Ports of nobody's choosing, so that nothing else is in the way. */
const FREE = ['--http', '127.0.0.1:0', '--mqtt', '127.0.0.1:0'];

let folder: string;
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'esterwatch-commands-'));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const start = (args: string[], input?: string) => startCommand(folder, args, input);
const run = (args: string[], input?: string) => runCommand(folder, args, input);

/** Wrong use: one line on stderr that names what is wrong, exit 2, nothing on stdout. */
async function expectWrongUse(
  args: string[],
  names: string | string[],
  how: (folder: string, args: string[]) => ReturnType<typeof runHere> = runHere,
): Promise<void> {
  const { code, out, err } = await how(folder, args);
  expect({ code, out, lines: err.split('\n').length }, err).toEqual({ code: 2, out: '', lines: 2 });
  expect(err).toMatch(/^esterwatch: .+\n$/);
  for (const name of [names].flat()) expect(err).toContain(name);
}

/** The same of the program as built: each verb once, and all that its wiring and the machine have a part in. */
const expectProgramRefuses = (args: string[], names: string) => expectWrongUse(args, names, runCommand);

async function takenPort(): Promise<{ server: Server; port: number }> {
  const server = createServer().listen(0, '127.0.0.1');
  await once(server, 'listening');
  onTestFinished(() => void server.close());
  return { server, port: (server.address() as AddressInfo).port };
}

async function freePort(): Promise<number> {
  const { server, port } = await takenPort();
  server.close();
  await once(server, 'close');
  return port;
}

const file = (name: string, text: string) => {
  const path = join(folder, name);
  writeFileSync(path, text);
  return path;
};

describe('help', () => {
  test.for([['--help'], ['-h'], ['help'], []])('esterwatch %s names every verb', async (args) => {
    const { code, out, err } = await run(args);
    expect([code, err]).toEqual([0, '']);
    for (const verb of VERBS) expect(out).toContain(verb);
  });

  // What the built program says of itself is in `reference-pages.test.ts`.
  test.for(VERBS)('%s --help', async (verb) => {
    const { code, out, err } = await runHere(folder, [verb, '--help']);
    expect([code, err]).toEqual([0, '']);
    expect(out).toContain(`esterwatch ${verb}`);
    expect((await runHere(folder, [verb, '-h'])).out).toBe(out);
  });
});

describe('who is let in', () => {
  const PASSPHRASE = 'seven ducks in a row';

  test('a person is set up by the first line of what comes in, listed, and removed', async () => {
    const data = ['--data', join(folder, 'people')];
    const added = await run(
      ['person', 'add', 'Ada Brook', '--rights', 'work,keep', ...data],
      `${PASSPHRASE}\nmore`,
    );
    expect([added.code, added.err]).toEqual([0, '']);
    const plain = await run(['person', 'add', 'Ben', ...data], `${PASSPHRASE}\r\n`);
    expect(plain.code).toBe(0);
    expect((await run(['person', 'list', ...data])).out).toBe('Ada Brook  look,work,keep\nBen  look\n');
    expect((await run(['person', 'remove', 'Ben', ...data])).code).toBe(0);
    expect((await run(['person', 'list', ...data])).out).toBe('Ada Brook  look,work,keep\n');
    await expectProgramRefuses(['person', 'remove', 'Ben', ...data], 'Ben');
  });

  test('what is no person, no right or no passphrase', async () => {
    const data = ['--data', join(folder, 'nobody')];
    await expectWrongUse(['person', ...data], 'add NAME');
    await expectWrongUse(['person', 'add', ...data], 'add NAME');
    await expectWrongUse(['person', 'greet', 'Ada', ...data], 'add NAME');
    await expectWrongUse(['person', 'add', ' ', ...data], 'name');
    await expectWrongUse(['person', 'add', 'Ada', '--rights', 'all', ...data], '--rights');
    const { code, out, err } = await run(['person', 'add', 'Ada', ...data], 'short\n');
    expect({ code, out, lines: err.split('\n').length }).toEqual({ code: 2, out: '', lines: 2 });
    expect((await run(['person', 'add', 'Ada', ...data], '')).code).toBe(2);
    expect((await run(['person', 'list', ...data])).out).toBe('');
  });

  test('a device’s secret is printed once, alone on the last line', async () => {
    const data = ['--data', join(folder, 'devices')];
    const { code, out, err } = await run(['device', 'add', 'probe-1', '--site', 'barn', ...data]);
    expect(code).toBe(0);
    // No daemon keeps anything there: it may be another folder than the daemon's.
    expect(err).toContain('--data');
    expect(out.trimEnd().split('\n').at(-1)).toMatch(/^[\w-]{32}$/);
    expect((await run(['device', 'list', ...data])).out).toBe('probe-1  barn\n');
    expect((await run(['device', 'remove', 'probe-1', ...data])).code).toBe(0);
    expect((await run(['device', 'list', ...data])).out).toBe('');
    await expectProgramRefuses(['device', 'add', 'Probe 1', ...data], 'Probe 1');
    await expectProgramRefuses(['device', 'remove', 'probe-1', ...data], 'probe-1');
  });

  test('beyond this machine a person and a device have to be set up', async () => {
    const data = ['--data', join(folder, 'beyond')];
    const open = ['serve', ...data, '--http', '0.0.0.0:0', '--mqtt', '0.0.0.0:0'];
    await expectProgramRefuses(open, 'person add');
    await run(['person', 'add', 'Ada', '--rights', 'keep', ...data], PASSPHRASE);
    await expectProgramRefuses(open, 'device add');
    await run(['device', 'add', 'probe-1', ...data]);
    const daemon = start(open);
    await daemon.says(/no safety interlock/);
    const port = /page: http:\/\/[^:]+:(\d+)/.exec(daemon.err())![1];
    const status = async () => (await fetch(`http://127.0.0.1:${port}/api/v1/vessels`)).status;
    expect(await status()).toBe(401);
    // The last one removed beside it opens nothing.
    await run(['person', 'remove', 'Ada', ...data]);
    expect(await status()).toBe(401);
    daemon.child.kill('SIGTERM');
    expect(await daemon.ended).toBe(0);
  });
});

test('what was built starts as the package’s own command does', () => {
  const { status, stdout } = spawnSync(BUILT, ['--help'], { encoding: 'utf8' });
  expect(status).toBe(0);
  expect(stdout).toContain('serve');
});

describe('wrong use', () => {
  test.for(['brew', 'constructor', '__proto__', '--data', 'SERVE'])('verb %s', async (verb) => {
    await expectWrongUse([verb], verb);
  });

  test.for(VERBS)('%s with a flag that it does not have', async (verb) => {
    await expectProgramRefuses([verb, '--colour', 'red'], '--colour');
  });

  test.for(VERBS)('%s with a word too many', async (verb) => {
    await expectWrongUse([verb, 'everything'], 'everything');
  });

  test('a flag without its value', async () => {
    await expectWrongUse(['serve', '--data'], '--data');
  });

  const NO_ADDRESSES = [
    '127.0.0.1:65536',
    '8080',
    'localhost',
    'localhost:',
    ':8080',
    '127.0.0.1:http',
    '127.0.0.1:-1',
    '',
    '::1:80',
    'a b:80',
  ];
  test.for(NO_ADDRESSES.slice(0, share(NO_ADDRESSES.length)))('HOST:PORT "%s"', async (address) => {
    await expectWrongUse(['serve', '--http', address], '--http');
    await expectWrongUse(['serve', '--mqtt', address], '--mqtt');
  });

  const NO_BROKERS = ['http://127.0.0.1:1883', '127.0.0.1:1883', 'mqtt', ''];
  test.for(NO_BROKERS.slice(0, share(NO_BROKERS.length)))('--broker "%s"', async (url) => {
    await expectWrongUse(['serve', '--broker', url], '--broker');
  });

  test('a broker of its own and another', async () => {
    await expectWrongUse(['serve', '--broker', 'mqtt://127.0.0.1', '--mqtt', '127.0.0.1:0'], '--broker');
  });

  const NO_SPEEDS = ['0', 'fast', '-1', '', '1e9', 'NaN'];
  test.for(NO_SPEEDS.slice(0, share(NO_SPEEDS.length, 3)))('--speed "%s"', async (speed) => {
    await expectWrongUse(['demo', `--speed=${speed}`], '--speed');
    await expectWrongUse(['simulate', `--speed=${speed}`], '--speed');
  });

  test('a scenario that there is not', async () => {
    await expectWrongUse(['simulate', '--scenario', 'constructor'], 'constructor');
    await expectWrongUse(['demo', '--scenario', 'constructor'], 'constructor');
    await expectWrongUse(['simulate', '--broker', 'localhost:1883'], 'mqtt://');
  });

  test.for(['0.0.0.0:0', '[::]:0', '192.0.2.1:0'])(
    'listening on %s without saying that it is meant',
    async (open) => {
      const data = join(folder, 'open');
      await expectWrongUse(
        ['serve', '--data', data, '--http', open, '--mqtt', '127.0.0.1:0'],
        '--open-network',
      );
      await expectWrongUse(
        ['serve', '--data', data, '--http', '127.0.0.1:0', '--mqtt', open],
        '--open-network',
      );
      expect(existsSync(data)).toBe(false);
    },
  );

  test('the demonstration beyond this machine', async () => {
    await expectWrongUse(['demo', '--http', '0.0.0.0:0'], '--http');
  });
});

describe('what the machine does not allow', () => {
  test('a port in use, of HTTP and of MQTT', async () => {
    const { port } = await takenPort();
    const taken = `127.0.0.1:${port}`;
    const data = join(folder, 'port-in-use');
    await expectProgramRefuses(['serve', '--data', data, '--http', taken, '--mqtt', '127.0.0.1:0'], taken);
    await expectProgramRefuses(['serve', '--data', data, '--http', '127.0.0.1:0', '--mqtt', taken], taken);
    await expectProgramRefuses(['demo', '--http', taken, '--mqtt', '127.0.0.1:0'], taken);
  });

  test('an address that is not this machine’s', async () => {
    const elsewhere = ['--http', '192.0.2.1:0', '--mqtt', '127.0.0.1:0', '--open-network'];
    await expectProgramRefuses(['serve', '--data', join(folder, 'elsewhere'), ...elsewhere], '192.0.2.1');
  });

  test('a data folder that is a file, or below one', async () => {
    const path = file('a-file', 'not a folder');
    await expectProgramRefuses(['serve', '--data', path, ...FREE], path);
    await expectProgramRefuses(['serve', '--data', join(path, 'data'), ...FREE], path);
  });

  test('a data folder with a database that is none, or another program’s', async () => {
    for (const [name, text] of [
      ['letter', 'a letter to nobody, longer than the head of a database'.repeat(99)],
      ['short', 'hello'],
    ] as const) {
      const data = join(folder, name);
      mkdirSync(data);
      writeFileSync(join(data, 'store.db'), text);
      await expectProgramRefuses(['serve', '--data', data, ...FREE], data);
      expect(readFileSync(join(data, 'store.db'), 'utf8')).toBe(text);
    }
    const data = join(folder, 'recipes');
    mkdirSync(data);
    const recipes = new Database(join(data, 'store.db'));
    recipes.exec('CREATE TABLE recipe (name TEXT)');
    recipes.close();
    await expectProgramRefuses(['serve', '--data', data, ...FREE], data);
  });

  test('a data folder that is read-only', async ({ skip }) => {
    const data = join(folder, 'read-only');
    mkdirSync(data);
    const place = withReadOnlySwitch(data);
    if (place === undefined) return skip('there is no way here to make a folder read-only');
    onTestFinished(place.remove);
    place.makeReadOnly();
    await expectProgramRefuses(['serve', '--data', data, ...FREE], data);
  });

  test('a data folder that another daemon has', async () => {
    const data = join(folder, 'in-use');
    const first = start(['serve', '--data', data, ...FREE]);
    await first.says(/no safety interlock/);
    await expectProgramRefuses(['serve', '--data', data, ...FREE], data);
    first.child.kill('SIGTERM');
    expect(await first.ended).toBe(0);
  });
});

describe('the configuration file', () => {
  const wrong = (name: string, text: string, names: string) =>
    expectWrongUse(['serve', '--config', file(name, text), ...FREE], names);

  test('that is not there, or is a folder', async () => {
    const nowhere = join(folder, 'nowhere.json');
    // In words, with what to do, and no code of the system's.
    for (const verb of ['serve', 'unit']) {
      await expectWrongUse([verb, '--config', nowhere], [nowhere, 'no such file (', 'leave --config out']);
      await expectWrongUse([verb, '--config', folder], [folder, 'is a folder']);
    }
    await expectWrongUse(['probe', '--config', nowhere], [nowhere, 'no such file (', 'probe > probe.json']);
    await expectWrongUse(['guard', '--config', nowhere], [nowhere, 'no such file (']);
    await expectProgramRefuses(['serve', '--config', nowhere], 'nowhere.json');
  });

  test('that is no JSON', async () => {
    await wrong('text.json', 'data = ./data\nhttp = 8080\n', 'text.json');
    await wrong('cut.json', '{\n  "data": "./data",\n', 'cut.json');
    await wrong('empty.json', '', 'empty.json');
  });

  test('with something in it that it cannot have', async () => {
    await wrong('unknown.json', '{"colour":"red"}', 'colour');
    await wrong('proto.json', '{"constructor":1}', 'constructor');
    await wrong('list.json', '[]', 'list.json');
    await wrong('address.json', '{"http":"8080"}', 'http');
    await wrong('broker.json', '{"broker":"http://127.0.0.1"}', 'broker');
    await wrong(
      'topic.json',
      '{"topics":[{"filter":"x","site":"Barn","vessel":"r1","channel":"c"}]}',
      'topics.0.site',
    );
    await wrong(
      'filter.json',
      '{"topics":[{"filter":"a/#/b","site":"barn","vessel":"r1","channel":"c"}]}',
      'topics.0.filter',
    );
    await wrong('port.json', '{"mqtt":"127.0.0.1:99999"}', 'mqtt');
  });

  test('options go before it', async () => {
    const data = join(folder, 'configured');
    const config = file('fine.json', JSON.stringify({ data, http: '0.0.0.0:0', mqtt: '127.0.0.1:0' }));
    const served = start(['serve', '--config', config, '--http', '127.0.0.1:0']);
    await served.says(/no safety interlock/);
    expect(existsSync(data)).toBe(true);
    served.child.kill('SIGTERM');
    expect(await served.ended).toBe(0);
  });
});

describe('serve', () => {
  test.for(['SIGTERM', 'SIGINT'] as const)(
    'says where it is in lines of JSON, and stops cleanly on %s',
    async (signal) => {
      const served = start(['serve', '--data', join(folder, `serve-${signal}`), ...FREE]);
      await served.says(/no safety interlock/);
      const [, url] = /page: (http:\/\/127\.0\.0\.1:\d+\/)/.exec(served.err())!;
      const health = await fetch(`${url}api/v1/health`);
      expect(health.status).toBe(200);
      await health.text();
      expect((await fetch(url!)).headers.get('content-type')).toMatch(/^text\/html/);
      served.child.kill(signal);
      expect(await served.ended).toBe(0);
      const lines = served
        .err()
        .trimEnd()
        .split('\n')
        .map((line) => JSON.parse(line));
      for (const line of lines)
        expect(line).toMatchObject({ level: 30, time: expect.any(Number), msg: expect.any(String) });
      expect(lines.at(-1).msg).toMatch(/stopped/);
      expect(served.out()).toBe('');
    },
  );
});

describe('replay', () => {
  const vessel = {
    type: 'vessel',
    vessel: 'r1',
    role: 'reactor',
    site: { pressureHPa: 1013.25 },
    plan: { reactionTemperatureC: 55 },
  };
  const at = (seconds: number) => new Date(Date.UTC(2026, 2, 2, 10, 0, seconds)).toISOString();
  const reading = (seconds: number, value: number) => ({
    type: 'reading',
    at: at(seconds),
    vessel: 'r1',
    channel: 'liquid-temperature',
    value,
  });
  const ndjson = (lines: unknown[]) => `${lines.map((line) => JSON.stringify(line)).join('\n')}\n`;
  const parse = (text: string) =>
    text
      .trimEnd()
      .split('\n')
      .map((line) => JSON.parse(line));

  test('reads a run from stdin and prints what the rules say, then the summary', async () => {
    const { code, out, err } = await run(
      ['replay'],
      ndjson([
        vessel,
        reading(0, 60),
        { type: 'stage', at: at(0), vessel: 'r1', stage: 'react' },
        reading(1, 62.5),
        'nonsense',
        reading(2, 60),
        { type: 'end', at: at(3) },
      ]),
    );
    expect([code, err]).toEqual([0, '']);
    expect(parse(out)).toMatchObject([
      {
        type: 'alarm',
        at: at(1),
        vessel: 'r1',
        alarm: 'boiling-near',
        event: 'raised',
        priority: 'high',
        late: false,
      },
      { type: 'refused', line: 5, because: expect.any(String) },
      { type: 'alarm', at: at(2), vessel: 'r1', alarm: 'boiling-near', event: 'cleared' },
      { type: 'summary', vessel: 'r1', highestLiquidC: 62.5 },
    ]);
  });

  test('nothing at all gives nothing', async () => {
    expect(await run(['replay'], '')).toEqual({ code: 0, out: '', err: '' });
  });

  test('no feed at the end, carriage returns and empty lines are all the same', async () => {
    const lines = [vessel, reading(0, 20)].map((line) => JSON.stringify(line));
    const { code, out } = await run(['replay'], `${lines[0]}\r\n\r\n\n${lines[1]}`);
    expect(code).toBe(0);
    expect(parse(out)).toMatchObject([{ type: 'summary', highestLiquidC: 20 }]);
  });

  test('a reader that has seen enough ends it without a word', async () => {
    const { child, ended, err } = start(['replay'], ndjson([vessel, ...Array(50_000).fill('nonsense')]));
    child.stdout!.once('data', () => child.stdout!.destroy());
    expect(await ended).toBe(0);
    expect(err()).toBe('');
  });
});

describe('replay of other sources and by other limits', () => {
  const at = (seconds: number) => new Date(Date.UTC(2026, 2, 2, 10, 0, seconds)).toISOString();
  const raised = (out: string): string[] =>
    out
      .split('\n')
      .filter((line) => line.includes('"raised"'))
      .map((line) => JSON.parse(line).alarm);
  const csv = () => file('log.csv', `Zeit;T\n02.03.2026 11:00:01;60,5\n02.03.2026 11:00:02;--\n`);
  const map = (some: object = {}) =>
    file(
      'map.json',
      JSON.stringify({
        separator: ';',
        decimalComma: true,
        time: { column: 'Zeit', form: 'DD.MM.YYYY HH:mm:ss', offset: '+01:00' },
        columns: [{ column: 'T', vessel: 'r1', channel: 'liquid-temperature' }],
        vessels: [{ vessel: 'r1', site: { pressureHPa: 1013.25 } }],
        stages: [{ at: at(0), vessel: 'r1', stage: 'react' }],
        ...some,
      }),
    );
  const limits = (text = '{"nearMarginC":5}') => file('limits.json', text);
  const run1 = [
    { type: 'vessel', vessel: 'r1', site: { pressureHPa: 1013.25 }, plan: { limits: { nearMarginC: 1 } } },
    { type: 'stage', at: at(0), vessel: 'r1', stage: 'react' },
    { type: 'reading', at: at(1), vessel: 'r1', channel: 'liquid-temperature', value: 60.5 },
  ]
    .map((line) => JSON.stringify(line))
    .join('\n');

  test('limits go over those of the plans', async () => {
    expect(raised((await run(['replay'], run1)).out)).toEqual([]);
    const { code, out, err } = await run(['replay', '--limits', limits()], run1);
    expect([code, raised(out), err]).toEqual([0, ['boiling-near'], '']);
    expect(raised((await run(['replay', '--limits', limits('{}')], run1)).out)).toEqual([]);
  });

  test('limits make no line good that is not, and leave all others as they are', async () => {
    const lines = [
      '{"type":"vessel","vessel":"r1","plan":[]}',
      '{"type":"vessel","vessel":"r1","plan":null}',
      '{"type":"vessel","vessel":"r1","plan":{"limits":5}}',
      '{"type":"vessel","vessel":"r1","plan":{"limits":{"nearMargin":5}}}',
      '"vessel"',
      'null',
      '{"type":"vessel"',
      ' {"vessel":"r1","type":"vessel","site":{"pressureHPa":1013.25}} \r',
      `{"at":"${at(0)}","type":"stage","vessel":"r1","stage":"react"}`,
      `{"at":"${at(1)}","type":"reading","vessel":"r1","channel":"liquid-temperature","value":60.5}`,
    ];
    const { out } = await run(['replay', '--limits', limits()], lines.join('\n'));
    const refused = out.split('\n').flatMap((line) => /"refused","line":(\d+)/.exec(line)?.[1] ?? []);
    expect(refused).toEqual(['1', '2', '3', '4', '5', '6', '7']);
    expect(raised(out)).toEqual(['boiling-near']);
  });

  test('a CSV file', async () => {
    const { code, out, err } = await run(['replay', '--csv', csv(), '--map', map()]);
    expect([code, err]).toEqual([0, '']);
    const lines = out
      .trimEnd()
      .split('\n')
      .map((line) => JSON.parse(line));
    expect(lines).toMatchObject([
      { type: 'refused', line: 3 },
      { type: 'summary', vessel: 'r1', highestLiquidC: 60.5 },
    ]);
    const { out: other } = await run(['replay', '--csv', csv(), '--map', map(), '--limits', limits()]);
    expect(raised(other)).toEqual(['boiling-near']);
  });

  test('a batch out of the store, beside the daemon that writes it and without it', async () => {
    const data = join(folder, 'replayed');
    const served = start(['serve', '--data', data, ...FREE]);
    await served.says(/no safety interlock/);
    const port = (name: string) =>
      Number(new RegExp(`${name}: \\w+://127\\.0\\.0\\.1:(\\d+)`).exec(served.err())![1]);
    const api = new Api(port('page'));
    const device = await connectAsync(`mqtt://127.0.0.1:${port('readings')}`);
    const send = (value: number) =>
      device.publishAsync('esterwatch/v1/reading/shed/r1/liquid-temperature', String(value), { qos: 1 });
    await api.stateSite('shed', { pressureHPa: 1013.25 });
    await send(60.4);
    const batch = await api.openBatch('shed:r1');
    await api.enter(batch, 'react');
    await send(60.5);
    await send(62.5);
    await device.endAsync();

    const args = ['replay', '--data', data, '--batch', batch];
    const beside = await run(args);
    expect([beside.code, beside.err]).toEqual([0, '']);
    expect(raised(beside.out)).toEqual(['boiling-near']);
    expect(raised(beside.out)).toEqual((await api.alarms('?vessel=shed:r1')).map(({ alarm }) => alarm));
    expect(raised((await run([...args, '--limits', limits('{"nearMarginC":1}')])).out)).toEqual([]);

    served.child.kill('SIGTERM');
    expect(await served.ended).toBe(0);
    expect(raised((await run(args)).out)).toEqual(['boiling-near']);
    await expectProgramRefuses(['replay', '--data', data, '--batch', 'nothing'], 'nothing');
    // It has left nothing behind that would keep a daemon out.
    const again = start(['serve', '--data', data, ...FREE]);
    await again.says(/no safety interlock/);
    again.child.kill('SIGTERM');
    expect(await again.ended).toBe(0);
  });

  test('where there is no store, or another program’s', async () => {
    await expectProgramRefuses(['replay', '--batch', 'b1'], './data');
    const data = join(folder, 'nowhere');
    await expectProgramRefuses(['replay', '--data', data, '--batch', 'b1'], data);
    expect(existsSync(data)).toBe(false);
    const other = mkdtempSync(join(folder, 'other-'));
    writeFileSync(
      join(other, 'store.db'),
      'something else entirely, and long enough to be looked at'.repeat(50),
    );
    await expectProgramRefuses(['replay', '--data', other, '--batch', 'b1'], other);
  });

  test('options that do not go together', async () => {
    await expectWrongUse(['replay', '--data', folder], '--batch');
    await expectWrongUse(['replay', '--csv', csv()], '--map');
    await expectWrongUse(['replay', '--map', map()], '--csv');
    await expectWrongUse(['replay', '--csv', csv(), '--map', map(), '--batch', 'b1'], '--batch');
  });

  test('limits that are none', async () => {
    const wrong = (text: string, names: string) =>
      expectWrongUse(['replay', '--limits', limits(text)], names);
    await wrong('{"nearMargin":5}', 'nearMargin');
    await wrong('{"nearMarginC":"5"}', 'nearMarginC');
    await wrong('{"nearMarginC":-1}', 'nearMarginC');
    await wrong('{"constructor":1}', 'constructor');
    await wrong('[]', 'limits.json');
    await wrong('nearMarginC=5', 'limits.json');
    await expectWrongUse(['replay', '--limits', join(folder, 'none.json')], 'none.json');
  });

  test('a mapping or a table that means nothing', async () => {
    const wrong = (some: object, names: string) =>
      expectWrongUse(['replay', '--csv', csv(), '--map', map(some)], names);
    await wrong({ colour: 'red' }, 'colour');
    await wrong({ vessels: [{ vessel: 'r1', plan: { limits: { nearMargin: 5 } } }] }, 'nearMargin');
    await wrong({ columns: [{ column: 'U', vessel: 'r1', channel: 'liquid-temperature' }] }, 'U');
    await wrong({ time: { column: 'Zeit', form: 'DD.MM.YYYY', offset: '+01:00' } }, 'time.form');
    await expectWrongUse(['replay', '--csv', join(folder, 'none.csv'), '--map', map()], 'none.csv');
    await expectWrongUse(['replay', '--csv', folder, '--map', map()], 'EISDIR');
  });
});

describe('simulate', () => {
  test('says so where there is no broker, and stops when it is told to', async () => {
    const simulated = start(['simulate', '--broker', `mqtt://127.0.0.1:${await freePort()}`]);
    await simulated.says(/nothing listens at 127\.0\.0\.1/);
    simulated.child.kill('SIGTERM');
    expect(await simulated.ended).toBe(0);
    expect(simulated.out()).toBe('');
  });
});
