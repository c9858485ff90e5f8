import { setFlagsFromString } from 'node:v8';

let isWanted = false;

/**
 * Lets the heap of this thread, and of the threads to come, grow by little before it is tidied up: left alone, V8
 * doubles it under steady load and keeps 32 MB for what is young, which small computers have no room for. To be
 * called before much is loaded: what has grown does not shrink.
 */
export function keepHeapSmall(): void {
  isWanted = true;
  setFlagsFromString('--heap-growing-percent=10');
  setFlagsFromString('--semi-space-growth-factor=1');
}

/** To be called when a thread has started: its start sets the growth of what is young back, for all threads. */
export function keepHeapSmallAgain(): void {
  if (isWanted) keepHeapSmall();
}
