import { describe, expect, test } from 'vitest';
import { sharedDaemon } from '../running-daemon.ts';
import { expectProblem } from './problem.ts';

/** Names that people give, to things and to themselves: on one line, in any script. */
const running = sharedDaemon(async (daemon) => {
  await daemon.read('barn/r1/liquid-temperature', 20);
  await daemon.send('PUT', '/api/v1/sites/barn', { altitudeM: 340 });
});

const NAMED: Record<string, (name: string) => [method: string, path: string, body: object]> = {
  'a batch': (name) => ['POST', '/api/v1/batches', { vessel: 'barn:r1', name }],
  'a template': (name) => ['POST', '/api/v1/templates', { site: 'barn', name, plan: {} }],
  'a lot': (name) => ['POST', '/api/v1/lots', { site: 'barn', kind: 'oil', name, litres: 80 }],
  'who types a reading in': (by) => [
    'POST',
    '/api/v1/vessels/barn:r1/readings',
    { channel: 'liquid-temperature', value: 20, by },
  ],
  'who says what a vessel is': (by) => ['PUT', '/api/v1/vessels/barn:r1', { role: 'reactor', by }],
  'who sends a test warning': (by) => ['POST', '/api/v1/sites/barn/test-warning', { by }],
};

describe.each(Object.entries(NAMED))('the name of %s', (_, request) => {
  test.each([
    'two\nlines',
    'a\ttab',
    'a\u0000null',
    'an\u001bescape',
    'a\u0085next line',
    'a\u2028separator',
    'a\u2029paragraph',
  ])('%j is refused', async (name) => {
    expectProblem(await running().send(...request(name)), 400, 'body-invalid');
  });

  test.each(['Łódź', 'ندى', '\u200fעדה\u200f', '夏の油', 'Ada 🌻'])('%j is taken', async (name) => {
    expect((await running().send(...request(name))).status).toBeLessThan(300);
    const { batches } = (await running().get('/api/v1/batches?open=true')).json;
    for (const { id } of batches)
      await running().send('POST', `/api/v1/batches/${id}/stage`, { stage: 'void' });
  });
});
