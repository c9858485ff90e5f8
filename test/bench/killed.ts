/**
 * Kills a daemon under full load at random moments, starts it again on the same folder, and looks whether
 * everything acknowledged is there and the store is as it was written: `npm run bench:killed -- [ROUNDS [SEED]]`,
 * after `npm run build`. Every folder takes some of the rounds, so that looking through it stays short.
 */
import { seededRandom } from '../../simulator/random.ts';
import { killRounds } from '../support/kill-rounds.ts';
import { dataFolderOnDisk } from '../support/serving.ts';

const ROUNDS_A_FOLDER = 20;

const [rounds = 200, seed = Date.now() % 1_000_000] = process.argv.slice(2).map(Number);
const random = seededRandom(seed, 'kills');
const starts: number[] = [];
let acknowledged = 0;
let wrong = 0;
process.stdout.write(`${rounds} rounds, seed ${seed}, node ${process.version}\n`);
process.stdout.write(
  '| round | killed after, ms | start cut after, ms | acknowledged | stored | start, ms |\n',
);
process.stdout.write('| --- | --- | --- | --- | --- | --- |\n');
while (starts.length < rounds) {
  const { data, remove } = dataFolderOnDisk();
  try {
    const here = Math.min(ROUNDS_A_FOLDER, rounds - starts.length);
    for await (const round of killRounds(data, here, random)) {
      starts.push(round.startMs);
      acknowledged += round.acknowledged;
      wrong += round.wrong.length;
      const cut = round.startCutAfterMs ?? '';
      const cells = [starts.length, round.killedAfterMs, cut, round.acknowledged, round.stored];
      process.stdout.write(`| ${[...cells, Math.round(round.startMs)].join(' | ')} |\n`);
      for (const line of round.wrong) process.stdout.write(`  WRONG: ${line}\n`);
    }
  } finally {
    remove();
  }
}
const sorted = starts.toSorted((a, b) => a - b);
const at = (share: number): string => sorted[Math.floor(share * (sorted.length - 1))]!.toFixed(0);
process.stdout.write(
  `${acknowledged} readings acknowledged; wrong: ${wrong}; start: median ${at(0.5)} ms, p99 ${at(0.99)} ms, most ${at(1)} ms\n`,
);
process.exitCode = wrong === 0 ? 0 : 1;
