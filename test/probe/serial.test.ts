import { chmodSync, mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, onTestFinished, test } from 'vitest';
import { machineClock } from '../../daemon/clock.ts';
import { sourceSchema } from '../../probe/configuration.ts';
import { openSources } from '../../probe/sources/open.ts';
import type { Measured, Source } from '../../probe/sources/source.ts';
import { eventually } from '../support/api.ts';
import { SensorTree } from '../support/sensor-tree.ts';
import { SerialDevice } from '../support/serial-device.ts';

const PORT = '/dev/ttyUSB0';

let tree: SensorTree;
beforeEach(() => {
  tree = new SensorTree();
});
afterEach(() => tree.remove());

function plugIn(device: SerialDevice): void {
  tree.remove(PORT);
  tree.link(PORT, device.port);
}

function open(...configurations: object[]): Source[] {
  const sources = openSources(
    configurations.map((one, i) =>
      sourceSchema.parse({ kind: 'serial', port: PORT, channel: `c${i}`, ...one }),
    ),
    tree.root,
    machineClock(),
  );
  onTestFinished(() => {
    for (const source of sources) source.close();
  });
  return sources;
}

/** What comes next; trouble is thrown. */
const next = (source: Source): Promise<Measured | null> =>
  eventually(
    () => source.read(),
    (measured) => measured !== null,
    10,
  );
const trouble = (source: Source): Promise<string> =>
  eventually(
    () =>
      source.read().then(
        () => '',
        (error: Error) => error.message,
      ),
    (message) => message !== '',
    10,
  );

async function opened(...configurations: object[]): Promise<[SerialDevice, ...Source[]]> {
  const device = await SerialDevice.start();
  plugIn(device);
  const sources = open(...configurations);
  // The first look opens the port.
  for (const source of sources) expect(await source.read()).toBeNull();
  // A line that was under way then: nobody knows what is missing of it.
  device.say('4.2 T=4.2 rpm 4\n');
  return [device, ...sources];
}

test('a number a line: each new one once, and of several the newest', async () => {
  const [device, source] = await opened({});
  device.say('54.25\n');
  expect((await next(source!))?.value).toBe(54.25);
  expect(await source!.read()).toBeNull();
  device.say('55\r\n-56.5e0\r\n\r\n57');
  expect((await next(source!))?.value).toBe(-56.5);
  device.say('.5\n');
  const { value, ageMs } = (await next(source!))!;
  expect(value).toBe(57.5);
  expect(ageMs).toBeGreaterThanOrEqual(0);
  expect(ageMs).toBeLessThan(5000);
});

test('JSON a line, by where the number stands', async () => {
  const [device, plain, deep] = await opened({}, { path: 'probes.b.c' });
  device.say('{"value":54.25,"probes":{"b":{"c":61}}}\n');
  expect((await next(plain!))?.value).toBe(54.25);
  expect((await next(deep!))?.value).toBe(61);
  device.say('{"value":"54","probes":{"b":{}}}\n');
  expect(await trouble(plain!)).toMatch(/"value"/);
  expect(await trouble(deep!)).toMatch(/"probes.b.c"/);
});

test('by a pattern; lines that do not fit it belong to something else', async () => {
  const [device, liquid, speed] = await opened(
    { pattern: 'T=(?<value>-?[0-9.]+)' },
    { pattern: 'rpm (?<value>.+)$' },
  );
  device.say('T=54.25 C\n');
  expect((await next(liquid!))?.value).toBe(54.25);
  expect(await speed!.read()).toBeNull();
  device.say('T=54.5 rpm 310\n');
  expect((await next(speed!))?.value).toBe(310);
  expect((await next(liquid!))?.value).toBe(54.5);
  device.say('rpm fast\n');
  expect(await trouble(speed!)).toMatch(/"pattern"/);
});

test('of a round of several lines each source gets its own, in whatever order they come', async () => {
  const [device, liquid, speed, flow, plain] = await opened(
    { pattern: 'T=(?<value>-?[0-9.]+)' },
    { pattern: 'rpm (?<value>[0-9]+)' },
    { path: 'flow' },
    {},
  );
  for (let round = 1; round <= 5; round++) {
    device.say(`T=9 C\nT=${50 + round} C\nrpm ${300 + round}\n${round}\n{"flow":${round / 4}}\nT= C\n`);
    // Not before all of it is there: the last line that fits anything is that of the flow.
    expect(
      (
        await eventually(
          () => flow!.read().catch(() => null),
          (one) => one !== null,
          10,
        )
      )?.value,
    ).toBe(round / 4);
    expect((await liquid!.read())?.value).toBe(50 + round);
    expect((await speed!.read())?.value).toBe(300 + round);
    expect((await plain!.read())?.value).toBe(round);
  }
});

