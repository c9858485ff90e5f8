import { expect, test } from 'vitest';
import { openStore } from '../../../daemon/store/open.ts';
import { StoreError } from '../../../daemon/store/store.ts';
import { refusedSchema } from '../../../shared/wire/api.ts';
import { healthSchema } from '../../../shared/wire/set-up.ts';
import { ManualClock } from '../../support/manual-clock.ts';
import { type AnyJson, runDaemon, sharedDaemon } from '../running-daemon.ts';

const START_MS = Date.UTC(2026, 2, 2, 10);

test('health says that all is well', async () => {
  const daemon = await runDaemon({ clock: new ManualClock(START_MS) });
  const { status, json } = await daemon.get('/api/v1/health');
  expect(status).toBe(200);
  expect(healthSchema.strict().parse(json)).toEqual({
    ready: true,
    because: [],
    version: expect.stringMatching(/^\d+\.\d+\.\d+/),
    broker: { kind: 'embedded', connected: true, listens: { host: '127.0.0.1', port: daemon.mqttPort } },
    store: { writing: true, because: null, unsealedBecause: null },
    clock: { now: '2026-03-02T10:00:00.000Z', steps: 0, lastStepMs: null },
    backup: null,
    access: { readable: true, because: null },
    reach: null,
    forward: null,
    oldestUnstoredMs: null,
  });
});

test('health says that the store refuses, for how long, and that it is well again', async () => {
  const clock = new ManualClock(START_MS);
  let refuses = false;
  const daemon = await runDaemon({
    clock,
    openStore: async (data) => {
      const store = await openStore(data);
      return {
        ...store,
        write: (units) =>
          refuses
            ? Promise.reject(new StoreError('store-write-failed', 'the disk is full'))
            : store.write(units),
      };
    },
  });
  await daemon.read('barn/r1/liquid-temperature', 20);
  refuses = true;
  let acknowledged = false;
  const publishing = daemon.read('barn/r1/liquid-temperature', 21).then(() => {
    acknowledged = true;
  });
  const unwell = async () => {
    for (;;) {
      const answer = await daemon.get('/api/v1/health');
      if (answer.status === 503) return answer.json;
    }
  };
  await unwell();
  clock.advance(900);
  const json = await unwell();
  expect(json).toMatchObject({
    ready: false,
    store: { writing: false, because: 'the disk is full' },
    oldestUnstoredMs: 900,
  });
  expect(json.because.join()).toContain('the disk is full');
  expect((await daemon.get('/metrics')).text).toContain('\nesterwatch_store_failing 1\n');
  expect(acknowledged).toBe(false);

  refuses = false;
  clock.advance(1000);
  await publishing;
  expect((await daemon.get('/api/v1/health')).json).toMatchObject({ ready: true, oldestUnstoredMs: null });
  const raw = await daemon.get('/api/v1/vessels/r1/readings?channel=liquid-temperature&points=raw');
  expect(raw.json.value).toEqual([20, 21]);
});

test('what was refused is listed by topic and code, the newest first', async () => {
  const clock = new ManualClock(START_MS);
  const daemon = await runDaemon({ clock });
  await daemon.publish('esterwatch/v1/reading/barn/r1/liquid-temperature', 'warm', 'warm');
  clock.advance(1000);
  await daemon.publish('esterwatch/v1/reading/barn/r1/liquid-temperature', 'hot');
  clock.advance(1000);
  await daemon.publish('home/kitchen', '1');
  const { json } = await daemon.get('/api/v1/refused');
  expect(refusedSchema.strict().parse(json)).toEqual({
    refused: [
      {
        topic: 'home/kitchen',
        code: 'topic-unknown',
        because: expect.any(String),
        count: 1,
        first: '2026-03-02T10:00:02.000Z',
        last: '2026-03-02T10:00:02.000Z',
        from: expect.stringContaining('127.0.0.1'),
      },
      {
        topic: 'esterwatch/v1/reading/barn/r1/liquid-temperature',
        code: 'value-not-number',
        because: expect.any(String),
        count: 3,
        first: '2026-03-02T10:00:00.000Z',
        last: '2026-03-02T10:00:01.000Z',
        from: expect.stringContaining('127.0.0.1'),
      },
    ],
    others: 0,
  });
});

