import { type ChildProcessWithoutNullStreams, spawn } from 'node:child_process';
import { once } from 'node:events';
import { closeSync, openSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as wait } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import { describe, expect, onTestFinished, test } from 'vitest';
import { planAnswerSchema } from '../../shared/plan/answer.ts';
import { computePlan } from '../../shared/plan/compute.ts';
import { planRequestSchema } from '../../shared/plan/request.ts';
import { runHere } from '../support/command.ts';

const ROOT = fileURLToPath(new URL('../../', import.meta.url));
const MAIN = join(ROOT, 'dist/daemon/main.js');

interface Ending {
  code: number | null;
  out: string;
  err: string;
}

function start(args: string[] = []): { child: ChildProcessWithoutNullStreams; ended: Promise<Ending> } {
  const child = spawn(process.execPath, [MAIN, 'plan', ...args], { cwd: tmpdir() });
  const texts = { out: '', err: '' };
  child.stdout.on('data', (chunk) => {
    texts.out += chunk;
  });
  child.stderr.on('data', (chunk) => {
    texts.err += chunk;
  });
  // A command that has ended does not read on.
  child.stdin.on('error', () => {});
  onTestFinished(() => {
    if (child.exitCode === null) child.kill('SIGKILL');
  });
  return { child, ended: once(child, 'close').then(([code]) => ({ code, ...texts })) };
}

function plan(input: string | Buffer, args: string[] = []): Promise<Ending> {
  const { child, ended } = start(args);
  child.stdin.end(input);
  return ended;
}

const planHere = (input: string | Buffer, args: string[]) => runHere(tmpdir(), ['plan', ...args], input);

/** One line on stderr that says all of this, exit 2, nothing on stdout. */
async function expectWrongUse(
  input: string | Buffer,
  says: string[],
  args: string[] = [],
  how: typeof planHere = planHere,
): Promise<void> {
  const { code, out, err } = await how(input, args);
  expect({ code, out }, err).toEqual({ code: 2, out: '' });
  expect(err).toMatch(/^esterwatch: [^\n]+\n$/);
  for (const word of says) expect(err).toContain(word);
}

const REQUEST = {
  oil: {
    volumeL: 100,
    volumeAtC: 20,
    kind: 'used',
    titration: { mL: 2.4, blankMl: 0, titrant: 'NaOH', gPerL: 1, sampleMl: 1, purityPercent: 98 },
    waterPpm: 400,
    methanolInFeed: false,
  },
  methanol: { percentOfOilVolume: 22, startC: 20 },
  catalyst: { kind: 'NaOH', purityPercent: 98, baseGPerL: 3.5, grams: null },
  passes: [{ sharePercent: 100 }],
  site: { altitudeM: 340 },
  reaction: { temperatureC: 55 },
  vessel: { liquidHeightM: 0.6 },
  watch: {
    requiredReactionMinutes: 60,
    requiredSettleHours: 24,
    lowestStirrerSpeed: 200,
    lowestPumpFlow: null,
    readingEverySeconds: 1,
    mixingStated: false,
    limits: {},
  },
};

describe('a request', () => {
  test('prints the plan as JSON, and nothing else', async () => {
    const { code, out, err } = await plan(JSON.stringify(REQUEST));
    expect([code, err]).toEqual([0, '']);
    const answer = planAnswerSchema.parse(JSON.parse(out));
    expect(JSON.parse(out)).toEqual(answer);
    expect(answer).toEqual(computePlan(planRequestSchema.parse(REQUEST)));
    // 3.5 g of pure base a litre by the purity, and the titration flake for flake.
    expect(answer.catalystG).toBeCloseTo(100 * (3.5 / 0.98 + 2.4), 9);
    expect(out.endsWith('}\n')).toBe(true);
  });

  test.for(['{}', ' \n{ } \r\n', '{"oil":{}}', '\ufeff{}'])(
    '%j is one, and has the defaults',
    async (text) => {
      const { code, out } = await plan(text);
      expect(code).toBe(0);
      expect(JSON.parse(out)).toEqual(computePlan({}));
    },
  );

  test('may come in pieces, cut anywhere', async () => {
    const { child, ended } = start();
    const bytes = Buffer.from(JSON.stringify({ ...REQUEST, site: { altitudeM: 1609 } }));
    for (const [from, to] of [
      [0, 1],
      [1, 30],
      [30, 31],
      [31, 200],
      [200, bytes.length],
    ]) {
      child.stdin.write(bytes.subarray(from, to));
      await wait(20);
    }
    child.stdin.end();
    const { code, out } = await ended;
    expect(code).toBe(0);
    expect(JSON.parse(out).pressureHPa).toBeCloseTo(834.3, 1);
  });

  test('may be nearly as long as it can be', async () => {
    const text = '{}';
    const { code } = await plan(text + ' '.repeat(1024 * 1024 - text.length));
    expect(code).toBe(0);
  });

  test('a reader that has seen enough ends it without a word', async () => {
    const { child, ended } = start();
    child.stdout.destroy();
    child.stdin.end('{}');
    expect(await ended).toEqual({ code: 0, out: '', err: '' });
  });
});

