import { mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as wait } from 'node:timers/promises';
import { expect, onTestFinished, test } from 'vitest';
import { probeSchema } from '../../probe/configuration.ts';
import { startProbe } from '../../probe/probe.ts';
import { eventually } from '../support/api.ts';
import { ManualClock } from '../support/manual-clock.ts';
import { freePort } from '../support/mosquitto.ts';
import { SensorTree } from '../support/sensor-tree.ts';

const PROBE = '28-0316a2791eff';
/** As many as a probe takes. */
const SOURCES = 64;
const MOST_UNTIMED = 10_000;

/** A probe whose clock is in 1970, with nobody who could tell it the time. */
async function startInThe1970s() {
  const keep = mkdtempSync(join(tmpdir(), 'probe-'));
  const tree = new SensorTree();
  tree.oneWire(PROBE, 54.25);
  onTestFinished(() => {
    tree.remove();
    rmSync(keep, { recursive: true, force: true });
  });
  const said: string[] = [];
  const log = { info: () => {}, warn: (text: string) => void said.push(text) };
  const clock = new ManualClock(5000);
  const configuration = probeSchema.parse({
    broker: `mqtt://127.0.0.1:${await freePort()}`,
    device: 'r1-probe',
    site: 'home',
    vessel: 'r1',
    keep,
    sources: Array.from({ length: SOURCES }, (_, i) => ({
      kind: 'one-wire',
      id: PROBE,
      channel: `liquid-temperature-${i + 1}`,
    })),
  });
  const probe = await startProbe({ configuration, root: tree.root, clock, log });
  /** Every source is looked at, so many times. */
  const goBy = async (looks: number) => {
    for (let i = 0; i < looks; i++) {
      clock.advance(1000);
      await wait(5);
    }
  };
  const readings = (): number =>
    Object.values<number>(JSON.parse(readFileSync(join(keep, 'numbers.json'), 'utf8'))).reduce(
      (a, b) => a + b,
    );
  const kept = (): number =>
    readdirSync(keep)
      .filter((name) => name.endsWith('.kept'))
      .reduce((sum, name) => sum + readFileSync(join(keep, name), 'utf8').split('\n').length - 1, 0);
  const numberIn = (text: RegExp): number =>
    Number(said.map((line) => text.exec(line)?.[1]).find((digits) => digits !== undefined));
  return { probe, clock, said, goBy, readings, kept, numberIn };
}

test('a stop says how many readings are lost because nobody knew the time', async () => {
  const { probe, goBy, readings, kept, numberIn } = await startInThe1970s();
  await eventually(
    () => goBy(5).then(readings),
    (count) => count > SOURCES,
  );
  await probe.close();
  expect(numberIn(/^(\d+) readings are lost/)).toBe(readings());
  expect(kept()).toBe(0);
});

test('what is over 10,000 is told, and counted at a stop too', async () => {
  const { probe, said, goBy, readings, numberIn } = await startInThe1970s();
  while (!said.some((text) => text.includes('dropped'))) await goBy(1);
  await goBy(5);
  await probe.close();
  expect(said.filter((text) => text.includes('dropped'))).toHaveLength(1);
  expect(readings()).toBeGreaterThan(MOST_UNTIMED);
  expect(numberIn(/^(\d+) readings are lost/)).toBe(readings());
});

test('once the time is known, the rest goes out, and the log says how many do not', async () => {
  const { probe, clock, said, goBy, readings, kept, numberIn } = await startInThe1970s();
  while (!said.some((text) => text.includes('dropped'))) await goBy(1);
  clock.setWallBy(Date.UTC(2026, 2, 2));
  await eventually(
    () => goBy(1).then(() => numberIn(/: (\d+) readings that waited for it were dropped/)),
    (count) => count > 0,
  );
  await probe.close();
  const dropped = numberIn(/: (\d+) readings that waited for it were dropped/);
  expect(kept()).toBe(readings() - dropped);
  expect(said.some((text) => text.includes('lost'))).toBe(false);
});
