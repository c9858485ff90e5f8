import { z } from 'zod';
import { isoTimeOut, name, person } from './parts.ts';
import { knownPersonSchema, RIGHTS, type Right } from './session.ts';

/** Who may do what: people who sign in, scripts with a token, devices that publish. */

/** Everybody who may do anything may look. */
export const rightsSchema = z
  .array(z.enum(RIGHTS))
  .transform((rights): Right[] => RIGHTS.filter((right) => right === 'look' || rights.includes(right)));

/** The longest passphrase that is looked at, characters. */
export const MOST_PASSPHRASE = 256;
const passphrase = z.string().max(MOST_PASSPHRASE);

// ---- being signed in ----

export const signInBodySchema = z.strictObject({ name: person, passphrase });

// ---- people ----

export const peopleSchema = z.object({ people: z.array(knownPersonSchema) });

/** A person who is set up, or changed: without a passphrase it stays as it is. */
export const personBodySchema = z.strictObject({
  rights: rightsSchema.optional(),
  passphrase: passphrase.optional(),
});

export const passphraseBodySchema = z.strictObject({ old: passphrase, passphrase });

// ---- tokens of scripts ----

export const tokenSchema = z.object({
  name: z.string(),
  person: z.string().describe('Whose it is: it ends with them, and may no more than they may'),
  rights: z.array(z.enum(RIGHTS)),
  ends: isoTimeOut,
});
export type Token = z.infer<typeof tokenSchema>;

/** The longest that a token is good for, days. */
export const MOST_TOKEN_DAYS = 366;

export const tokenBodySchema = z.strictObject({
  name,
  rights: rightsSchema.default(['look']),
  days: z.number().int().min(1).max(MOST_TOKEN_DAYS).default(90),
});

// ---- devices that may publish ----

export const publisherSchema = z.object({
  name,
  site: name.nullable().describe('The one that it may publish for; null: any'),
});
export type Publisher = z.infer<typeof publisherSchema>;

export const publisherBodySchema = z.strictObject({
  site: name.nullable().optional().describe('Left out: as it was; any for a new one'),
});

/** A secret is shown once: only what it hashes to is kept. */
export const secretSchema = z.object({ secret: z.string() });

// ---- what was noted ----

const noted = { at: isoTimeOut, by: z.string() };
export const accessNoteSchema = z.discriminatedUnion('what', [
  z.object({ what: z.literal('signed-in'), ...noted, from: z.string() }),
  z.object({ what: z.literal('signed-out'), ...noted }),
  z.object({
    what: z.literal('sign-in-refused'),
    ...noted,
    person: z.string().nullable().describe('Null where nobody has the name that was tried'),
    from: z.string(),
    tooMany: z
      .literal(true)
      .optional()
      .describe('Too many tries: nothing was compared; noted once a minute an address'),
  }),
  z.object({
    what: z.literal('access-changed'),
    ...noted,
    kind: z.enum(['person', 'token', 'device', 'forwarder']),
    name: z.string(),
    may: z
      .string()
      .nullable()
      .describe('Rights, the site of a device, or the sites of a forwarder; null: nothing any more'),
  }),
]);
export type AccessNote = z.infer<typeof accessNoteSchema>;
