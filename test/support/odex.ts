import { createRequire } from 'node:module';

/** What is used here of ODEX, whose own types are not written for strict checking. */
interface Solver {
  maxSteps: number;
  absoluteTolerance: number;
  relativeTolerance: number;
  solve(derivative: Derivative, from: number, start: number[], to: number): { y: number[]; outcome: number };
}
type Derivative = (t: number, y: number[]) => number[];

const require = createRequire(import.meta.url);
const { Solver, Outcome } = require('odex') as {
  Solver: new (dimension: number) => Solver;
  Outcome: { Converged: number };
};

/** Integrates from `from` to `to` by Hairer’s ODEX, an extrapolation method, to 1e-10. */
export function odex(derivative: Derivative, start: readonly number[], from: number, to: number): number[] {
  const solver = new Solver(start.length);
  solver.maxSteps = 10_000_000;
  solver.absoluteTolerance = 1e-10;
  solver.relativeTolerance = 1e-10;
  const { y, outcome } = solver.solve(derivative, from, [...start], to);
  if (outcome !== Outcome.Converged) throw new Error('ODEX did not converge');
  return y;
}
