import { parentPort, workerData } from 'node:worker_threads';
import { answerCalls } from './answering.ts';
import type { ThreadData } from './thread.ts';

/** The entry of a store's threads. */
void answerCalls(parentPort!, workerData as ThreadData);
