import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { z } from 'zod';
import { writePrivate } from '../private-file.ts';
import { newSecret, SESSIONS_FILE, sha256Of } from './access-file.ts';

/** A wall tablet stays signed in while it is looked at; a phone that is lost, no longer than this, ms. */
const UNUSED_MS = 30 * 24 * 3_600_000;
/** In any case, ms. */
const LONGEST_MS = 180 * 24 * 3_600_000;
/** When one was last used is written so often at most, ms. */
const WRITTEN_EVERY_MS = 3_600_000;
/** Of one person: the one that was unused for longest ends. */
const MOST_OF_PERSON = 20;

const sessionsSchema = z.array(
  z.strictObject({
    sha256: z.string(),
    person: z.string(),
    /** What the passphrase as it is kept hashes to: another one ends the session, whoever set it. */
    passphrase: z.string(),
    /** From where it was begun. */
    address: z.string().optional(),
    beganMs: z.number(),
    usedMs: z.number(),
  }),
);
type Session = z.infer<typeof sessionsSchema>[number];

/** Who is signed in: of each session only what its secret hashes to, kept over a restart. */
export class Sessions {
  readonly #path: string;
  readonly #nowMs: () => number;
  readonly #sessions: Map<string, Session>;
  #writtenMs = 0;

  constructor(dataFolder: string, nowMs: () => number) {
    this.#path = join(dataFolder, SESSIONS_FILE);
    this.#nowMs = nowMs;
    this.#sessions = new Map(readSessions(this.#path).map((session) => [session.sha256, session]));
  }

  /** Begins one of a person whose passphrase is kept like this, from an address; gives its secret. */
  begin(person: string, passphrase: string, address: string): string {
    const secret = newSecret();
    const now = this.#nowMs();
    const own = [...this.#sessions.values()].filter((session) => session.person === person);
    own.sort((a, b) => b.usedMs - a.usedMs);
    for (const { sha256 } of own.slice(MOST_OF_PERSON - 1)) this.#sessions.delete(sha256);
    const session = {
      sha256: sha256Of(secret),
      person,
      passphrase: sha256Of(passphrase),
      address,
      beganMs: now,
      usedMs: now,
    };
    this.#sessions.set(session.sha256, session);
    this.#write();
    return secret;
  }

  /** Whose it is, and what it hashes to; null where it has ended or never was. */
  find(secret: string): { person: string; sha256: string } | null {
    return this.#use(sha256Of(secret));
  }

  /** Whether one goes on, of a person whose passphrase is kept like this now. */
  isOn(sha256: string, passphrase: string): boolean {
    return this.#use(sha256)?.passphrase === sha256Of(passphrase);
  }

  /** Whether one that is kept was begun by a person from an address. */
  isFrom(person: string, address: string): boolean {
    return [...this.#sessions.values()].some((one) => one.person === person && one.address === address);
  }

  end(sha256: string): void {
    if (this.#sessions.delete(sha256)) this.#write();
  }

  #use(sha256: string): Session | null {
    const session = this.#sessions.get(sha256);
    if (session === undefined) return null;
    const now = this.#nowMs();
    if (now - session.usedMs > UNUSED_MS || now - session.beganMs > LONGEST_MS) {
      this.end(sha256);
      return null;
    }
    session.usedMs = Math.max(session.usedMs, now);
    if (Math.abs(now - this.#writtenMs) > WRITTEN_EVERY_MS) this.#write();
    return session;
  }

  #write(): void {
    this.#writtenMs = this.#nowMs();
    try {
      writePrivate(this.#path, [...this.#sessions.values()]);
    } catch {
      // A disk that refuses keeps nobody out, and ends nothing: it is written with the next change.
    }
  }
}

/** None where there is no such file, or it is damaged: everybody signs in anew. */
function readSessions(path: string): Session[] {
  try {
    return sessionsSchema.parse(JSON.parse(readFileSync(path, 'utf8')));
  } catch {
    return [];
  }
}
