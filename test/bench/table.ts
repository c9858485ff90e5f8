/** What the benches have in common: rows of one form, which `npm run bench` puts into one table. */
import { readFileSync } from 'node:fs';

/** Clock ticks a second of /proc/PID/stat (sysconf(_SC_CLK_TCK) on Linux). */
const TICKS_PER_S = 100;

export interface Row {
  what: string;
  figure: string;
  /** What it is compared with in the same run. */
  beside?: string;
  ratio?: number;
  aim?: string;
  /** Each value that the figure is the median of, and what else tells how far it can be trusted. */
  raw?: string;
}

export const HEAD = ['what', 'figure', 'compared with', 'ratio', 'aim', 'raw values'] as const;

export const tableLine = (cells: readonly string[]): string => `| ${cells.join(' | ')} |\n`;

export function printHead(): void {
  process.stdout.write(tableLine(HEAD) + tableLine(HEAD.map(() => '---')));
}

export function printRow({ what, figure, beside = '', ratio, aim = '', raw: values = '' }: Row): void {
  const cells = [what, figure, beside, ratio === undefined ? '' : ratio.toPrecision(2), aim, values];
  process.stdout.write(tableLine(cells));
}

export const median = (values: readonly number[]): number =>
  values.toSorted((a, b) => a - b)[values.length >> 1]!;
export const share = (values: readonly number[], of: number): number =>
  values.toSorted((a, b) => a - b)[Math.floor(of * (values.length - 1))]!;
export const raw = (values: readonly number[], digits = 0): string =>
  values.map((value) => value.toFixed(digits)).join(', ');

/** Processor time that a process has used, s. */
export function usedS(pid: number): number {
  const fields = readFileSync(`/proc/${pid}/stat`, 'utf8').split(') ')[1]!.split(' ');
  return (Number(fields[11]) + Number(fields[12])) / TICKS_PER_S;
}

/** Memory that a process occupies, its program's file included, MB. */
export const heldMB = (pid: number): number =>
  Number(/^VmRSS:\s+(\d+) kB/m.exec(readFileSync(`/proc/${pid}/status`, 'utf8'))![1]) / 1024;

/** Of a vessel of the usual site, which has twenty of them and reads each channel once a second. */
export const USUAL_CHANNELS = [
  'liquid-temperature',
  'liquid-temperature-2',
  'wall-temperature',
  'stirrer-speed',
  'stirrer-current',
  'ambient-temperature',
] as const;
