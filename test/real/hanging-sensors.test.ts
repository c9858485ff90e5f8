import { spawnSync } from 'node:child_process';
import { existsSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as wait } from 'node:timers/promises';
import { beforeEach, expect, onTestFinished, test } from 'vitest';
import { eventually } from '../support/api.ts';
import { startCommand } from '../support/command.ts';
import { freePort } from '../support/mosquitto.ts';
import { SensorTree } from '../support/sensor-tree.ts';
import { LOOPBACK } from '../support/serving.ts';

const GOOD = '28-000000000009';
const HANGING = ['1', '2', '3', '4'].map((digit) => `28-00000000000${digit}`);

let folder: string;
let tree: SensorTree;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'hanging-'));
  tree = new SensorTree();
  tree.oneWire(GOOD, 54.25);
  onTestFinished(() => {
    tree.remove();
    rmSync(folder, { recursive: true, force: true });
  });
});

/** A pipe that nobody writes to: its reader waits, as for a driver that hangs. */
function hang(id: string): void {
  const file = join('sys/bus/w1/devices', id, 'w1_slave');
  tree.write(file, '');
  rmSync(join(tree.root, file));
  expect(spawnSync('mkfifo', [join(tree.root, file)]).status).toBe(0);
}

async function startOn(ids: string[]) {
  const keep = join(folder, 'kept');
  const file = join(folder, 'probe.json');
  const sources = ids.map((id, i) => ({ kind: 'one-wire', id, channel: `t${i}` }));
  const broker = `mqtt://${LOOPBACK}:${await freePort()}`;
  const common = { broker, device: 'r1-probe', site: 'home', vessel: 'r1', everySeconds: 0.2, keep };
  writeFileSync(file, JSON.stringify({ ...common, sources }));
  const probe = startCommand(folder, ['probe', '--config', file, '--root', tree.root]);
  /** How much is kept on the disk, bytes. */
  const bytes = () =>
    existsSync(keep)
      ? Number(
          spawnSync('sh', ['-c', `cat "${keep}"/*.kept 2>/dev/null | wc -c`], { encoding: 'utf8' }).stdout,
        )
      : 0;
  return { probe, bytes };
}

/** Processes that read something of this tree. */
const readers = () => spawnSync('pgrep', ['-f', `^cat -- ${tree.root}`], { encoding: 'utf8' }).stdout;

test('four that hang from the first are told once each; the fifth is read and kept; a stop ends it', async () => {
  for (const id of HANGING) hang(id);
  const { probe, bytes } = await startOn([...HANGING, GOOD]);
  await eventually(bytes, (count) => count > 0, 30);
  for (const i of HANGING.keys()) await probe.says(new RegExp(`t${i}: .*does not answer for 5 s`));
  const before = bytes();
  await wait(6000);
  expect(bytes()).toBeGreaterThan(before + 500);
  expect(probe.err().match(/does not answer for/g)).toHaveLength(4);
  probe.child.kill('SIGTERM');
  expect(await probe.ended).toBe(0);
  expect(readers()).toBe('');
}, 60_000);

test('those that begin to hang stop neither the others nor what is kept, nor the end', async () => {
  for (const id of HANGING) tree.oneWire(id, 60);
  const { probe, bytes } = await startOn([...HANGING, GOOD]);
  await eventually(bytes, (count) => count > 1000);
  for (const id of HANGING) hang(id);
  for (const i of HANGING.keys()) await probe.says(new RegExp(`t${i}: .*does not answer for 5 s`));
  const before = bytes();
  await eventually(bytes, (count) => count > before + 500);
  // One that comes back is read again.
  const file = join(tree.root, 'sys/bus/w1/devices', HANGING[0]!, 'w1_slave');
  spawnSync('timeout', ['5', 'sh', '-c', `echo x > ${file}`]);
  rmSync(file);
  tree.oneWire(HANGING[0]!, 61);
  await probe.says(/t0 is read again/);
  // Of the two that nothing but an end of the process ends, one at least hangs still.
  const stopped = Date.now();
  probe.child.kill('SIGTERM');
  await probe.ended;
  expect(Date.now() - stopped).toBeLessThan(8000);
  expect(probe.err()).toContain('stopp');
  expect(readers()).toBe('');
}, 60_000);
