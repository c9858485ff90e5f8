import { type ChildProcess, execFile, spawn } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, beforeEach, expect, onTestFinished, test } from 'vitest';
import { FIRST_START } from '../../dashboard/texts/set-up.ts';
import { Api } from '../support/api.ts';
import { endWithTests } from '../support/children.ts';
import { startChromium } from '../support/chromium.ts';
import { freePort } from '../support/mosquitto.ts';
import { openPage } from '../support/opened-page.ts';
import { patiently } from '../support/patiently.ts';
import { SensorTree } from '../support/sensor-tree.ts';

const ROOT = fileURLToPath(new URL('../../', import.meta.url));
const COMMAND = `${process.execPath} ${ROOT}dist/daemon/main.js`;

let browser: Browser;
beforeAll(async () => {
  browser = await startChromium();
});
afterAll(async () => {
  await browser?.close();
});

let folder: string;
let ports: { http: number; mqtt: number };
beforeEach(async () => {
  folder = mkdtempSync(join(tmpdir(), 'first-reading-'));
  ports = { http: await freePort(), mqtt: await freePort() };
  onTestFinished(() => rmSync(folder, { recursive: true, force: true }));
});

/** A section of a document, by its heading. */
function section(document: string, heading: string): string {
  const text = readFileSync(`${ROOT}${document}`, 'utf8');
  const from = text.indexOf(`# ${heading}\n`);
  expect(from, `${document} has ${heading}`).toBeGreaterThan(0);
  return text.slice(from).split(/^#+ /m)[1]!;
}

/** What stands in its blocks of code, in order, each without what it is indented by. */
const blocks = (text: string): { kind: string; lines: string[] }[] =>
  [...text.matchAll(/^( *)```(\w+)\n([\s\S]*?)^ *```/gm)].map(([, indent, kind, code]) => ({
    kind: kind!,
    lines: code!
      .trimEnd()
      .split('\n')
      .map((line) => line.slice(indent!.length)),
  }));

/** With the ports of this test in place of the usual ones, which may be taken. */
const here = (text: string): string =>
  text
    .replaceAll(':8080', `:${ports.http}`)
    .replaceAll(':1883', `:${ports.mqtt}`)
    .replaceAll('mosquitto_pub ', `mosquitto_pub -p ${ports.mqtt} `)
    .replaceAll('npx esterwatch', COMMAND);

/** What a line of the documents prints, in either stream, as a shell runs it; it must end well. */
const printed = (line: string): Promise<{ out: string; err: string }> =>
  new Promise((resolve, reject) => {
    execFile('sh', ['-c', here(line)], { cwd: folder }, (error, out, err) =>
      error === null ? resolve({ out, err }) : reject(error),
    );
  });

/** A line that runs on, until the test ends. */
function started(line: string): ChildProcess {
  const child = spawn('sh', ['-c', `exec ${here(line)}`], {
    cwd: folder,
    stdio: ['ignore', 'ignore', 'pipe'],
  });
  const ended = new Promise((resolve) => child.once('exit', resolve));
  onTestFinished(async () => {
    child.kill('SIGKILL');
    await ended;
  });
  return endWithTests(child);
}

/** The daemon of the first step, with what it logs, line by line as it is said to. */
async function served(lines: readonly string[]): Promise<void> {
  const daemon = started(
    `npx esterwatch serve --http 127.0.0.1:${ports.http} --mqtt 127.0.0.1:${ports.mqtt}`,
  );
  const logged: string[] = [];
  let unfinished = '';
  daemon.stderr!.setEncoding('utf8').on('data', (text: string) => {
    const all = (unfinished + text).split('\n');
    unfinished = all.pop()!;
    for (const line of all) logged.push(JSON.parse(line).msg);
  });
  await patiently(() => expect(logged).toEqual(lines.map(here)));
}

test('the steps of the README lead from nothing to a first reading, and print what they say', {
  timeout: 90_000,
}, async () => {
  const steps = section('README.md', 'Send a first reading');
  const [log, send, type, answer, ...more] = blocks(steps);
  expect([log, send, type, answer].map((block) => block?.kind)).toEqual(['text', 'sh', 'sh', 'text']);
  expect(more.map(({ kind }) => kind)).not.toContain('text');
  await served(log!.lines);

  expect(steps).toContain(`**${FIRST_START.title}**`);
  expect(steps).toContain(`**${FIRST_START.refused.title}**`);
  const { page, errors } = await openPage(browser, ports.http, '');
  await page.getByRole('heading', { level: 1, name: FIRST_START.title }).waitFor();

  expect(send!.lines).toHaveLength(2);
  for (const line of send!.lines) expect(await printed(line)).toEqual({ out: '', err: '' });
  expect(steps).toContain('**It works.**');
  await page
    .getByText(/^It works\. try: .* sent by a device without a user name \(.*127\.0\.0\.1\)\.$/)
    .waitFor();
  const { readings } = await new Api(ports.http).vessel('home:try');
  expect(readings).toMatchObject({ 'liquid-temperature': { value: 21.5 }, 'stirrer-speed': { value: 310 } });

  const { out } = await printed(type!.lines.join('\n'));
  expect(out.replace(/"at":"[^"]+"/, '"at":"TIME"')).toBe(answer!.lines.join('\n'));
  expect(errors).toEqual([]);
});

test('the steps of the guide lead from a thermometer on a Linux machine to its reading on the page', {
  timeout: 90_000,
}, async () => {
  const tree = new SensorTree();
  onTestFinished(() => tree.remove());
  tree.oneWire('28-0316a2791eff', 21.5);
  const steps = section('docs/guide/first-sensor.md', 'How it reaches esterwatch');
  const commands = [...steps.matchAll(/^\d\. `([^`]+)`/gm)].map(([, command]) =>
    command!.replace('esterwatch probe', `esterwatch probe --root ${tree.root}`),
  );
  expect(commands).toHaveLength(3);
  const [found, checked] = blocks(steps);
  await served(blocks(section('README.md', 'Send a first reading'))[0]!.lines);
  const { page } = await openPage(browser, ports.http, '');
  await page.getByRole('heading', { level: 1, name: FIRST_START.title }).waitFor();

  expect(await printed(commands[0]!)).toEqual({ out: '', err: `${found!.lines.join('\n')}\n` });
  const file = join(folder, 'probe.json');
  writeFileSync(file, here(readFileSync(file, 'utf8')));
  expect(await printed(commands[1]!)).toEqual({ out: `${checked!.lines.join('\n')}\n`, err: '' });
  started(commands[2]!);
  await page.getByText(/^It works\. r1: .*21\.5 °C, .* sent by device r1-probe \(/).waitFor();
});