test('what is no number says what it was', async () => {
  const [device, source] = await opened({});
  device.say('hello\n');
  expect(await trouble(source!)).toMatch(/"hello"/);
  // A wrong speed gives anything at all.
  device.say('\xff\x00\x81\n');
  expect(await trouble(source!)).toMatch(/baud/);
});

test('control characters that a device sends reach no terminal as such', async () => {
  const [device, source] = await opened({});
  device.say('\x1b]0;owned\x07\x7f\x9b31m\x00 x\n');
  const said = await trouble(source!);
  expect(said).toContain('owned');
  expect(said).toContain('\\u009b31m');
  expect(said).not.toMatch(/\p{Cc}/u);
});

test('a device that ends no line fills no memory, and goes on afterwards', async () => {
  const [device, source] = await opened({});
  device.say('9'.repeat(300_000));
  device.say('\n54.25\n');
  const isLast = (measured: Measured | null) => measured?.value === 54.25;
  await eventually(() => source!.read().catch(() => null), isLast, 10);
});

test('pulled out it says so; plugged in again it goes on', async () => {
  const [device, source] = await opened({});
  device.say('54.25\n');
  await next(source!);
  await device.pullOut();
  expect(await trouble(source!)).toMatch(/ttyUSB0/);
  tree.remove(PORT);
  expect(await trouble(source!)).toMatch(/is not there/);
  const again = await SerialDevice.start();
  plugIn(again);
  expect(await source!.read()).toBeNull();
  again.say('1\n61\n');
  expect((await next(source!))?.value).toBe(61);
});

test('what is no serial port', async () => {
  mkdirSync(join(tree.root, 'dev'));
  writeFileSync(join(tree.root, PORT), '54.25\n');
  await expect(open({})[0]!.read()).rejects.toThrow(/cannot be set to 9600 baud/);
});

test('pulses of a pin, by the program that waits for them, of either kind', async () => {
  const folder = join(tree.root, 'bin');
  mkdirSync(folder);
  const path = process.env.PATH!;
  process.env.PATH = `${folder}:${path}`;
  onTestFinished(() => {
    process.env.PATH = path;
  });
  // Its options as the real ones have them: libgpiod 1.6.3 and 2.1.
  for (const [version, wanted] of [
    ['v1.6.3', '--line-buffered --rising-edge --bias=pull-up --format=%o gpiochip0 17'],
    ['v2.1', '--chip gpiochip0 --edges rising --bias pull-up --format %o 17'],
  ]) {
    const program = join(folder, 'gpiomon');
    writeFileSync(
      program,
      `#!/bin/sh
[ "$1" = --version ] && { echo "gpiomon (libgpiod) ${version}"; exit; }
[ "$*" = "${wanted}" ] || { echo "bad: $*" >&2; exit 1; }
while sleep 0.02; do echo 17; done
`,
    );
    chmodSync(program, 0o755);
    const [source] = openSources(
      [sourceSchema.parse({ kind: 'gpio', chip: 'gpiochip0', line: 17, pulsesPerUnit: 1, channel: 'c' })],
      tree.root,
      machineClock(),
    );
    onTestFinished(() => source!.close());
    const { value } = (await eventually(
      () => source!.read(),
      (measured) => (measured?.value ?? 0) > 0,
      200,
    ))!;
    // 50 a second at most; a loaded machine sends fewer.
    expect(value).toBeLessThan(3600);
    source!.close();
  }
  writeFileSync(
    join(folder, 'gpiomon'),
    '#!/bin/sh\n[ "$1" = --version ] && echo v2.1 && exit\necho "error: no such line" >&2; exit 1\n',
  );
  const [broken] = openSources(
    [sourceSchema.parse({ kind: 'gpio', chip: 'gpiochip0', line: 17, pulsesPerUnit: 1, channel: 'c' })],
    tree.root,
    machineClock(),
  );
  expect(await trouble(broken!)).toMatch(/no such line/);
  broken!.close();
});
