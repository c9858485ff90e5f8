import { readFileSync } from 'node:fs';
import type { z } from 'zod';
import { UsageError } from './commands/usage.ts';

/**
 * What a JSON file holds, as a schema has it. `what` says what kind of file it is.
 * @throws UsageError with one line that names the file and the field.
 */
export function readJsonFile<Schema extends z.ZodType>(
  file: string,
  what: string,
  schema: Schema,
): z.infer<Schema> {
  let json: unknown;
  try {
    json = JSON.parse(readFileSync(file, 'utf8'));
  } catch (error) {
    throw new UsageError(`${what} ${file}: ${(error as Error).message}`);
  }
  const parsed = schema.safeParse(json);
  if (parsed.success) return parsed.data;
  const issue = parsed.error.issues[0]!;
  throw new UsageError(`${what} ${file}: ${issue.path.join('.') || 'the file'}: ${issue.message}`);
}
