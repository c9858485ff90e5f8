import { execFile, spawnSync } from 'node:child_process';
import { copyFileSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { promisify } from 'node:util';
import { connectAsync } from 'mqtt';
import { describe, expect, test } from 'vitest';
import { readingTopic } from '../../shared/wire/topics.ts';
import { Api } from '../support/api.ts';
import { runCommand } from '../support/command.ts';
import { serve } from '../support/serving.ts';
import { temporaryDir } from './store/fixture.ts';

const run = promisify(execFile);
/** Those before 250 judge no file that is not installed. */
const isSystemdHere =
  Number(/^systemd (\d+)/.exec(String(spawnSync('systemd-analyze', ['--version']).stdout))?.[1]) >= 250;

/** The unit that a command prints. */
async function printed(folder: string, ...args: string[]): Promise<string> {
  const { code, out, err } = await runCommand(folder, ['unit', ...args]);
  expect(code, err).toBe(0);
  return out;
}

/** Each directive with its values, in the order of the lines. */
function directivesOf(unit: string): Map<string, string[]> {
  const directives = new Map<string, string[]>();
  for (const line of unit.split('\n').filter((text) => text !== '' && !/^[#[]/.test(text))) {
    const [, name, value] = /^([A-Z]\w*)=(.*)$/.exec(line) ?? expect.fail(`no directive: ${line}`);
    directives.set(name!, [...(directives.get(name!) ?? []), value!]);
  }
  return directives;
}

/** What systemd itself finds in a unit; nothing where all is well. */
async function findings(folder: string, unit: string): Promise<string> {
  const file = join(folder, 'esterwatch.service');
  writeFileSync(file, unit);
  return run('systemd-analyze', ['verify', '--man=no', file]).then(
    ({ stdout, stderr }) => stdout + stderr,
    ({ stdout, stderr, code }) => `${stdout}${stderr}, exit ${code}`,
  );
}

const withConfig = (folder: string, config: object): string => {
  const file = join(folder, 'esterwatch.json');
  writeFileSync(file, JSON.stringify(config));
  return file;
};

test('it starts the daemon with the machine and after every end, and hears from it', async () => {
  const unit = directivesOf(await printed(temporaryDir()));
  expect(unit.get('ExecStart')![0]).toMatch(
    /^\/\S+ \/\S+\/dist\/daemon\/main\.js serve --data \/var\/lib\/esterwatch$/,
  );
  expect(Object.fromEntries(unit)).toMatchObject({
    Type: ['notify'],
    NotifyAccess: ['all'],
    Restart: ['always'],
    StartLimitIntervalSec: ['0'],
    User: ['esterwatch'],
    StateDirectory: ['esterwatch'],
    ProtectSystem: ['strict'],
    ProtectHome: ['yes'],
    CapabilityBoundingSet: [''],
    WantedBy: ['multi-user.target'],
  });
  expect(unit.has('ReadWritePaths')).toBe(false);
});

test('it allows what the configuration asks for, and no more', async () => {
  const folder = temporaryDir();
  const backup = { folder: join(folder, 'copies') };
  const config = withConfig(folder, { data: '/srv/esterwatch', http: '0.0.0.0:443', backup });
  const unit = directivesOf(await printed(folder, '--config', config, '--user', 'watch'));
  expect(Object.fromEntries(unit)).toMatchObject({
    User: ['watch'],
    ReadWritePaths: [`/srv/esterwatch -${backup.folder}`],
    RequiresMountsFor: ['/srv/esterwatch'],
    CapabilityBoundingSet: ['CAP_NET_BIND_SERVICE'],
    AmbientCapabilities: ['CAP_NET_BIND_SERVICE'],
  });
  expect(unit.has('StateDirectory')).toBe(false);
  expect(unit.get('ExecStart')![0]).toContain(`--config ${config}`);
  const atHome = directivesOf(await printed(folder, '--data', '/home/ada/esterwatch'));
  expect(atHome.get('ProtectHome')).toEqual(['read-only']);
});

test('paths are said as each line reads them, and as the daemon takes them', async () => {
  const folder = temporaryDir();
  const config = withConfig(folder, {
    data: "/srv/Ida's 50 % $HOME",
  });
  const text = await printed(folder, '--config', config);
  const unit = directivesOf(text);
  const [, ...words] = unit.get('ExecStart')![0]!.split(' serve --data ');
  expect(words).toEqual([`"/srv/Ida's 50 %% $$HOME" --config ${config}`]);
  expect(unit.get('WorkingDirectory')).toEqual(["/srv/Ida's 50 %% $HOME"]);
  expect(unit.get('RequiresMountsFor')).toEqual([`"/srv/Ida's 50 %% $HOME"`]);
  // The shell itself says what it takes.
  const line = /^# +install (.*)$/m.exec(text)![1]!;
  const { stdout } = spawnSync('sh', ['-c', `HOME=gone; printf '%s\n' ${line}`]);
  expect(String(stdout).trimEnd().split('\n').at(-1)).toBe("/srv/Ida's 50 % $HOME");

  const beside = withConfig(folder, { backup: { folder: '../"copies"' } });
  const writes = directivesOf(await printed(folder, '--config', beside)).get('ReadWritePaths');
  // From where the daemon runs, which is its data folder.
  expect(writes).toEqual([`'-/var/lib/"copies"'`]);

  // A colon would have it made under another name.
  const colon = directivesOf(await printed(folder, '--data', '/var/lib/fuel:1'));
  expect(colon.has('StateDirectory')).toBe(false);
  expect(colon.get('ReadWritePaths')).toEqual(['/var/lib/fuel:1']);
});

test('a program is said without what only its arguments want, and refused where systemd refuses it', () => {
  const folder = temporaryDir();
  const by = (name: string) => {
    const node = join(folder, name, 'node');
    mkdirSync(join(folder, name));
    copyFileSync(process.execPath, node);
    return spawnSync(node, [join('dist', 'daemon', 'main.js'), 'unit'], { encoding: 'utf8' });
  };
  const { stdout } = by('a$b %');
  expect(directivesOf(stdout).get('ExecStart')![0]).toMatch(/^"\S+a\$b %%\/node" /);
  const refused = by("Ida's");
  expect([refused.status, refused.stdout]).toEqual([2, '']);
  expect(refused.stderr).toContain('quotes');
});

test.for([
  [['--data', '/srv/x\\'], 'back-slash'],
  [['--data', '/srv/a\\b'], 'back-slash'],
  [['--data', '/srv/x '], 'blank'],
  [['--data', `/srv/"a" 'b'`], 'quotes'],
  [['--user', 'a b'], '--user'],
  [['--user', 'x\nExecStart=/bin/sh'], '--user'],
  [['--data', '/srv/x\nUser=root'], 'line break'],
  [['--config', 'nowhere.json'], 'nowhere.json'],
] as const)('what cannot stand in a unit is wrong use: %j', async ([args, names]) => {
  const { code, out, err } = await runCommand(temporaryDir(), ['unit', ...args]);
  expect([code, out]).toEqual([2, '']);
  expect(err).toContain(names);
});

describe.runIf(isSystemdHere)('systemd itself', () => {
  test('finds nothing in it, with names of every kind', async () => {
    const folder = temporaryDir();
    expect(await findings(folder, await printed(folder))).toBe('');
    const backup = { folder: '/mnt/a "stick" of 100 %' };
    const config = withConfig(folder, { data: '/srv/fuel, $HOME and 50 % more', backup, mqtts: '[::]:883' });
    const unit = await printed(folder, '--config', config);
    expect(await findings(folder, unit)).toBe('');
    // That it would have found something.
    expect(await findings(folder, unit.replace('ProtectSystem=strict', 'ProtectSystem=mostly'))).toContain(
      'protect system',
    );
  });

  test('calls what it may do little', async () => {
    const folder = temporaryDir();
    const file = join(folder, 'esterwatch.service');
    writeFileSync(file, await printed(folder));
    // Tenths: from 0, nothing, to 10, everything. A daemon that compiles as it runs and is to be reached has some.
    const args = ['security', '--offline=true', '--threshold=20', '--no-pager', file];
    await expect(run('systemd-analyze', args)).resolves.toBeDefined();
  });

  /** Calls of the system in sets of systemd's, the sets in them included. */
  async function callsOf(...sets: string[]): Promise<Set<string>> {
    const calls = new Set<string>();
    for (const set of sets) {
      const { stdout } = await run('systemd-analyze', ['syscall-filter', set]);
      const words = stdout
        .split('\n')
        .slice(1)
        .map((line) => line.trim());
      for (const word of words.filter((text) => text !== '' && !text.startsWith('#'))) {
        if (word.startsWith('@')) for (const call of await callsOf(word)) calls.add(call);
        else calls.add(word);
      }
    }
    return calls;
  }

  test('a daemon that is refused what the unit refuses does all its work', async () => {
    const folder = temporaryDir();
    const unit = directivesOf(await printed(folder));
    const [allowed, refused] = unit.get('SystemCallFilter') as [string, string];
    const mayDo = await callsOf(...allowed.split(' '));
    for (const call of await callsOf(...refused.replace('~', '').split(' '))) mayDo.delete(call);
    // Asked for by Node.js and SQLite, which do without: they are answered as systemd would.
    const doneWithout = ['pkey_alloc', 'fchown'];
    for (const call of doneWithout) expect(mayDo, call).not.toContain(call);

    const [trace, data] = [join(folder, 'trace'), join(folder, 'data')];
    mkdirSync(data, { mode: 0o700 });
    const daemon = await serve({
      data,
      under: [
        ...['env', `NOTIFY_SOCKET=${join(folder, 'nobody')}`, 'WATCHDOG_USEC=1000000'],
        ...['strace', '-D', '-f', '-qq', '-o', trace, '-e', `inject=${doneWithout.join(',')}:error=EPERM`],
      ],
    });
    const device = await connectAsync(`mqtt://127.0.0.1:${daemon.mqttPort}`);
    await device.publishAsync(readingTopic('barn', 'r1', 'liquid-temperature'), '54.2', { qos: 1 });
    await device.endAsync();
    const api = new Api(daemon.httpPort);
    await api.stateSite('barn', { altitudeM: 340 });
    const batch = await api.openBatch('barn:r1');
    await api.call('GET', `/api/v1/batches/${batch}/record?format=pdf`);
    await api.call('PUT', '/api/v1/reach/people/Ada', { email: 'ada@example.org' });
    expect((await api.raw('barn:r1')).value).toEqual([54.2]);
    daemon.kill('SIGTERM');
    expect((await daemon.ended).code).toBe(0);

    const lines = readFileSync(trace, 'utf8').split('\n');
    const used = new Set(lines.flatMap((line) => /^\d+ +(?:<\.\.\. )?([a-z]\w*)/.exec(line)?.[1] ?? []));
    expect(used).toContain('fsync');
    expect([...used].filter((call) => !mayDo.has(call) && !doneWithout.includes(call))).toEqual([]);
    const families = new Set(lines.flatMap((line) => /\bsocket\((AF_\w+)/.exec(line)?.[1] ?? []));
    expect(families).toContain('AF_INET');
    const mayUse = unit.get('RestrictAddressFamilies')![0]!.split(' ');
    expect([...families].filter((family) => !mayUse.includes(family))).toEqual([]);
    const written = lines.flatMap(
      (line) => /openat\(\w+, "([^"]+)", [^)]*O_(?:WRONLY|RDWR|CREAT)[^)]*\) += \d/.exec(line)?.[1] ?? [],
    );
    expect(written).toContain(join(data, 'store.db'));
    expect(written.filter((file) => !file.startsWith(`${data}/`) && !file.startsWith('/dev/'))).toEqual([]);
  });
});
