import { z } from 'zod';
import { vesselSchema } from './api.ts';
import { isoTimeOut, name } from './parts.ts';
import { siteSchema } from './set-up.ts';

/** What goes between a site's daemon and a centre. */

/** So many vessels of a site: as many as a daemon takes in. */
const MOST_VESSELS = 1000;

/** What a site is like now, beyond its newest seal: replaced whole each time. */
export const pictureSchema = z.strictObject({
  mark: z
    .string()
    .max(80)
    .describe('From the centre’s last answer: how old this is goes by the centre’s own clock'),
  agoMs: z.number().min(0).describe('So long before this was made the answer with the mark had come'),
  at: isoTimeOut.describe('By the site’s own clock'),
  ready: z.boolean().describe('Whether the site’s daemon takes in and stores what comes'),
  because: z.array(z.string().max(500)).max(10).describe('Why it is not ready'),
  site: siteSchema.omit({ forwarded: true }),
  vessels: z.array(vesselSchema.omit({ forwarded: true })).max(MOST_VESSELS),
  resting: z.array(name).max(MOST_VESSELS).describe('Vessels that only settle, cool and not heated'),
});
export type Picture = z.infer<typeof pictureSchema>;

/** What a centre answers to whoever forwards. */
export const placeSchema = z.object({
  site: name,
  entries: z.number().describe('Of its chain, how many are here: the next seal begins after them'),
  mark: z.string().describe('For the next picture'),
});
export type Place = z.infer<typeof placeSchema>;

/** A forwarded site, at the centre. */
export const forwardedSiteSchema = z.object({
  site: name,
  entries: z.number().describe('Of its chain, how many are here'),
  asOf: isoTimeOut
    .nullable()
    .describe('When it was as it is shown, by its own clock; null: nothing came yet'),
  ageMs: z.number().nullable().describe('How long ago that was, by this daemon’s clock'),
  live: z.boolean().describe('Not older than a minute'),
  ready: z.boolean().nullable().describe('What its daemon said of itself then'),
  because: z.array(z.string()),
});
