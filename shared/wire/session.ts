import { z } from 'zod';

/** Who is signed in, apart from the rest of `access.ts`: every page asks this before anything else. */

/** `look` sees everything, `work` notes what is done and acknowledges, `keep` sets limits, people and devices. */
export const RIGHTS = ['look', 'work', 'keep'] as const;
export type Right = (typeof RIGHTS)[number];

export const knownPersonSchema = z.object({ name: z.string(), rights: z.array(z.enum(RIGHTS)) });
export type KnownPerson = z.infer<typeof knownPersonSchema>;

export const sessionSchema = z.object({
  wanted: z.boolean().describe('Whether anybody has to sign in: false while no person is set up'),
  person: knownPersonSchema.nullable().describe('Who is signed in'),
});
export type Session = z.infer<typeof sessionSchema>;
