import type { Limits } from '../rules/limits.ts';

/** A line of a run with these limits over those of its plan, if it is one that brings a plan. */
export function withLimits(line: string, limits: Partial<Limits>): string {
  // Nearly all lines: they need not be taken apart twice.
  if (line.startsWith('{"type":"reading"')) return line;
  let json: unknown;
  try {
    json = JSON.parse(line);
  } catch {
    return line;
  }
  if (!isObject(json) || json.type !== 'vessel') return line;
  const { plan = {} } = json;
  if (!isObject(plan)) return line;
  const { limits: own = {} } = plan;
  if (!isObject(own)) return line;
  try {
    return JSON.stringify({ ...json, plan: { ...plan, limits: { ...own, ...limits } } });
  } catch {
    // Nested too deep to be written again: as it is, it will be refused.
    return line;
  }
}

const isObject = (json: unknown): json is Record<string, unknown> =>
  typeof json === 'object' && json !== null && !Array.isArray(json);
