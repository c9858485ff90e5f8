/** A daemon whose clock runs faster than the machine's, until its input ends. Prints the port of its broker. */
import { once } from 'node:events';
import { machineClock } from '../../../daemon/clock.ts';
import { keepHeapSmall } from '../../../daemon/small-heap.ts';
import { startHere } from '../../support/serving.ts';

const { data, speed } = JSON.parse(process.argv[2]!) as { data: string; speed: number };
keepHeapSmall();
const daemon = await startHere({ data, clock: machineClock(speed) });
process.stdout.write(`${daemon.mqttPort}\n`);
process.stdin.resume();
await once(process.stdin, 'end');
await daemon.close();
