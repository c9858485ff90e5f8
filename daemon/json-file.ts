import { readFileSync } from 'node:fs';
import { resolve } from 'node:path';
import type { z } from 'zod';
import { UsageError } from './commands/usage.ts';

/**
 * What a JSON file holds, as a schema has it. `what` says what kind of file it is, `otherwise` what to do where there is none.
 * @throws UsageError with one line that names the file and the field.
 */
export function readJsonFile<Schema extends z.ZodType>(
  file: string,
  what: string,
  schema: Schema,
  otherwise = 'name one that is there',
): z.infer<Schema> {
  let json: unknown;
  try {
    json = JSON.parse(readFileSync(file, 'utf8'));
  } catch (error) {
    throw new UsageError(`${what} ${file}: ${because(error as NodeJS.ErrnoException, file, otherwise)}`);
  }
  const parsed = schema.safeParse(json);
  if (parsed.success) return parsed.data;
  const issue = parsed.error.issues[0]!;
  throw new UsageError(`${what} ${file}: ${issue.path.join('.') || 'the file'}: ${issue.message}`);
}

/** Why a file could not be read, and what to do. */
function because({ code, message }: NodeJS.ErrnoException, file: string, otherwise: string): string {
  switch (code) {
    case 'ENOENT':
      return `there is no such file (looked for at ${resolve(file)}); ${otherwise}`;
    case 'EISDIR':
      return 'that is a folder; name the file in it';
    case 'EACCES':
    case 'EPERM':
      return 'may not be read by this user; run it as the user whose file it is, or let this one read it (chmod, chgrp)';
    default:
      return message;
  }
}
