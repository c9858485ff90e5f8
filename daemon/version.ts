import { readFileSync } from 'node:fs';

/** The package's file: two folders up from where this is compiled to, one from its source. */
const FILE = new URL(
  import.meta.url.endsWith('.ts') ? '../package.json' : '../../package.json',
  import.meta.url,
);

/** The version of this build. */
export const VERSION: string = (JSON.parse(readFileSync(FILE, 'utf8')) as { version: string }).version;
