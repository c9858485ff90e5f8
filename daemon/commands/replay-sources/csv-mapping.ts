import { z } from 'zod';
import { channelKind, NAME_PATTERN } from '../../../shared/wire/names.ts';
import { stageFields, vesselFields } from '../../../shared/wire/replay-line.ts';
import { OFFSET, timeReader } from './time-form.ts';

const name = z.string().regex(NAME_PATTERN);
/** By its name in the header, or by its number from 1. */
const column = z.union([z.string().min(1), z.number().int().min(1).max(10_000)]);
export type ColumnName = z.infer<typeof column>;

const columnSchema = z
  .strictObject({
    column,
    vessel: name,
    channel: name,
    unit: z.enum(['Cel', 'degF', 'K']).optional(),
    /** The channel's own unit is the number × scale + offset. */
    scale: z.number().optional(),
    offset: z.number().optional(),
  })
  .refine(({ unit, scale, offset }) => unit === undefined || (scale === undefined && offset === undefined), {
    error: 'a unit, or scale and offset',
  })
  .refine(
    ({ unit, channel }) => unit === undefined || ['temperature', 'other'].includes(channelKind(channel)),
    { error: 'a unit is for a channel of temperature', path: ['unit'] },
  );
export type MappedColumn = z.infer<typeof columnSchema>;

/** What the columns of a CSV file mean, and what a run says besides readings. */
export const mappingSchema = z
  .strictObject({
    separator: z.enum([',', ';', '\t']).default(','),
    decimalComma: z.boolean().default(false),
    /** Lines before the header, or before the first row where every column goes by its number. */
    skipLines: z.number().int().min(0).max(10_000).default(0),
    time: z
      .strictObject({
        /** Several are put together with a space between, as for a date and a time of day. */
        column: z.union([column, z.array(column).min(1).max(3)]),
        form: z.string().min(1).max(100).default('iso'),
        offset: z.string().regex(OFFSET, 'an offset like +01:00').optional(),
      })
      .superRefine(({ form, offset }, context) => {
        const reader = timeReader(form, offset);
        if (typeof reader === 'string') context.addIssue({ code: 'custom', message: reader, path: ['form'] });
      }),
    columns: z.array(columnSchema).min(1).max(1000),
    vessels: z.array(z.strictObject(vesselFields)).min(1).max(1000),
    stages: z.array(z.strictObject(stageFields)).max(10_000).default([]),
  })
  .superRefine(({ columns, vessels, stages }, context) => {
    const known = new Set(vessels.map(({ vessel }) => vessel));
    const places = { columns, stages };
    for (const [place, list] of Object.entries(places)) {
      const i = list.findIndex(({ vessel }) => !known.has(vessel));
      if (i === -1) continue;
      const message = `${list[i]!.vessel} is none of the vessels`;
      context.addIssue({ code: 'custom', message, path: [place, i, 'vessel'] });
    }
    const channels = columns.map(({ vessel, channel }) => `${vessel}/${channel}`);
    const twice = channels.findIndex((channel, i) => channels.indexOf(channel) < i);
    if (twice !== -1) {
      const message = `${channels[twice]} has a column already`;
      context.addIssue({ code: 'custom', message, path: ['columns', twice] });
    }
  });
export type CsvMapping = z.infer<typeof mappingSchema>;
