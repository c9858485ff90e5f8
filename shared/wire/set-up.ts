import { z } from 'zod';
import { forwardedSchema } from './api.ts';
import { isoTimeOut, name, person } from './parts.ts';
import { reachHealthSchema } from './reach.ts';

/** What a person sets up and looks after: sites, devices, the daemon itself. Answers of the HTTP API. */

// ---- sites ----

export const siteSchema = z.object({
  site: name,
  altitudeM: z.number().nullable(),
  pressureHPa: z.number().describe('Station pressure that the boiling point is worked out from, hPa'),
  pressureAssumed: z.boolean().describe('True while neither altitude nor pressure was stated: sea level'),
  boilingC: z.number().describe('Methanol’s boiling point in an open vessel here now, °C'),
  barometer: z
    .object({
      at: isoTimeOut,
      pressureHPa: z.number(),
      counts: z.boolean().describe('False where it is over 1 h old or over 40 hPa off what was stated'),
    })
    .nullable()
    .describe('The newest sound `ambient-pressure`, whichever vessel it was sent to'),
  warningTested: z
    .object({ at: isoTimeOut, by: z.string() })
    .nullable()
    .describe('When a test warning was last sent'),
  forwarded: forwardedSchema.optional().describe('Where another daemon watches it'),
});
export type SiteAnswer = z.infer<typeof siteSchema>;

export const testWarningBodySchema = z.strictObject({
  by: person.optional(),
  mark: z.string().min(1).max(40).optional().describe('Comes back with the warning'),
});

// ---- devices ----

export const deviceSchema = z.object({
  site: name,
  device: name,
  presence: z.enum(['here', 'gone']),
  since: isoTimeOut.describe('When it said so'),
  vessel: name.nullable().describe('The vessel that it is named after; null: it serves any of its site'),
  newest: z
    .object({ vessel: name, channel: name, at: isoTimeOut, value: z.number(), sound: z.boolean() })
    .nullable()
    .describe('The newest reading that a device sent of that vessel, or of any of its site'),
});
export type Device = z.infer<typeof deviceSchema>;

export const devicesSchema = z.object({
  devices: z.array(deviceSchema),
  senders: z
    .array(z.object({ site: name, vessel: name, channel: name, sender: z.string() }))
    .describe('Who sent to each channel last since the start, by what the daemon’s own broker knows of it'),
});
export type Senders = z.infer<typeof devicesSchema>['senders'];

// ---- the daemon ----

/** What people are told of forwarding, at the site. */
export const forwardHealthSchema = z
  .object({
    sites: z.array(
      z.object({
        site: name,
        pictureAt: isoTimeOut
          .nullable()
          .describe('When the centre last took what the site is like now; null: not since the start'),
        entries: z
          .number()
          .nullable()
          .describe('So many entries of its chain the centre has; null: not known since the start'),
        because: z.string().nullable().describe('Why it does not go over now: a code; null where it does'),
      }),
    ),
  })
  .nullable()
  .describe('Whether what is watched here goes to a centre; null: it is not to');
export type ForwardHealth = z.infer<typeof forwardHealthSchema>;

export const healthSchema = z.object({
  ready: z.boolean(),
  because: z.array(z.string()).describe('Why it is not ready; empty where it is'),
  version: z.string(),
  broker: z.object({
    kind: z.enum(['embedded', 'outside']),
    connected: z.boolean(),
    listens: z
      .object({ host: z.string(), port: z.number() })
      .nullable()
      .describe('Where devices reach the embedded broker; null with an outside one'),
  }),
  store: z.object({
    writing: z.boolean(),
    because: z.string().nullable(),
    unsealedBecause: z
      .string()
      .nullable()
      .describe('Why closed hours are not sealed: what was written before was changed, or the disk refuses'),
  }),
  clock: z.object({ now: isoTimeOut, steps: z.number(), lastStepMs: z.number().nullable() }),
  backup: z
    .object({ last: isoTimeOut.nullable(), because: z.string().nullable() })
    .nullable()
    .describe(
      'The copy of the day: when one was last made since the start, why the newest try failed; null: none wanted',
    ),
  access: z
    .object({ readable: z.boolean(), because: z.string().nullable() })
    .describe('Whether it can be read who is let in, and why not: then nobody is'),
  reach: reachHealthSchema,
  forward: forwardHealthSchema,
  oldestUnstoredMs: z.number().nullable().describe('Age of the oldest reading not yet committed'),
});
