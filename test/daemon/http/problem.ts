import { expect } from 'vitest';
import { problemSchema } from '../../../shared/wire/api.ts';
import type { Answer } from '../running-daemon.ts';

/** An answer in the form of RFC 9457, with the status said twice and the project's stable code. */
export function expectProblem({ status, headers, json, text }: Answer, wanted: number, code: string): void {
  expect({ status, code: json?.code }, text).toEqual({ status: wanted, code });
  expect(headers['content-type']).toBe('application/problem+json');
  expect(problemSchema.parse(json).status).toBe(wanted);
}
