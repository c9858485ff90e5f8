import { expect, onTestFinished, test } from 'vitest';
import { seededRandom } from '../../simulator/random.ts';
import { killRounds } from '../support/kill-rounds.ts';
import { dataFolderOnDisk } from '../support/serving.ts';
import { share } from '../support/thorough.ts';

const ROUNDS = share(10, 3);
/** Another at every run; one that fails is named, although no two runs kill at quite the same moment. */
const seed = Date.now() % 1_000_000;

test(`killed ${ROUNDS} times at random moments under full load: nothing acknowledged is lost, nothing is there twice`, {
  timeout: 240_000,
}, async () => {
  const { data, remove } = dataFolderOnDisk();
  onTestFinished(remove);
  let acknowledged = 0;
  for await (const round of killRounds(data, ROUNDS, seededRandom(seed, 'kills'))) {
    acknowledged += round.acknowledged;
    expect(round.wrong, `seed ${seed}, killed after ${round.killedAfterMs} ms`).toEqual([]);
  }
  // There was something to lose.
  expect(acknowledged).toBeGreaterThan(100 * ROUNDS);
});
