import { createECDH, createHmac, randomBytes, timingSafeEqual } from 'node:crypto';
import { join } from 'node:path';
import { z } from 'zod';
import { readPrivate, writePrivate } from '../private-file.ts';

const keysSchema = z.strictObject({
  publicKey: z.string().length(87),
  privateKey: z.string().length(43),
  /** What links are made with, 32 bytes. */
  links: z.string().length(43),
});

/** The daemon's own keys for messages, made at first use, in a file of their own: no copy of the store holds them. */
export class ReachKeys {
  readonly #file: string;
  #keys: z.infer<typeof keysSchema> | undefined;

  constructor(data: string) {
    this.#file = join(data, 'reach-keys.json');
  }

  /** For Web Push: a pair of P-256 (RFC 8292), base64url. */
  get pair(): { publicKey: string; privateKey: string } {
    const { publicKey, privateKey } = this.#all();
    return { publicKey, privateKey };
  }

  /**
   * The token of a message's link: its id and what only this daemon can make of it. So a message that is sent again
   * after a restart has the link that it had, and no file holds a token.
   */
  tokenOf(message: string): string {
    return `${message}.${this.#seal(message)}`;
  }

  /** The message that a token is of; null for one that this daemon never made. */
  messageOf(token: string): string | null {
    const [message = '', seal = '', ...more] = token.split('.');
    const wanted = Buffer.from(this.#seal(message));
    const given = Buffer.from(seal);
    if (more.length > 0 || given.length !== wanted.length) return null;
    return timingSafeEqual(given, wanted) ? message : null;
  }

  #seal(message: string): string {
    return createHmac('sha256', this.#all().links).update(message).digest('base64url');
  }

  #all(): z.infer<typeof keysSchema> {
    this.#keys ??= readPrivate(this.#file, keysSchema) ?? this.#made();
    return this.#keys;
  }

  #made(): z.infer<typeof keysSchema> {
    const pair = createECDH('prime256v1');
    pair.generateKeys();
    // The private number may begin with zeros, which are left out.
    const privateKey = Buffer.concat([Buffer.alloc(32), pair.getPrivateKey()]).subarray(-32);
    const keys = {
      publicKey: pair.getPublicKey('base64url'),
      privateKey: privateKey.toString('base64url'),
      links: randomBytes(32).toString('base64url'),
    };
    writePrivate(this.#file, keys);
    return keys;
  }
}
