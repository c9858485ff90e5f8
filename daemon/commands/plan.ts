import { OutOfRange } from '../../shared/chemistry/formula.ts';
import { computePlan } from '../../shared/plan/compute.ts';
import { readPlanRequest } from '../../shared/plan/read-request.ts';
import { readOptions } from './options.ts';
import { UsageError } from './usage.ts';

const HELP = `esterwatch plan: reads a plan request as JSON from stdin and prints the computed plan as JSON.
What a request leaves out gets the defaults that docs/plan.md states; {} is a request.

  --help
`;

/** A request of more bytes than this is a mistake. */
const MOST_BYTES = 1024 * 1024;

/** Computes the plan for the request on stdin. */
export async function plan(args: string[]): Promise<void> {
  if (readOptions(args, {}, HELP) === null) return;
  const text = await readStdin();
  try {
    const answer = computePlan(readPlanRequest(parse(text)));
    process.stdout.write(`${JSON.stringify(answer, null, 1)}\n`);
  } catch (error) {
    if (error instanceof OutOfRange) throw new UsageError(error.message);
    throw error;
  }
}

function parse(text: string): unknown {
  try {
    return JSON.parse(text.replace(/^\uFEFF/, ''));
  } catch (error) {
    throw new UsageError(
      `stdin is not a plan request in JSON: ${(error as Error).message.replaceAll(/\s+/g, ' ')}`,
    );
  }
}

async function readStdin(): Promise<string> {
  const chunks: Buffer[] = [];
  let bytes = 0;
  for await (const chunk of process.stdin as AsyncIterable<Buffer>) {
    bytes += chunk.length;
    if (bytes > MOST_BYTES) throw new UsageError(`stdin is over ${MOST_BYTES} bytes: no plan request is`);
    chunks.push(chunk);
  }
  return Buffer.concat(chunks).toString('utf8');
}
