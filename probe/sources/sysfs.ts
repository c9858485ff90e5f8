import { readdir, realpath } from 'node:fs/promises';
import { basename, join } from 'node:path';
import { ANSWER_WITHIN_MS, LATE, readPatiently } from './patient-read.ts';
import { SourceTrouble } from './source.ts';

/** The text of a kernel's file without the line feed at its end. @throws SourceTrouble */
export async function readText(file: string): Promise<string> {
  try {
    return (await readPatiently(file)).trim();
  } catch (error) {
    throw new SourceTrouble(because(file, error as NodeJS.ErrnoException));
  }
}

/** The same; undefined where there is no such file. */
export async function readTextIfThere(file: string): Promise<string | undefined> {
  try {
    return (await readPatiently(file)).trim();
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException;
    if (code === 'ENOENT' || code === 'ENODEV') return undefined;
    throw new SourceTrouble(because(file, error as NodeJS.ErrnoException));
  }
}

/** The number in a kernel's file. @throws SourceTrouble */
export async function readNumber(file: string): Promise<number> {
  return parseNumber(await readText(file), file);
}

export async function readNumberIfThere(file: string): Promise<number | undefined> {
  const text = await readTextIfThere(file);
  return text === undefined ? undefined : parseNumber(text, file);
}

function parseNumber(text: string, file: string): number {
  const number = text === '' ? Number.NaN : Number(text);
  if (!Number.isFinite(number))
    throw new SourceTrouble(
      `${file} holds no number but "${text.slice(0, 40)}": look whether it is the file meant`,
      `no-number ${file}`,
    );
  return number;
}

/** A sentence for what the system says of a file, that says what to do. */
export function because(file: string, { code, message }: NodeJS.ErrnoException): string {
  switch (code) {
    case 'ENOENT':
    case 'ENODEV':
    case 'ENXIO':
      return `${file} is not there: look whether the sensor is plugged in and its driver loaded; "esterwatch probe" lists what is found`;
    case 'EACCES':
    case 'EPERM':
      return `${file} may not be read by this user: run it as one that may (ls -l ${file} says which group; usermod -aG GROUP USER)`;
    case 'EIO':
    case 'ETIMEDOUT':
    case 'EAGAIN':
      return `${file}: the sensor does not answer (${code}): look at its wires, its supply and the pull-up resistor`;
    case LATE:
      return `${file} does not answer for ${ANSWER_WITHIN_MS / 1000} s, and is waited for: look at its wires and its supply, and load its driver anew`;
    default:
      return `${file} cannot be read: ${message}`;
  }
}

/** The names in a folder, in order; none where it is not there or may not be looked into. */
export async function namesIn(folder: string): Promise<string[]> {
  const names = await readdir(folder).catch(() => []);
  return names.sort((a, b) => a.localeCompare(b, 'en', { numeric: true }));
}

/** A chip as the kernel shows it. Its number (`hwmon3`) may be another after each start; its name stays. */
export interface Chip {
  folder: string;
  name: string;
  /** What it hangs on, as `0000:00:18.3` or `1-0048`; tells two chips of one name apart. */
  device: string;
}

/** Every chip of a class, `/sys/class/hwmon` for one. */
export async function chipsIn(folder: string): Promise<Chip[]> {
  const chips: Chip[] = [];
  for (const entry of await namesIn(folder)) {
    const own = join(folder, entry);
    const name = await readTextIfThere(join(own, 'name')).catch(() => undefined);
    if (name === undefined || name === '') continue;
    chips.push({ folder: own, name, device: await deviceOf(own) });
  }
  return chips;
}

/** The folder of its own is a link into the tree of devices, and its parent there is what it hangs on. */
async function deviceOf(folder: string): Promise<string> {
  const device = await realpath(join(folder, 'device')).catch(() => undefined);
  return basename(device ?? (await realpath(folder).catch(() => folder)));
}

/**
 * The chip of a name, looked for anew each time: it may have been plugged in elsewhere since.
 * @throws SourceTrouble where there is none, or more than one and no device is said
 */
export async function chipNamed(folder: string, name: string, device?: string): Promise<Chip> {
  const chips = (await chipsIn(folder)).filter(
    (chip) => chip.name === name && (device === undefined || chip.device === device),
  );
  const where = device === undefined ? name : `${name} on ${device}`;
  if (chips.length === 0)
    throw new SourceTrouble(
      `${folder} has no chip ${where}: look whether it is plugged in and its driver loaded; "esterwatch probe" lists what is found`,
    );
  if (chips.length > 1)
    throw new SourceTrouble(
      `${folder} has ${chips.length} chips ${where}: say which by "device", one of ${chips.map((chip) => chip.device).join(', ')}`,
    );
  return chips[0]!;
}
