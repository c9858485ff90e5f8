import { setImmediate as nextTurn } from 'node:timers/promises';
import { expect, test } from 'vitest';
import { Turns } from '../../../daemon/http/turns.ts';

/** Requests that come while a switch says whether there is something to take in; who was let in at which turn. */
function requests(isBusyAtFirst: boolean) {
  const state = { isBusy: isBusyAtFirst, turn: 0 };
  const turns = new Turns(() => state.isBusy);
  const letIn: { name: string; turn: number }[] = [];
  return {
    state,
    letIn,
    names: () => letIn.map(({ name }) => name),
    come: async (name: string): Promise<void> => {
      await turns.next();
      letIn.push({ name, turn: state.turn });
    },
    /** Goes through so many turns of the event loop. */
    pass: async (count: number): Promise<void> => {
      for (let i = 0; i < count; i++) {
        await nextTurn();
        state.turn++;
      }
    },
  };
}

const NAMES = ['a', 'b', 'c', 'd', 'e', 'f', 'g', 'h'];

test('while nothing is to be taken in, who comes is let in at once, however many they are', async () => {
  const { come, names } = requests(false);
  const all = NAMES.map(come);
  // All that was promised is done, and no turn has gone by.
  await new Promise<void>((resolve) => process.nextTick(resolve));
  expect(names()).toEqual(NAMES);
  await Promise.all(all);
});

test('while there is something to take in, one a turn is let in at most, in the order in which they came', async () => {
  const { come, names, letIn, pass } = requests(true);
  const all = NAMES.map(come);
  await new Promise<void>((resolve) => process.nextTick(resolve));
  expect(names()).toEqual([]);
  for (let turn = 1; turn <= 2 * NAMES.length; turn++) {
    const before = letIn.length;
    await pass(1);
    expect(letIn.length - before).toBeLessThanOrEqual(1);
  }
  await Promise.all(all);
  expect(names()).toEqual(NAMES);
  expect(new Set(letIn.map(({ turn }) => turn)).size).toBe(NAMES.length);
});

test('what sockets and timers bring comes between one and the next', async () => {
  const { come, letIn } = requests(true);
  const all = NAMES.map(come);
  // Called once a turn, between one that is let in and the next, as sockets are.
  const seen: number[] = [];
  const timer = setInterval(() => seen.push(letIn.length), 0);
  const blocks = all.map((one) =>
    one.then(() => {
      // Longer than the timer: it is due in every turn.
      for (const untilMs = performance.now() + 3; performance.now() < untilMs; );
    }),
  );
  await Promise.all(blocks);
  clearInterval(timer);
  for (let count = 1; count < NAMES.length; count++) expect(seen).toContain(count);
});

test('nobody is left behind when there is nothing to take in any more, and who comes then comes after them', async () => {
  const { come, names, state, pass } = requests(true);
  const all = NAMES.map(come);
  await pass(2);
  expect(names().length).toBeLessThan(NAMES.length);
  state.isBusy = false;
  const last = come('last');
  await pass(2 * NAMES.length);
  expect(names()).toEqual([...NAMES, 'last']);
  await Promise.all([...all, last]);
  await come('later');
  expect(names().at(-1)).toBe('later');
});

test('after a rest it is as at first', async () => {
  const { come, names, pass } = requests(true);
  const first = come('first');
  await pass(3);
  const second = come('second');
  expect(names()).toEqual(['first']);
  await pass(3);
  expect(names()).toEqual(['first', 'second']);
  await Promise.all([first, second]);
});
