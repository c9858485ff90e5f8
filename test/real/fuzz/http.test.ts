import { Agent, type IncomingHttpHeaders, request } from 'node:http';
import { afterAll, beforeAll, expect, test } from 'vitest';
import type { Random } from '../../../simulator/random.ts';
import {
  chance,
  mutatedBytes,
  mutatedJson,
  mutatedText,
  ODD_TEXTS,
  pick,
} from '../../support/fuzz/mutations.ts';
import { type Known, type Operation, operationsOf, sampleOf } from '../../support/fuzz/openapi.ts';
import { TRIES_TIMEOUT_MS, tryOften } from '../../support/fuzz/tries.ts';
import { startVictim, type Victim } from '../../support/fuzz/victim.ts';
import { jpegOf, pngOf } from '../../support/pictures.ts';
import { LOOPBACK } from '../../support/serving.ts';

/** An answer takes no longer, ms: a record as PDF is drawn by a thread, one after the other. */
const WITHIN_MS = 20_000;
/** The only ones that are no mistake: what the daemon does one at a time is under way. */
const BUSY = ['records-busy', 'access-busy'];

const KEEPER = { name: 'Keeper', passphrase: 'a shed full of carboys' };
const VESSELS = ['barn:r1', 'barn:r2', 'barn:m1', 'mill:t1', 'r1', 't1'];

let victim: Victim;
let operations: readonly Operation[];
let cookie: string;
/** Ids that the daemon has given out, by what they are of. */
const ids: Record<'batch' | 'lot' | 'template' | 'alarm' | 'entry' | 'draw' | 'token', string[]> = {
  batch: [],
  lot: [],
  template: [],
  alarm: [],
  entry: [],
  draw: [],
  token: [],
};
const agent = new Agent({ keepAlive: true, maxSockets: 10 });

beforeAll(async () => {
  victim = await startVictim(async ({ httpPort }) => {
    const ask = async (method: string, path: string, body?: object) => {
      const headers = { 'content-type': 'application/json', ...(cookie && { cookie }) };
      const answer = await send(httpPort, method, path, headers, body && Buffer.from(JSON.stringify(body)));
      if (answer.status >= 400) throw new Error(`${method} ${path}: ${answer.text}`);
      return answer;
    };
    for (const vessel of VESSELS.filter((name) => name.includes(':'))) {
      await ask('PUT', `/api/v1/vessels/${vessel}`, { role: 'reactor' });
      await ask('POST', `/api/v1/vessels/${vessel}/readings`, { channel: 'liquid-temperature', value: 63 });
    }
    for (const site of ['barn', 'mill']) await ask('PUT', `/api/v1/sites/${site}`, { altitudeM: 340 });
    const { passphrase, name } = KEEPER;
    await ask('PUT', `/api/v1/people/${name}`, { rights: ['look', 'work', 'keep'], passphrase });
    const signedIn = await ask('POST', '/api/v1/session', KEEPER);
    cookie = signedIn.headers['set-cookie']![0]!.split(';')[0]!;
    const { secret } = JSON.parse((await ask('PUT', '/api/v1/publishers/bystander', { site: null })).text);
    operations = operationsOf(JSON.parse((await ask('GET', '/api/v1/openapi.json')).text));
    return { username: 'bystander', password: secret };
  });
});
afterAll(async () => {
  agent.destroy();
  await victim.endWell();
});

// ---- requests ----

const NAMES: Record<string, readonly string[]> = {
  site: ['barn', 'mill', 'shed'],
  vessel: VESSELS,
  to: VESSELS,
  channel: ['liquid-temperature', 'stirrer-speed', 'heater'],
  name: ['Ada', 'Ben', 'plotter'],
  person: ['Ada', 'Ben'],
  by: ['Ada', 'Ben'],
  from: ['0', '2026-03-02T10:15:00.000Z', '1760000000000'],
  at: ['2026-03-02T10:15:00.000Z', new Date().toISOString()],
  // Nobody outside is called.
  host: ['127.0.0.1'],
  endpoint: ['http://127.0.0.1:9/push', 'https://127.0.0.1:9/push'],
  url: ['http://127.0.0.1:9/siren'],
  points: ['raw', '1', '500'],
  passphrase: ['two herons and a bucket'],
};

/** What a field of a request may name. */
const known: Known = (field, random) => {
  const list = NAMES[field] ?? (ids as Record<string, readonly string[]>)[field];
  if (list !== undefined && list.length > 0) return pick(random, list);
  const all = Object.values(ids).flat();
  return /^(id|like|lot|a|b|corrects?|token)$/.test(field) && all.length > 0 ? pick(random, all) : undefined;
};

/** The id of what stands in a path. */
function idIn(path: string, name: string, random: Random): string {
  const of = /\/(batches|lots|templates|alarms)\/\{id\}/.exec(path)?.[1];
  const list = name === 'id' && of !== undefined ? ids[ID_OF[of]!] : undefined;
  if (list !== undefined && list.length > 0) return pick(random, list.slice(-5));
  return String(known(name, random) ?? 'unknown');
}
const ID_OF: Record<string, keyof typeof ids> = {
  batches: 'batch',
  lots: 'lot',
  templates: 'template',
  alarms: 'alarm',
};

const PICTURES = [jpegOf(), jpegOf({ orientation: 6 }), pngOf()];

interface Request {
  method: string;
  path: string;
  headers: Record<string, string>;
  body: Buffer | undefined;
}

