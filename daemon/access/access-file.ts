import { createHash, randomBytes } from 'node:crypto';
import { existsSync, mkdirSync, readFileSync, statSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { z } from 'zod';
import { name, person } from '../../shared/wire/parts.ts';
import { RIGHTS } from '../../shared/wire/session.ts';
import { writePrivate } from '../private-file.ts';
import { alone } from './lock.ts';

const rights = z.array(z.enum(RIGHTS));
const sha256 = z.string().regex(/^[0-9a-f]{64}$/);

const accessChange = z.strictObject({
  kind: z.enum(['person', 'token', 'device', 'forwarder']),
  name: z.string(),
  may: z.string().nullable(),
});

/** Everybody who is let in, with what they prove it by: of secrets only what they hash to. */
const accessSchema = z.strictObject({
  people: z.array(
    z.strictObject({
      name: person,
      rights,
      passphrase: z.string().regex(/^scrypt(\$\d+){3}(\$[\w-]+){2}$/),
    }),
  ),
  tokens: z.array(z.strictObject({ name, person, rights, endsMs: z.number().int().nonnegative(), sha256 })),
  devices: z.array(z.strictObject({ name, site: name.nullable(), sha256 })),
  /** Daemons that may forward sites to this one; missing in files from before there were any. */
  forwarders: z.array(z.strictObject({ name, sites: z.array(name).min(1), sha256 })).default([]),
  /** What was changed and stands in the history of no site yet. */
  unnoted: z.array(z.strictObject({ atMs: z.number().int(), by: z.string(), ...accessChange.shape })),
});
export type AccessList = z.infer<typeof accessSchema>;
/** What is noted of a change: who or what may do what from now on; null: nothing any more. */
export type AccessChange = z.infer<typeof accessChange>;

const NOBODY: AccessList = { people: [], tokens: [], devices: [], forwarders: [], unnoted: [] };
const FILE = 'access.json';
/** Beside it: who is signed in. */
export const SESSIONS_FILE = 'sessions.json';
/** Changes that wait for a first site are no more than these: the newest. */
const MOST_UNNOTED = 1000;

/** The file cannot be read, or is no such file: then nobody is let in. */
export class AccessError extends Error {}

/**
 * Who is let in, in a file of the data folder that its owner alone can read. A command may change it beside a running
 * daemon, which sees it at once. No part of the store, so that no copy of that has it.
 */
export class AccessFile {
  readonly #path: string;
  readonly #waitsMs: number;
  #read: { stamp: string; list: AccessList } | null = null;
  #wasThere: boolean;

  /** Another process has the file for some ms: it is waited for as long as `waitsMs`, and nothing else is done. */
  constructor(dataFolder: string, waitsMs: number) {
    this.#waitsMs = waitsMs;
    this.#path = join(dataFolder, FILE);
    // Whoever signed in once was on a list: that it went while nothing ran lets nobody in either.
    this.#wasThere = existsSync(join(dataFolder, SESSIONS_FILE));
  }

  /**
   * As it is now.
   * @throws AccessError where the file is damaged, or has gone since it was there.
   */
  list(): AccessList {
    const stamp = this.#stamp();
    if (stamp === null) {
      if (this.#wasThere)
        throw new AccessError(
          `${this.#path} has gone: nobody is let in (to begin anew, remove ${SESSIONS_FILE} beside it as well)`,
        );
      return NOBODY;
    }
    this.#wasThere = true;
    if (this.#read?.stamp !== stamp) this.#read = { stamp, list: this.#parsed() };
    return this.#read.list;
  }

  /**
   * Changes the list as it is now, with what is to be noted of it; it is on disk then, whole, or as it was before.
   * @throws LockHeld where another process is at it.
   */
  change(
    how: (list: AccessList) => AccessList,
    noted: () => { atMs: number; by: string } & AccessChange,
  ): void {
    this.#alone(() => {
      const changed = how(this.list());
      this.#write({ ...changed, unnoted: [...changed.unnoted, noted()].slice(-MOST_UNNOTED) });
    });
  }

  /**
   * Takes off the list what was noted.
   * @throws LockHeld
   */
  noted(changes: AccessList['unnoted']): void {
    const isNoted = new Set(changes.map((change) => JSON.stringify(change)));
    this.#alone(() => {
      const list = this.list();
      this.#write({
        ...list,
        unnoted: list.unnoted.filter((change) => !isNoted.has(JSON.stringify(change))),
      });
    });
  }

  /** Runs while no other process changes the file. */
  #alone(run: () => void): void {
    mkdirSync(dirname(this.#path), { recursive: true, mode: 0o700 });
    alone(`${this.#path}.lock`, this.#waitsMs, run);
  }

  #write(list: AccessList): void {
    writePrivate(this.#path, accessSchema.parse(list));
  }

  /** Changes with every change of the file; null where there is none. */
  #stamp(): string | null {
    try {
      const found = statSync(this.#path, { bigint: true, throwIfNoEntry: false });
      return found === undefined ? null : `${found.ino} ${found.mtimeNs} ${found.size}`;
    } catch (error) {
      throw new AccessError(`${this.#path} cannot be read, so nobody is let in: ${(error as Error).message}`);
    }
  }

  #parsed(): AccessList {
    let text: string;
    try {
      text = readFileSync(this.#path, 'utf8');
    } catch (error) {
      throw new AccessError(`${this.#path} cannot be read, so nobody is let in: ${(error as Error).message}`);
    }
    try {
      return accessSchema.parse(JSON.parse(text));
    } catch (error) {
      const why = error instanceof z.ZodError ? error.issues[0]!.message : (error as Error).message;
      throw new AccessError(`${this.#path} is damaged, so nobody is let in: ${why}`);
    }
  }
}

/** A secret that nobody guesses: 192 bits, so that a plain hash of it may be kept. */
export const newSecret = (): string => randomBytes(24).toString('base64url');
export const sha256Of = (secret: string): string => createHash('sha256').update(secret).digest('hex');
