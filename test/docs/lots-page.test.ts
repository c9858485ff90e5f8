import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { runDaemon } from '../daemon/running-daemon.ts';

const PAGE = readFileSync(new URL('../../docs/lots.md', import.meta.url), 'utf8');

test('the first commands of the page are taken by a daemon that knows nothing yet', async () => {
  const [, first = ''] = /```sh\n(.*?)```/s.exec(PAGE)!;
  const commands = [...first.matchAll(/curl -X (\w+) http:\/\/[^/]+(\S+) .*?-d '(.*?)'/gs)];
  expect(commands.length).toBeGreaterThan(0);
  const daemon = await runDaemon();
  for (const [, method, path, body] of commands) {
    const { status, text } = await daemon.send(method!, path!, JSON.parse(body!));
    expect(status, text).toBeLessThan(300);
  }
  expect((await daemon.get('/api/v1/lots')).json.lots).toMatchObject([{ name: 'Autumn drum' }]);
});