function requestOf(random: Random): Request {
  const { method, path, parameters, body } = pick(random, operations);
  // In one of three everything is right, so that something happens.
  const isSpoilt = chance(random, 0.67);
  const spoil = (text: string) => (isSpoilt && chance(random, 0.25) ? oddText(random, text) : text);
  let url = path;
  const query: string[] = [];
  for (const { in: where, name, required, schema } of parameters) {
    if (where === 'path') {
      url = url.replace(`{${name}}`, () => encoded(spoil(idIn(path, name, random))));
      continue;
    }
    if (required !== true && chance(random, 0.5)) continue;
    const value = spoil(String(sampleOf(schema, random, known, name)));
    const twice = isSpoilt && chance(random, 0.05) ? 2 : 1;
    for (let times = 0; times < twice; times++) query.push(`${name}=${encoded(value)}`);
  }
  if (isSpoilt && chance(random, 0.05)) query.push(`${encoded(pick(random, ODD_TEXTS))}=1`);
  if (query.length > 0) url += `?${query.join('&')}`;
  // The keeper is to stay signed in.
  const isOwn = !path.startsWith('/api/v1/session') && (!isSpoilt || chance(random, 0.95));
  const headers: Record<string, string> = isOwn ? { cookie } : {};
  return { method, path: url, headers, body: bodyOf(body, isSpoilt, random, headers) };
}

function bodyOf(
  body: Operation['body'],
  isSpoilt: boolean,
  random: Random,
  headers: Record<string, string>,
): Buffer | undefined {
  if (body === null) {
    if (isSpoilt && chance(random, 0.1)) return Buffer.from('{}');
    return undefined;
  }
  const type = pick(random, Object.keys(body));
  headers['content-type'] = isSpoilt && chance(random, 0.08) ? pick(random, ODD_TYPES) : type;
  if (type.startsWith('image/')) {
    const picture = pick(random, PICTURES);
    return isSpoilt ? mutatedBytes(random, picture) : picture;
  }
  const valid = sampleOf(body[type]!.schema, random, known);
  if (!isSpoilt) return Buffer.from(JSON.stringify(valid));
  const text = JSON.stringify(chance(random, 0.9) ? mutatedJson(random, valid) : valid) ?? '';
  if (chance(random, 0.8)) return Buffer.from(text);
  return mutatedBytes(random, Buffer.from(mutatedText(random, text)));
}

const ODD_TYPES = [
  'text/plain',
  'application/json; charset=utf-16',
  'application/xml',
  'multipart/form-data; boundary=x',
  'application/x-www-form-urlencoded',
  'image/png',
  'APPLICATION/JSON',
  'application/json;',
  'x',
  '',
];

const oddText = (random: Random, text: string): string =>
  chance(random, 0.5) ? pick(random, ODD_TEXTS) : mutatedText(random, text);

/** Lone surrogates are no text that can be sent. */
const encoded = (text: string): string => encodeURIComponent(text.toWellFormed());

interface Answer {
  status: number;
  headers: IncomingHttpHeaders;
  text: string;
}

function send(
  port: number,
  method: string,
  path: string,
  headers: Record<string, string>,
  body: Buffer | undefined,
): Promise<Answer> {
  return new Promise((resolve, reject) => {
    // Node.js leaves the length out where a method seldom has a body, and the body would be taken for a request.
    const length = body && { 'content-length': String(body.length) };
    const whole = { ...headers, ...length };
    const asking = request({ host: LOOPBACK, port, method, path, headers: whole, agent }, (answer) => {
      const parts: Buffer[] = [];
      answer.on('data', (part: Buffer) => parts.push(part));
      answer.on('error', reject);
      answer.on('end', () =>
        resolve({
          status: answer.statusCode!,
          headers: answer.headers,
          text: Buffer.concat(parts).toString(),
        }),
      );
    });
    asking.on('error', reject);
    asking.end(body);
  });
}

/** Ids in an answer, so that later requests are of something that there is. */
function learn({ path }: Request, { text }: Answer): void {
  const [what] = /^\/api\/v1\/(batches|lots|templates|alarms|tokens)/.exec(path) ?? [];
  if (what === undefined || !text.startsWith('{')) return;
  const kind = ID_OF[what.slice('/api/v1/'.length)];
  const walk = (value: unknown, at: string): void => {
    if (typeof value !== 'object' || value === null) return;
    for (const [key, inside] of Object.entries(value)) {
      if (key === 'id' && typeof inside === 'string') {
        const into = at === 'entries' ? 'entry' : at === 'draws' ? 'draw' : kind;
        if (into !== undefined && ids[into].length < 200 && !ids[into].includes(inside))
          ids[into].push(inside);
      }
      walk(inside, Array.isArray(value) ? at : key);
    }
  };
  walk(JSON.parse(text), '');
}

test('requests out of its own document, with parts that are wrong', {
  timeout: TRIES_TIMEOUT_MS,
}, async () => {
  const met = new Map<number, number>();
  await tryOften(
    'HTTP requests',
    { withinMs: WITHIN_MS, atOnce: 6, others: victim.others },
    async (random) => {
      const asked = requestOf(random);
      const { method, path, headers, body } = asked;
      const answer = await send(victim.served.httpPort, method, path, headers, body);
      const shown = `${method} ${path} ${JSON.stringify(headers['content-type'])} ${body?.toString().slice(0, 2000)}`;
      const { status, text } = answer;
      met.set(status, (met.get(status) ?? 0) + 1);
      if (status < 400) {
        if (answer.headers['content-type']?.startsWith('application/json')) learn(asked, answer);
        return;
      }
      expect(answer.headers['content-type'], `${shown} → ${status} ${text}`).toBe('application/problem+json');
      const { code } = JSON.parse(text) as { code: string };
      if (status >= 500) expect(BUSY, `${shown} → ${status} ${text}`).toContain(code);
    },
  );
  // Not all of it was refused at the door.
  expect(met.get(200) ?? 0).toBeGreaterThan(0);
  expect((met.get(201) ?? 0) + (met.get(204) ?? 0)).toBeGreaterThan(0);
});
