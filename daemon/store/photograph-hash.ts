import { createHash } from 'node:crypto';

/** What a photograph is kept and named by: SHA-256 of its content, hex. */
export const photographHash = (content: Uint8Array): string =>
  createHash('sha256').update(content).digest('hex');
