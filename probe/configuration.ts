import { z } from 'zod';
import { NAME_PATTERN } from '../shared/wire/names.ts';
import { HWMON_INPUT } from './sources/hwmon.ts';
import { IIO_INPUT } from './sources/iio.ts';
import { THERMOMETER } from './sources/one-wire.ts';

const DEFAULT_BAUD = 9600;

const name = z
  .string()
  .regex(
    NAME_PATTERN,
    'a name has small letters, digits and hyphens only, at most 40, as in liquid-temperature',
  );

const factor = z.number().refine((value) => value !== 0, 'everything times 0 is 0');

/** What every source has. */
const common = {
  channel: name,
  /** Where it is another than the probe's. */
  vessel: name.optional(),
  /** Seconds between two looks, where they are others than the probe's. */
  everySeconds: z.number().min(0.1).max(3600).optional(),
  /** What goes out is value × scale + offset. */
  scale: factor.optional(),
  offset: z.number().optional(),
};

const chip = { chip: z.string().min(1), device: z.string().min(1).optional() };
const pulsesPerUnit = z.number().positive();

const pattern = z.string().superRefine((text, context) => {
  try {
    new RegExp(text);
  } catch (error) {
    context.addIssue((error as Error).message);
    return;
  }
  if (!text.includes('(?<value>'))
    context.addIssue('it needs a group named value, as in T=(?<value>-?[0-9.]+)');
});

/** One source, its defaults filled in. */
export const sourceSchema = z.discriminatedUnion('kind', [
  z.strictObject({
    kind: z.literal('one-wire'),
    id: z.string().regex(THERMOMETER, 'the id of a 1-Wire thermometer is like 28-0316a2791eff'),
    ...common,
  }),
  z.strictObject({
    kind: z.literal('hwmon'),
    ...chip,
    input: z.string().regex(HWMON_INPUT, 'an input is like temp1 or fan1'),
    ...common,
  }),
  z.strictObject({
    kind: z.literal('iio'),
    ...chip,
    input: z.string().regex(IIO_INPUT, 'an input is like in_temp, in_pressure or in_voltage0'),
    ...common,
  }),
  z
    .strictObject({
      kind: z.literal('serial'),
      port: z.string().regex(/^\/dev\/[^\0]+$/, 'a port is like /dev/ttyUSB0'),
      baud: z.int().min(50).max(4_000_000).default(DEFAULT_BAUD),
      pattern: pattern.optional(),
      path: z.string().min(1).optional(),
      ...common,
    })
    .refine(({ pattern, path }) => pattern === undefined || path === undefined, 'pattern or path, not both'),
  z.strictObject({
    kind: z.literal('counter'),
    ...chip,
    count: z.string().regex(/^count\d+$/, 'a count is like count0'),
    pulsesPerUnit,
    ...common,
  }),
  z.strictObject({
    kind: z.literal('gpio'),
    chip: z.string().regex(/^gpiochip\d+$/, 'a chip is like gpiochip0'),
    line: z.int().min(0).max(1023),
    pulsesPerUnit,
    ...common,
  }),
]);
export type SourceConfiguration = z.infer<typeof sourceSchema>;

/** Whether a URL is without a user name and a password. */
function namesNobody(url: string): boolean {
  if (!URL.canParse(url)) return true;
  const { username, password } = new URL(url);
  return username === '' && password === '';
}

export const probeSchema = z
  .strictObject({
    broker: z
      .url({ protocol: /^(mqtts?|wss?)$/, error: 'a broker is like mqtt://10.0.0.5:1883' })
      .refine(namesNobody, 'the name belongs in device, the password in password'),
    /** The MQTT user name, and the name that its presence goes by. */
    device: name,
    password: z.string().min(1).optional(),
    site: name,
    vessel: name,
    everySeconds: z.number().min(0.1).max(3600).default(1),
    /** The folder for what is kept while the link is down. */
    keep: z.string().min(1).default('./probe-data'),
    /** 64 is what a vessel takes. */
    sources: z.array(sourceSchema).min(1).max(64),
  })
  .superRefine(({ sources, vessel }, context) => {
    const seen = new Map<string, number>();
    for (const [i, source] of sources.entries()) {
      const to = `${source.vessel ?? vessel}/${source.channel}`;
      const first = seen.get(to);
      if (first !== undefined)
        context.addIssue({
          code: 'custom',
          path: ['sources', i, 'channel'],
          message: `sources.${first} has ${to} already: two sensors on one channel look like one that jumps; call this one ${source.channel}-2`,
        });
      else seen.set(to, i);
      const other =
        source.kind === 'serial' &&
        sources.findIndex(
          (one) => one.kind === 'serial' && one.port === source.port && one.baud !== source.baud,
        );
      if (other !== false && other !== -1 && other < i)
        context.addIssue({
          code: 'custom',
          path: ['sources', i, 'baud'],
          message: `sources.${other} has another speed for the same port`,
        });
    }
  });
export type ProbeConfiguration = z.infer<typeof probeSchema>;