test('metrics are OpenMetrics text', async () => {
  const daemon = await runDaemon();
  await daemon.read('barn/r1/liquid-temperature', 20, 21);
  await daemon.publish('home/kitchen', '1');
  const { status, headers, text } = await daemon.get('/metrics');
  expect(status).toBe(200);
  expect(headers['content-type']).toBe('application/openmetrics-text; version=1.0.0; charset=utf-8');
  // OpenMetrics 1.0: metadata before samples, a family at a time; counters end in _total; # EOF and a line feed close.
  expect(text.endsWith('\n# EOF\n')).toBe(true);
  expect(text.match(/# EOF/g)).toHaveLength(1);
  const types = new Map<string, string>();
  let family = '';
  for (const line of text.trimEnd().split('\n').slice(0, -1)) {
    const [, comment, name, rest] = /^# (TYPE|HELP|UNIT) ([a-z_:][a-z0-9_:]*) (.+)$/.exec(line) ?? [];
    if (comment === 'TYPE') {
      expect(types.has(name!), line).toBe(false);
      types.set(name!, rest!);
      family = name!;
    } else if (comment !== undefined) expect(name).toBe(family);
    else {
      const suffix = types.get(family) === 'counter' ? '_total' : '';
      expect(line).toMatch(new RegExp(`^${family}${suffix} -?\\d+(\\.\\d+)?(e[+-]?\\d+)?$`));
    }
  }
  expect(text).toContain('\nesterwatch_readings_stored_total 2\n');
  expect(text).toContain('\nesterwatch_refused_total 1\n');
  expect(text).toContain('esterwatch_vessels 1\n');
});

// ---- the OpenAPI document ----

const CALLS = [
  'DELETE /api/v1/people/{name}',
  'DELETE /api/v1/publishers/{name}',
  'DELETE /api/v1/reach/people/{name}',
  'DELETE /api/v1/reach/people/{name}/browsers/{id}',
  'DELETE /api/v1/session',
  'DELETE /api/v1/tokens/{person}/{name}',
  'DELETE /api/v1/vessels/{vessel}/alone',
  'GET /api/v1/access/history',
  'GET /api/v1/alarms',
  'GET /api/v1/alarms/measures',
  'GET /api/v1/alarms/{id}',
  'GET /api/v1/alone',
  'GET /api/v1/answers/{token}',
  'GET /api/v1/batches',
  'GET /api/v1/batches/compare',
  'GET /api/v1/batches/{id}',
  'GET /api/v1/batches/{id}/balance',
  'GET /api/v1/batches/{id}/conditions',
  'GET /api/v1/batches/{id}/labels',
  'GET /api/v1/batches/{id}/photographs/{entry}',
  'GET /api/v1/batches/{id}/record',
  'GET /api/v1/batches/{id}/run',
  'GET /api/v1/devices',
  'GET /api/v1/forwarded',
  'GET /api/v1/forwarded/{site}',
  'GET /api/v1/health',
  'GET /api/v1/lots',
  'GET /api/v1/lots/{id}',
  'GET /api/v1/openapi.json',
  'GET /api/v1/people',
  'GET /api/v1/publishers',
  'GET /api/v1/reach',
  'GET /api/v1/reach/messages',
  'GET /api/v1/refused',
  'GET /api/v1/session',
  'GET /api/v1/sites',
  'GET /api/v1/templates',
  'GET /api/v1/thermometers',
  'GET /api/v1/tokens',
  'GET /api/v1/vessels',
  'GET /api/v1/vessels/{vessel}',
  'GET /api/v1/vessels/{vessel}/boiling',
  'GET /api/v1/vessels/{vessel}/readings',
  'GET /api/v1/vessels/{vessel}/readings.csv',
  'GET /api/v1/vessels/{vessel}/thermometers/{channel}/checks',
  'GET /api/v1/vessels/{vessel}/timeline',
  'GET /api/v1/years',
  'GET /metrics',
  'POST /api/v1/alarms/{id}/acknowledge',
  'POST /api/v1/alarms/{id}/shelve',
  'POST /api/v1/answers/{token}',
  'POST /api/v1/batches',
  'POST /api/v1/batches/{id}/draws',
  'POST /api/v1/batches/{id}/draws/{draw}/undo',
  'POST /api/v1/batches/{id}/entries',
  'POST /api/v1/batches/{id}/move',
  'POST /api/v1/batches/{id}/photographs',
  'POST /api/v1/batches/{id}/stage',
  'POST /api/v1/lots',
  'POST /api/v1/lots/{id}/notes',
  'POST /api/v1/plans',
  'POST /api/v1/reach/people/{name}/browsers',
  'POST /api/v1/reach/people/{name}/test',
  'POST /api/v1/session',
  'POST /api/v1/sites/{site}/test-warning',
  'POST /api/v1/templates',
  'POST /api/v1/templates/{id}/retire',
  'POST /api/v1/tokens',
  'POST /api/v1/vessels/{vessel}/thermometers/{channel}/checks',
  'POST /api/v1/vessels/{vessel}/thermometers/{channel}/withdraw',
  'POST /api/v1/vessels/{vessel}/alone',
  'POST /api/v1/vessels/{vessel}/alone/answer',
  'POST /api/v1/vessels/{vessel}/readings',
  'PUT /api/v1/forwarded/{site}/photographs/{sha256}',
  'PUT /api/v1/forwarded/{site}/picture',
  'PUT /api/v1/forwarded/{site}/seals/{from}',
  'PUT /api/v1/people/{name}',
  'PUT /api/v1/publishers/{name}',
  'PUT /api/v1/reach',
  'PUT /api/v1/reach/people/{name}',
  'PUT /api/v1/session/passphrase',
  'PUT /api/v1/sites/{site}',
  'PUT /api/v1/vessels/{vessel}',
];

const running = sharedDaemon((daemon) => daemon.read('barn/r1/liquid-temperature', 20));
const documented = async () => {
  const { status, headers, json } = await running().get('/api/v1/openapi.json');
  expect(status).toBe(200);
  expect(headers['content-type']).toMatch(/^application\/json/);
  return json;
};
const callsOf = (document: AnyJson): [string, AnyJson][] =>
  Object.entries<AnyJson>(document.paths).flatMap(([path, item]) =>
    Object.entries<AnyJson>(item).map(([method, operation]): [string, AnyJson] => [
      `${method.toUpperCase()} ${path}`,
      operation,
    ]),
  );

test('the OpenAPI document is of 3.1, has every call, and each says what it takes and answers', async () => {
  const document = await documented();
  expect(document.openapi).toMatch(/^3\.1\.\d+$/);
  expect(document.info).toMatchObject({ title: expect.any(String), version: expect.any(String) });
  const calls = callsOf(document);
  expect(calls.map(([call]) => call).sort()).toEqual([...CALLS].sort());
  for (const [call, { parameters = [], requestBody, responses }] of calls) {
    const inPath = [...call.matchAll(/\{(\w+)\}/g)].map(([, name]) => name);
    const declared = parameters.filter((parameter: AnyJson) => parameter.in === 'path');
    expect(declared.map(({ name }: AnyJson) => name)).toEqual(inPath);
    for (const parameter of parameters) expect(parameter.schema, call).toBeTypeOf('object');
    for (const parameter of declared) expect(parameter.required).toBe(true);
    if (/^(PUT|POST)/.test(call)) {
      const type = /\/photographs(\/|$)/.test(call)
        ? 'image/jpeg'
        : call.endsWith('/seals/{from}')
          ? 'application/octet-stream'
          : 'application/json';
      expect(requestBody.content[type].schema, call).toBeTypeOf('object');
    }
    const fine = Object.entries<AnyJson>(responses).filter(([status]) => status.startsWith('2'));
    expect(fine.length, call).toBeGreaterThan(0);
    for (const [, { description }] of Object.entries<AnyJson>(responses)) {
      expect(description).toBeTypeOf('string');
    }
    expect(responses.default.content['application/problem+json'].schema, call).toBeTypeOf('object');
  }
});

test('every reference in the OpenAPI document leads somewhere', async () => {
  const document = await documented();
  const walk = (value: unknown): void => {
    if (typeof value !== 'object' || value === null) return;
    for (const [key, inner] of Object.entries(value)) {
      if (key !== '$ref') walk(inner);
      else {
        const path = String(inner).replace(/^#\//, '').split('/');
        expect(
          path.reduce<AnyJson>((at, part) => at?.[part], document),
          String(inner),
        ).toBeDefined();
      }
    }
  };
  walk(document);
});

test('every documented call is there', async () => {
  for (const [call] of callsOf(await documented())) {
    const [method, path] = call.replace(/\{\w+\}/g, 'x').split(' ') as [string, string];
    const answer = await running().send(method, path, method === 'GET' ? '' : {});
    expect(answer.status, call).toBeLessThan(500);
    expect(answer.json?.code, call).not.toBe('not-found');
  }
});
