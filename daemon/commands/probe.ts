import { setTimeout as wait } from 'node:timers/promises';
import type { ProbeConfiguration, SourceConfiguration } from '../../probe/configuration.ts';
import type { Source } from '../../probe/sources/source.ts';
import type { Unsent } from '../../probe/spool.ts';
import { machineClock } from '../clock.ts';
import { readJsonFile } from '../json-file.ts';
import { readOptions } from './options.ts';
import { UsageError } from './usage.ts';

const HELP = `esterwatch probe: makes this Linux machine's own sensors a device that publishes. Without a configuration it finds what
is connected and prints one, to be looked over and kept.

  --config FILE  publishes what the file says, until it is stopped
  --check        prints what every source reads now, those of the file or those found, and whether the broker lets it in
  --root DIR     looks for /sys and /dev there (/), to try it on copies of such files
  --help

  esterwatch probe > probe.json                   finds; look at the names, the broker and the site in it
  esterwatch probe --config probe.json --check    reads each once
  esterwatch probe --config probe.json            runs
`;

/** A source that has not given a value by then has none now: a device on a serial line may be slow, ms. */
const CHECK_WITHIN_MS = 5000;
/** After a stop the process ends by itself within this, unless a read hangs in the kernel, ms. */
const END_WITHIN_MS = 1000;

export async function probe(args: string[]): Promise<void> {
  const given = readOptions(
    args,
    { config: { type: 'string' }, check: { type: 'boolean' }, root: { type: 'string' } },
    HELP,
  );
  if (given === null) return;
  if (process.platform !== 'linux')
    throw new UsageError('probe reads the files of a Linux kernel: run it on Linux');
  const root = given.root ?? '/';
  if (given.config === undefined) return given.check === true ? checkFound(root) : propose(root);
  const { probeSchema } = await import('../../probe/configuration.ts');
  const configuration = readJsonFile(
    given.config,
    'configuration',
    probeSchema,
    '`esterwatch probe > probe.json` makes one of what is connected',
  );
  return given.check === true ? check(configuration, root) : run(configuration, root);
}

/** @throws UsageError where nothing is connected */
async function found(root: string) {
  const { findSources } = await import('../../probe/find.ts');
  const sources = await findSources(root);
  if (sources.length === 0)
    throw new UsageError(
      'no sensor is found: look whether it is plugged in and its driver loaded (1-Wire: modprobe w1-gpio w1-therm, on a Raspberry Pi dtoverlay=w1-gpio); see docs/probe.md',
    );
  return sources;
}

async function propose(root: string): Promise<void> {
  const sources = await found(root);
  const lines = sources.map((source) => `    ${JSON.stringify(source)}`).join(',\n');
  process.stdout.write(`{
  "broker": "mqtt://127.0.0.1:1883",
  "device": "r1-probe",
  "password": "what esterwatch device add r1-probe printed",
  "site": "home",
  "vessel": "r1",
  "everySeconds": 1,
  "keep": "./probe-data",
  "sources": [
${lines}
  ]
}
`);
  process.stderr.write(
    `${sources.length} found. Take out what has nothing to do with a vessel, give the rest their channels, and look at it with --check.\n`,
  );
}

async function checkFound(root: string): Promise<void> {
  const { sourceSchema } = await import('../../probe/configuration.ts');
  const sources = await found(root);
  await readAll(
    sources.map((source) => sourceSchema.parse(source)),
    root,
  );
}

async function check(configuration: ProbeConfiguration, root: string): Promise<void> {
  await readAll(configuration.sources, root);
  const { tryBroker } = await import('../../probe/link.ts');
  const trouble = await tryBroker(configuration);
  process.stdout.write(
    `broker: ${trouble ?? `lets ${configuration.device} in, and acknowledges what it publishes`}\n`,
  );
  if (trouble !== null) process.exitCode = 1;
}

async function readAll(configurations: readonly SourceConfiguration[], root: string): Promise<void> {
  const { openSources } = await import('../../probe/sources/open.ts');
  const sources = openSources(configurations, root, machineClock());
  const answers = await Promise.all(sources.map((source, i) => readOnce(source, configurations[i]!)));
  for (const [i, { text, isGood }] of answers.entries()) {
    process.stdout.write(`${configurations[i]!.channel}: ${text}\n`);
    if (!isGood) process.exitCode = 1;
  }
  for (const source of sources) source.close();
}

/** What a source reads, or why it does not, for a person. */
async function readOnce(
  source: Source,
  { scale = 1, offset = 0, everySeconds = 1 }: SourceConfiguration,
): Promise<{ text: string; isGood: boolean }> {
  const until = performance.now() + Math.max(CHECK_WITHIN_MS, 2000 * everySeconds);
  try {
    for (;;) {
      const measured = await source.read();
      if (measured !== null) {
        const value = Number((measured.value * scale + offset).toFixed(3));
        const unit = scale === 1 && offset === 0 && source.unit !== '' ? ` ${source.unit}` : '';
        return { text: `${value}${unit}  (${source.place})`, isGood: true };
      }
      if (performance.now() > until) break;
      await wait(Math.min(1000 * everySeconds, 1000));
    }
  } catch (error) {
    return { text: `nothing  (${source.place}): ${(error as Error).message}`, isGood: false };
  }
  return {
    text: `nothing  (${source.place}): it gives nothing; look whether it is switched on, and at its settings`,
    isGood: false,
  };
}

async function run(configuration: ProbeConfiguration, root: string): Promise<void> {
  const { KeptByAnother, startProbe } = await import('../../probe/probe.ts');
  // Before it starts: a signal that comes at once is to find somebody who listens.
  const { untilSignal } = await import('./until-signal.ts');
  const log = await (await import('./log.ts')).openLog();
  const running = await startProbe({ configuration, root, clock: machineClock(), log }).catch(
    (error: Error) => {
      if (error instanceof KeptByAnother) throw new UsageError(error.message);
      throw error;
    },
  );
  const stop = async () => {
    await running.close();
    return unsentInWords(running.unsent(), configuration.keep);
  };
  const late = `what is in ${configuration.keep} goes out at the next start`;
  await untilSignal(log, new Promise<Error>(() => {}), stop, late);
  // Even `process.exit` waits for the thread of a read that hangs; a signal that nobody listens to does not.
  setTimeout(() => {
    process.removeAllListeners('SIGTERM');
    process.kill(process.pid, 'SIGTERM');
  }, END_WITHIN_MS).unref();
}

/** What a probe that has stopped leaves behind. */
function unsentInWords({ kept, isCounted, lost }: Unsent, folder: string): string {
  const left =
    kept === 0
      ? 'nothing is kept that waits to be sent'
      : `${isCounted ? '' : 'about '}${kept} readings that nobody acknowledged are kept in ${folder}, and go out at the next start`;
  return lost === 0 ? left : `${left}; ${lost} readings that the disk did not take are lost`;
}
