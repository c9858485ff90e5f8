import { execFile, spawn } from 'node:child_process';
import { cpSync, existsSync, mkdirSync, readFileSync, realpathSync, symlinkSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';
import { connectAsync } from 'mqtt';
import { expect, test } from 'vitest';
import { readingTopic } from '../../shared/wire/topics.ts';
import { temporaryDir } from '../daemon/store/fixture.ts';
import { Api } from '../support/api.ts';
import { endWithTests } from '../support/children.ts';

const run = promisify(execFile);
const ROOT = fileURLToPath(new URL('../../', import.meta.url));
const MODULES = join(ROOT, 'node_modules');

interface Packed {
  filename: string;
  files: { path: string }[];
}

const packageAt = (folder: string) =>
  JSON.parse(readFileSync(join(folder, 'package.json'), 'utf8')) as {
    bin?: Record<string, string>;
    dependencies?: Record<string, string>;
  };

/** Where a package finds another, as Node.js looks: beside itself, then a folder up, and so on. */
function found(name: string, from: string): string {
  for (let folder = from; ; folder = dirname(folder)) {
    const at = join(folder, 'node_modules', name);
    if (existsSync(at)) return at;
    if (folder === dirname(folder)) throw new Error(`${name} is not installed for ${from}`);
  }
}

/** Copies what packages need to run, and what those need, without a network: nothing else is there then. */
function copyDependencies(of: string, to: string, done = new Set<string>()): void {
  for (const name of Object.keys(packageAt(of).dependencies ?? {})) {
    const from = realpathSync(found(name, of));
    if (done.has(from)) continue;
    done.add(from);
    // Where npm put it: at the top, or inside the package that wants another version than all others.
    const place = join(to, from.slice(realpathSync(MODULES).length + 1));
    // C sources are only for compiling.
    cpSync(from, place, {
      recursive: true,
      filter: (path) => !/\/better-sqlite3\/(deps|src|build\/Release\/obj(\.target)?)$/.test(path),
    });
    copyDependencies(from, to, done);
  }
}

/** What `npm install TARBALL` leaves in an empty folder, its scripts not run; the package's own command. */
async function installed(folder: string): Promise<{ files: string[]; command: string }> {
  const pack = ['pack', '--ignore-scripts', '--json', '--pack-destination', folder];
  const { stdout } = await run('npm', pack, { cwd: ROOT });
  const [{ filename, files }] = [JSON.parse(stdout) as Packed[] | Record<string, Packed>].flatMap((all) =>
    Object.values(all),
  ) as [Packed];
  const modules = join(folder, 'node_modules');
  const home = join(modules, 'esterwatch');
  mkdirSync(join(modules, '.bin'), { recursive: true });
  mkdirSync(home);
  await run('tar', ['-xzf', join(folder, filename), '--strip-components=1', '-C', home]);
  copyDependencies(ROOT, modules);
  const command = join(modules, '.bin/esterwatch');
  symlinkSync(join(home, packageAt(home).bin!.esterwatch!), command);
  return { files: files.map(({ path }) => path), command };
}

test('the package runs from an empty folder, with nothing of this repository around it', {
  timeout: 60_000,
}, async () => {
  const folder = temporaryDir();
  const { files, command } = await installed(folder);
  expect(files).toEqual(
    expect.arrayContaining(['LICENSE', 'README.md', 'docs/operating.md', 'dist/daemon/licences.md']),
  );
  expect(files.filter((path) => /^(test|daemon|shared|\.ci)\//.test(path))).toEqual([]);
  // Without the variables that npm sets for what it runs, and from another folder.
  const around = { cwd: folder, env: { PATH: process.env.PATH } };
  expect((await run(command, ['--help'], around)).stdout).toContain('serve');

  const free = ['--http', '127.0.0.1:0', '--mqtt', '127.0.0.1:0'];
  const daemon = endWithTests(
    spawn(command, ['serve', ...free], { ...around, stdio: ['ignore', 'ignore', 'pipe'] }),
  );
  let said = '';
  for await (const chunk of daemon.stderr) {
    said += chunk;
    if (said.includes('no safety interlock')) break;
  }
  const [httpPort, mqttPort] = ['page: http', 'readings: mqtt'].map((what) =>
    Number(new RegExp(`${what}://127\\.0\\.0\\.1:(\\d+)`).exec(said)?.[1]),
  ) as [number, number];

  const device = await connectAsync(`mqtt://127.0.0.1:${mqttPort}`);
  await device.publishAsync(readingTopic('home', 'r1', 'liquid-temperature'), '54.2', { qos: 1 });
  await device.endAsync();
  const api = new Api(httpPort);
  expect((await api.raw('home:r1')).value).toEqual([54.2]);
  await api.stateSite('home', { altitudeM: 340 });
  const batch = await api.openBatch('home:r1');

  const page = await (await api.call('GET', '/')).text();
  const asked = [...page.matchAll(/(?:src|href)="([^":]+)"/g)].map(([, path]) => path!);
  expect(asked.filter((path) => path.endsWith('.js')).length).toBeGreaterThan(0);
  for (const path of asked) await api.call('GET', new URL(path, 'http://x/').pathname);
  // What draws a PDF reads fonts beside itself.
  const record = await api.call('GET', `/api/v1/batches/${batch}/record?format=pdf`);
  expect((await record.text()).slice(0, 5)).toBe('%PDF-');

  const stopped = new Promise<number | null>((resolve) => daemon.once('exit', resolve));
  daemon.kill('SIGTERM');
  expect(await stopped).toBe(0);
  expect((await run(command, ['verify'], around)).stdout).toMatch(/^whole: /);
});
