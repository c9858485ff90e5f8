/** Makes docs/reference/ of what the built program says of itself, and of the schemas that it goes by. */
import { execFile, spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';
import { z } from 'zod';
import { guardConfigSchema } from '../daemon/commands/guard.ts';
import { configSchema } from '../daemon/config.ts';
import { probeSchema } from '../probe/configuration.ts';
import { NAME_PATTERN } from '../shared/wire/names.ts';

const run = promisify(execFile);
const FOLDER = new URL('reference/', import.meta.url);
const MAIN = fileURLToPath(new URL('../dist/daemon/main.js', import.meta.url));
const MADE = 'Made by `npm run reference-pages` from the code: change it there.';

/** As much of JSON Schema (2020-12) as the schemas of this program use. */
interface Schema {
  type?: string | string[];
  enum?: unknown[];
  const?: unknown;
  anyOf?: Schema[];
  oneOf?: Schema[];
  allOf?: Schema[];
  properties?: Record<string, Schema>;
  required?: string[];
  additionalProperties?: boolean | Schema;
  items?: Schema;
  minItems?: number;
  maxItems?: number;
  minLength?: number;
  maxLength?: number;
  minimum?: number;
  maximum?: number;
  exclusiveMinimum?: number;
  exclusiveMaximum?: number;
  pattern?: string;
  format?: string;
  default?: unknown;
  description?: string;
}

interface Call {
  parameters?: { in: string; name: string; required: boolean; description?: string; schema: Schema }[];
  requestBody?: { content: Record<string, { schema: Schema }> };
  responses: Record<string, { description: string; content?: Record<string, { schema: Schema }> }>;
}

/** An object that fills more of JSON than this is written out once, and named where it comes again. */
const LARGE = 500;

/** Writes schemas as indented lines, one a field. */
class Shapes {
  /** Where each large object was written out first. */
  readonly #seen = new Map<string, string>();

  /** A schema after what stands before it on its line. `where` names the place for those that come later. */
  lines(schema: Schema, where: string, indent = ''): string {
    const { anyOf, oneOf, allOf, properties, items } = schema;
    const either = anyOf ?? oneOf;
    if (either !== undefined)
      return either.map((one) => this.lines(one, where, indent)).join(' | ') + standard(schema);
    if (allOf !== undefined) return allOf.map((one) => this.lines(one, where, indent)).join(' & ');
    if (items !== undefined) {
      const some = span(schema.minItems, schema.maxItems);
      return `[ ${this.lines(items, `${where}[]`, indent)} ]${some === '' ? '' : ` (${some})`}${standard(schema)}`;
    }
    const { additionalProperties } = schema;
    if (properties === undefined && typeof additionalProperties === 'object')
      return `{ [NAME]: ${this.lines(additionalProperties, `${where}.NAME`, indent)} }`;
    if (properties === undefined) return plain(schema) + standard(schema);
    if (Object.keys(properties).length === 0) return '{}';
    const key = JSON.stringify(schema);
    const first = this.#seen.get(key);
    if (first !== undefined) return `{ as ${first} }`;
    if (key.length > LARGE) this.#seen.set(key, where);
    const inner = `${indent}  `;
    const fields = Object.entries(properties).map(([name, field]) => {
      const mark = schema.required?.includes(name) === true ? '' : '?';
      const said = field.description === undefined ? '' : `${inner}// ${field.description}\n`;
      return `${said}${inner}${name}${mark}: ${this.lines(field, `${where}.${name}`, inner)}\n`;
    });
    return `{\n${fields.join('')}${indent}}`;
  }
}

/** What is taken where nothing is said. */
const standard = (schema: Schema): string =>
  schema.default === undefined ? '' : ` = ${JSON.stringify(schema.default)}`;

/** A schema without others in it. */
function plain(schema: Schema): string {
  if (schema.const !== undefined) return JSON.stringify(schema.const);
  if (schema.enum !== undefined) return schema.enum.map((one) => JSON.stringify(one)).join(' | ');
  if (Array.isArray(schema.type)) return schema.type.map((type) => plain({ ...schema, type })).join(' | ');
  const { type } = schema;
  if (schema.pattern === NAME_PATTERN.source) return 'name';
  if (type === 'string') return [schema.format ?? 'text', characters(schema)].filter(Boolean).join(', ');
  if (type === 'number' || type === 'integer')
    return [type === 'integer' ? 'whole number' : 'number', range(schema)].filter(Boolean).join(', ');
  return type === 'boolean' ? 'true | false' : (type ?? 'anything');
}

function characters({ pattern, format, minLength, maxLength }: Schema): string {
  // A format comes with the pattern that it is looked at by.
  const form = pattern === undefined || format !== undefined ? [] : [`/${pattern}/`];
  if (minLength === 1 && maxLength === undefined) return [...form, 'not empty'].join(', ');
  const length = span(minLength === 0 ? undefined : minLength, maxLength);
  return [...form, ...(length === '' ? [] : [`${length} characters`])].join(', ');
}

function range({ minimum, maximum, exclusiveMinimum, exclusiveMaximum }: Schema): string {
  const isSaid = (bound: number | undefined): bound is number =>
    bound !== undefined && Math.abs(bound) !== Number.MAX_SAFE_INTEGER;
  return [
    span(isSaid(minimum) ? minimum : undefined, isSaid(maximum) ? maximum : undefined),
    isSaid(exclusiveMinimum) ? `over ${exclusiveMinimum}` : '',
    isSaid(exclusiveMaximum) ? `under ${exclusiveMaximum}` : '',
  ]
    .filter(Boolean)
    .join(', ');
}

function span(least: number | undefined, most: number | undefined): string {
  if (least === undefined) return most === undefined ? '' : `at most ${most}`;
  return most === undefined ? `at least ${least}` : `${least} to ${most}`;
}

const block = (text: string): string => `\`\`\`text\n${text.trimEnd()}\n\`\`\``;

async function commandsPage(): Promise<string> {
  const help = async (...args: string[]) => (await run(process.execPath, [MAIN, ...args])).stdout;
  const all = await help('--help');
  const verbs = [...all.matchAll(/^ {2}([a-z]+) /gm)].map(([, verb]) => verb!);
  const parts: string[] = [];
  for (const verb of verbs) parts.push(`## ${verb}\n\n${block(await help(verb, '--help'))}`);
  return page(
    'Commands',
    'Wrong use ends with 2 and one line on stderr that says what to do. What a command needs around it is told in [operating.md](../operating.md), [store.md](../store.md) and the other pages.',
    block(all),
    ...parts,
  );
}

function configurationPage(): string {
  const shape = (schema: z.ZodType): string =>
    block(new Shapes().lines(z.toJSONSchema(schema, { io: 'input' }) as Schema, 'above'));
  return page(
    'Configuration files',
    'JSON. `?` stands behind what may be left out, `=` before what is taken then; a field that is not known is refused, and the field that is wrong is named. A `name` has small letters, digits and hyphens, at most 40, and begins with no hyphen.',
    `## serve\n\n\`esterwatch serve --config FILE\`, with examples in [operating.md](../operating.md#configuration-file).\n\n${shape(configSchema)}`,
    `## guard\n\n\`esterwatch guard --config FILE\`: [reach.md](../reach.md#the-daemons-own-silence).\n\n${shape(guardConfigSchema)}`,
    `## probe\n\n\`esterwatch probe --config FILE\`; what each field means is in [probe.md](../probe.md#the-configuration).\n\n${shape(probeSchema)}`,
  );
}

/** The OpenAPI document of a daemon that is started for it. */
async function openApi(): Promise<{ paths: Record<string, Record<string, Call>> }> {
  const folder = mkdtempSync(join(tmpdir(), 'esterwatch-reference-'));
  const free = ['--http', '127.0.0.1:0', '--mqtt', '127.0.0.1:0'];
  const daemon = spawn(process.execPath, [MAIN, 'serve', '--data', join(folder, 'data'), ...free], {
    stdio: ['ignore', 'ignore', 'pipe'],
  });
  const ended = once(daemon, 'close');
  // However this ends: a test that takes too long is given up.
  process.once('exit', () => daemon.kill('SIGKILL'));
  try {
    for await (const line of createInterface({ input: daemon.stderr })) {
      const url = /page: (http:\S+)"/.exec(line)?.[1];
      if (url !== undefined) return (await (await fetch(`${url}api/v1/openapi.json`)).json()) as never;
    }
    throw new Error('the daemon does not start');
  } finally {
    daemon.kill();
    await ended;
    rmSync(folder, { recursive: true, force: true });
  }
}

async function apiPage(): Promise<string> {
  const shapes = new Shapes();
  const calls = Object.entries((await openApi()).paths).flatMap(([path, methods]) =>
    Object.entries(methods).map(([method, call]) => ({ name: `${method.toUpperCase()} ${path}`, call })),
  );
  calls.sort((a, b) => (a.name.split(' ')[1]! < b.name.split(' ')[1]! ? -1 : 1));
  const parts = calls.map(({ name, call }) => {
    const lines = [
      ...(call.parameters ?? []).map(
        ({ in: place, name: parameter, required, description, schema }) =>
          `${place} ${parameter}${required ? '' : '?'}: ${shapes.lines(schema, parameter)}${description === undefined ? '' : `  // ${description}`}`,
      ),
      ...contents(call.requestBody?.content, 'body', name, shapes),
      // Any other answer is a problem, of every call alike.
      ...Object.entries(call.responses)
        .filter(([status]) => status !== 'default')
        .flatMap(([status, { content }]) =>
          content === undefined ? [status] : contents(content, status, name, shapes),
        ),
    ];
    return `## ${name}\n\n${block(lines.join('\n'))}`;
  });
  return page(
    'Calls of the API',
    'What each call is for: [api.md](../api.md). `?` stands behind what may be left out, `=` before what is taken then; a `name` has small letters, digits and hyphens, at most 40, and begins with no hyphen. A shape that came before is named by the call and the place in it (`as GET /api/v1/alarms 200.alarms[]`). Every answer of another status is a problem (RFC 9457) with a `code`.',
    ...parts,
  );
}

const contents = (
  content: Record<string, { schema: Schema }> | undefined,
  what: string,
  call: string,
  shapes: Shapes,
): string[] =>
  Object.entries(content ?? {}).map(([type, { schema }]) => {
    const of = type === 'application/json' ? '' : ` ${type}`;
    return `${what}${of} ${shapes.lines(schema, `${call} ${what}`)}`;
  });

const page = (title: string, ...parts: string[]): string =>
  `# ${title}\n\n${[MADE, ...parts].join('\n\n')}\n`;

/** The pages by their file names. What is built must be up to date. */
export async function referencePages(): Promise<Record<string, string>> {
  return {
    'commands.md': await commandsPage(),
    'configuration.md': configurationPage(),
    'api.md': await apiPage(),
  };
}

if (process.argv[1] === fileURLToPath(import.meta.url))
  for (const [file, text] of Object.entries(await referencePages()))
    writeFileSync(new URL(file, FOLDER), text);
