import { setFlagsFromString } from 'node:v8';

/** Readings a second beyond which tidying up costs more than the memory is worth: that is no small computer's load. */
const MUCH_PER_S = 3000;

let isWanted = false;
let isMuch = false;

/**
 * Lets the heap of this thread, and of the threads to come, grow by little before it is tidied up: left alone, V8
 * doubles it under steady load and keeps 32 MB for what is young, which small computers have no room for. To be
 * called before much is loaded: what has grown does not shrink.
 */
export function keepHeapSmall(): void {
  isWanted = true;
  setFlagsFromString(`--heap-growing-percent=${isMuch ? 100 : 10}`);
  setFlagsFromString(`--semi-space-growth-factor=${isMuch ? 2 : 1}`);
}

/** Under much load the heap may grow: half of the processor would go into tidying it up. */
export function fitHeapTo(readingsPerSecond: number): void {
  const was = isMuch;
  isMuch = readingsPerSecond > MUCH_PER_S;
  if (isWanted && was !== isMuch) keepHeapSmall();
}

/** To be called when a thread has started: its start sets the growth of what is young back, for all threads. */
export function keepHeapSmallAgain(): void {
  if (isWanted) keepHeapSmall();
}