test('where its answer finds no room it says so in one line', async () => {
  const full = openSync('/dev/full', 'w');
  onTestFinished(() => closeSync(full));
  const child = spawn(process.execPath, [MAIN, 'plan'], { stdio: ['pipe', full, 'pipe'] });
  let err = '';
  child.stderr!.on('data', (chunk) => {
    err += chunk;
  });
  child.stdin!.end('{}');
  expect(await once(child, 'close')).toEqual([1, null]);
  expect(err).toMatch(/^esterwatch: [^\n]*ENOSPC[^\n]*\n$/);
});

describe('what it cannot take', () => {
  test.for<[request: string, says: string[]]>([
    ['{"oil":{"volumeL":-5}}', ['oil.volumeL', '-5', '0.01 to 100000']],
    ['{"oil":{"volumeL":1e999}}', ['oil.volumeL', 'Infinity', '0.01 to 100000']],
    ['{"oil":{"kind":"butter"}}', ['oil.kind', 'butter', 'soybean', 'used']],
    ['{"oil":{"titration":{"mL":2}}}', ['oil.titration.titrant', 'missing', 'NaOH', 'KOH']],
    ['{"oil":{"titration":{"mL":900,"titrant":"NaOH"}}}', ['oil.titration.mL', '900', '5 mol']],
    ['{"catalyst":{"grams":9000000}}', ['catalyst.grams', '9000000', 'the mass of the oil']],
    ['{"reaction":{"temperatureC":"55C"}}', ['reaction.temperatureC', '"55C"', '0 to 150']],
    ['{"reaction":{"temperature":55}}', ['reaction.temperature', '55', 'temperatureC']],
    ['{"passes":[{"sharePercent":80},{"sharePercent":21}]}', ['passes', '21', 'sum to 100 %']],
    ['{"watch":{"limits":{"nearMarginK":3}}}', ['watch.limits.nearMarginK', '3', 'nearMarginC']],
    ['{"site":{}}', ['site', '{}', 'altitudeM', 'pressureHPa']],
    ['{"__proto__":{"volumeL":5}}', ['__proto__', 'oil']],
    ['{"oil":{"constructor":5}}', ['oil.constructor', '5', 'volumeL']],
    ['{"oil":{"volume\\nL":5}}', ['oil.volume\\nL', '5', 'volumeL']],
    ['[]', ['request', '[]', 'an object']],
    ['null', ['request', 'null', 'an object']],
    ['"100 L of oil"', ['request', '100 L of oil', 'an object']],
  ])('%s', async ([request, says]) => {
    await expectWrongUse(request, says);
  });

  test.for([
    '',
    '   \n',
    '{',
    '{"oil":{"volumeL":100}',
    'oil: 100 L',
    '{"oil":\n{"volumeL":\n100,,}}',
    '{"oil":"\n\u2028\u0085',
    '{}{}',
    "{'oil':{}}",
    '{"oil":{"volumeL":NaN}}',
    '\u0000',
  ])('%j is not JSON', async (text) => {
    await expectWrongUse(text, ['stdin', 'JSON']);
  });

  test('bytes that are no text', async () => {
    await expectWrongUse(Buffer.from([0xff, 0xfe, 0x80, 0x00]), ['stdin', 'JSON'], [], plan);
  });

  test('more than 1 MB, without waiting for its end', async () => {
    await expectWrongUse(`{}${' '.repeat(1024 * 1024)}`, ['stdin', '1048576'], [], plan);
    const { child, ended } = start();
    const more = setInterval(() => child.stdin.write(' '.repeat(256 * 1024)), 5);
    onTestFinished(() => clearInterval(more));
    const { code, out } = await ended;
    expect([code, out]).toEqual([2, '']);
  });

  // By the program: how deep a stack is, is the process's affair.
  test('what is nested without end', async () => {
    await expectWrongUse('['.repeat(200_000) + ']'.repeat(200_000), ['request', 'an object'], [], plan);
    await expectWrongUse(`${'{"oil":'.repeat(50_000)}1${'}'.repeat(50_000)}`, ['oil'], [], plan);
  });
});

describe('options', () => {
  test.for(['--help', '-h'])('%s, without reading stdin', async (help) => {
    const { ended } = start([help]);
    const { code, out, err } = await ended;
    expect([code, err]).toEqual([0, '']);
    expect(out).toContain('esterwatch plan');
    expect(out).toContain('stdin');
  });

  test.for([['--colour'], ['--altitude', '340'], ['-x'], ['request.json']])(
    '%s is wrong use',
    async (args) => {
      await expectWrongUse('{}', [args[0]!], args);
    },
  );
});
