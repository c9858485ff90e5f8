import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { machineClock } from '../../../daemon/clock.ts';
import { hrefOf, vesselHref } from '../../../dashboard/route.ts';
import { TUNES } from '../../../dashboard/sound/tunes.ts';
import { TEXTS } from '../../../dashboard/texts/live.ts';
import { SHELL_TEXTS } from '../../../dashboard/texts/shell.ts';
import { postedSchema } from '../../../shared/wire/reach.ts';
import { type RunningDaemon, runDaemon } from '../../daemon/running-daemon.ts';
import { startChromium } from '../../support/chromium.ts';
import { openPage } from '../../support/opened-page.ts';
import { patiently } from '../../support/patiently.ts';
import { mailServer, type Receiver, receiver } from '../../support/receivers.ts';

const AXE = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
const TAGS = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'];
const SECRET = 'a secret of the siren';

let browser: Browser;
beforeAll(async () => {
  browser = await startChromium();
});
afterAll(() => browser.close());

async function violations(page: Page): Promise<unknown[]> {
  await page.evaluate(AXE);
  return page.evaluate(async (tags) => {
    const axe = (globalThis as never as { axe: { run(options: object): Promise<{ violations: unknown[] }> } })
      .axe;
    return (await axe.run({ runOnly: { type: 'tag', values: tags } })).violations;
  }, TAGS);
}

/** A vessel near boiling, and Ada, who was told of it. */
async function told(): Promise<{ daemon: RunningDaemon; siren: Receiver; hash: string }> {
  const siren = await receiver();
  const daemon = await runDaemon({ publicUrl: 'http://127.0.0.1' });
  await daemon.send('PUT', '/api/v1/reach/people/Ada', { post: { url: siren.url, secret: SECRET } });
  await daemon.read('barn/r1/liquid-temperature', 62);
  await daemon.send('PUT', '/api/v1/sites/barn', { pressureHPa: 1013.25 });
  const { json: batch } = await daemon.send('POST', '/api/v1/batches', { vessel: 'barn:r1' });
  await daemon.send('POST', `/api/v1/batches/${batch.id}/stage`, { stage: 'react' });
  await daemon.read('barn/r1/liquid-temperature', 62.5);
  await patiently(() => expect(siren.received).toHaveLength(1));
  const { answer } = postedSchema.parse(JSON.parse(String(siren.received[0]!.body)));
  return { daemon, siren, hash: answer!.slice(answer!.indexOf('#')) };
}

describe('the link of a message', { timeout: 60_000 }, () => {
  test('is open to whom it was sent, while everything else asks for a sign-in', async () => {
    const { daemon, hash } = await told();
    const person = { rights: ['work', 'keep'], passphrase: 'seven ducks in a row' };
    expect((await daemon.send('PUT', '/api/v1/people/Ada', person)).status).toBe(204);
    const { page } = await openPage(browser, daemon.httpPort, hash);
    await page.getByRole('button', { name: 'Yes, Ada looks after it' }).click();
    await page.getByText('It has been answered').waitFor();
    await page.goto(`http://127.0.0.1:${daemon.httpPort}/#/`);
    await page.getByLabel('Passphrase').waitFor();
  });

  test('shows what it is about, asks once more, acknowledges, and does it once', async () => {
    const { daemon, hash } = await told();
    const { page, errors, width } = await openPage(browser, daemon.httpPort, hash);
    const yes = page.getByRole('button', { name: 'Yes, Ada looks after it' });
    await yes.waitFor();
    await page.getByText('Turn the heat off').first().waitFor();
    expect(await violations(page)).toEqual([]);
    expect(await width()).toBeLessThanOrEqual(320);
    const standing = async () => (await daemon.get('/api/v1/alarms?standing=true')).json.alarms;
    expect(await standing()).toMatchObject([{ acknowledged: null }]);
    await yes.click();
    await page.getByText('It has been answered').waitFor();
    expect(await standing()).toMatchObject([{ acknowledged: { by: 'Ada' } }]);
    await page.reload();
    await page.getByText('It has been answered').waitFor();
    expect(await yes.count()).toBe(0);
    expect(errors).toEqual([]);
  });
});

describe('set-up', { timeout: 90_000 }, () => {
  test('a person and a mail server are set up, tested, and the last result stands there', async () => {
    const mail = await mailServer();
    const daemon = await runDaemon();
    await daemon.read('barn/r1/liquid-temperature', 20);
    const { page, errors, width } = await openPage(browser, daemon.httpPort, hrefOf('set-up'));
    const part = page.getByRole('region', { name: 'Reaching people' });
    await part.getByText('Nobody is told of anything yet').waitFor();
    await part.locator('summary', { hasText: 'Mail server' }).click();
    await part.getByLabel('Mail server').fill('127.0.0.1');
    await part.getByLabel('Port').fill(String(mail.port));
    await part.getByLabel('Encryption').selectOption('none');
    await part.getByLabel('Sender address').fill('shed@example.org');
    await part.getByRole('button', { name: 'Keep it' }).click();
    await part.getByText('Kept.').waitFor();
    await part.locator('summary', { hasText: 'Mail server' }).click();
    await part.locator('summary', { hasText: 'A person' }).click();
    await part.getByLabel('Name', { exact: true }).fill('Ada');
    await part.getByLabel('E-mail address').fill('ada@example.org');
    await part.getByLabel('Hours: from').fill('07:00');
    await part.getByRole('button', { name: 'Keep it' }).click();
    await part.getByText('Hours: until: a time such as 22:00; both hours, or none, please.').waitFor();
    // What another form said of its own is over.
    expect(await part.getByText('Kept.').count()).toBe(0);
    await part.getByLabel('Hours: from').fill('');
    await part.getByLabel('barn / r1').check();
    await part.getByRole('button', { name: 'Keep it' }).click();
    await part.getByText('Kept for Ada.').waitFor();
    expect(await violations(page)).toEqual([]);
    await part.getByText('not tried yet').waitFor();
    await part.getByRole('button', { name: 'Test: E-mail to Ada' }).click();
    await part.getByText('arrived').waitFor();
    expect(mail.mails).toMatchObject([{ to: ['ada@example.org'] }]);
    mail.refuse(451);
    await part.getByRole('button', { name: 'Test: E-mail to Ada' }).click();
    await part.getByText('the server refuses the sender or the receiver (EENVELOPE 451)').waitFor();
    await page.getByRole('alert').getByText(TEXTS.link.unreached).waitFor();
    expect(await width()).toBeLessThanOrEqual(320);
    expect(await violations(page)).toEqual([]);
    const { json } = await daemon.get('/api/v1/reach');
    expect(json).toMatchObject({
      smtp: { port: mail.port, security: 'none' },
      nextAfterMinutes: { critical: 3, high: 15 },
      people: [
        { name: 'Ada', least: 'medium', order: 1, quietLines: true, hours: null, vessels: ['barn:r1'] },
      ],
    });
    expect(errors).toEqual([]);
  });

  test('that no way works stands on every page, for people who set nothing up too, until one works', async () => {
    const siren = await receiver();
    const daemon = await runDaemon();
    await daemon.read('barn/r1/liquid-temperature', 20);
    siren.answers(500);
    await daemon.send('PUT', '/api/v1/reach/people/Ben', { post: { url: siren.url, secret: SECRET } });
    const tried = async (headers = {}) =>
      (await daemon.send('POST', '/api/v1/reach/people/Ben/test', { way: 'post' }, headers)).json.result;
    expect(await tried()).toBe('failed');
    const people = [
      ['Ada', ['work', 'keep']],
      ['Eve', ['look']],
    ] as const;
    const passphrase = 'seven ducks in a row';
    const signedIn = async (name: string) => {
      const { headers } = await daemon.send('POST', '/api/v1/session', { name, passphrase });
      return { cookie: headers['set-cookie']![0]!.split(';')[0]! };
    };
    let keeper = {};
    for (const [name, rights] of people) {
      const { status } = await daemon.send('PUT', `/api/v1/people/${name}`, { rights, passphrase }, keeper);
      expect(status).toBe(204);
      if (name === 'Ada') keeper = await signedIn(name);
    }
    const { page, errors, width } = await openPage(browser, daemon.httpPort, hrefOf('overview'));
    await page.getByLabel('Name').fill('Eve');
    await page.getByLabel('Passphrase').fill(passphrase);
    await page.getByRole('button', { name: 'Sign in' }).click();
    const alert = page.getByRole('alert').getByText(TEXTS.link.unreached);
    for (const hash of [
      hrefOf('overview'),
      vesselHref({ site: 'barn', vessel: 'r1' }, 'wall'),
      hrefOf('set-up'),
    ]) {
      await page.goto(`http://127.0.0.1:${daemon.httpPort}/${hash}`);
      await alert.waitFor();
      expect(await page.getByRole('alert').textContent()).toContain('500');
      expect(await width()).toBeLessThanOrEqual(320);
    }
    siren.answers(204);
    expect(await tried(keeper)).toBe('delivered');
    await alert.waitFor({ state: 'detached' });
    expect(errors.filter((error) => !/status of 401/.test(error))).toEqual([]);
  });

  test.for([
    ['unsupported', 'delete window.PushManager', 'this browser knows no Web Push'],
    ['denied', 'Object.defineProperty(Notification, "permission", { get: () => "denied" })', 'permission'],
    [
      'insecure',
      'Object.defineProperty(window, "isSecureContext", { get: () => false })',
      'a secure address',
    ],
  ] as const)('what Web Push lacks is named: %s', async ([_, script, said]) => {
    const daemon = await runDaemon();
    const { page } = await openPage(browser, daemon.httpPort, hrefOf('set-up'), (tab) =>
      tab.addInitScript(script),
    );
    await page.getByRole('region', { name: 'Reaching people' }).getByText(said).waitFor();
  });

  test('a push is shown, with where a click on it leads', async () => {
    const daemon = await runDaemon();
    const { page } = await openPage(browser, daemon.httpPort, hrefOf('overview'));
    const origin = `http://127.0.0.1:${daemon.httpPort}`;
    await page.context().grantPermissions(['notifications'], { origin });
    const worker = page.context().serviceWorkers()[0] ?? (await page.context().waitForEvent('serviceworker'));
    await page.evaluate(() => navigator.serviceWorker.ready);
    const shown = await worker.evaluate(async () => {
      const self = globalThis as never as {
        registration: { showNotification: (title: string, options: object) => Promise<void> };
        dispatchEvent(event: Event): void;
      };
      const calls: unknown[] = [];
      self.registration.showNotification = async (title, options) => void calls.push([title, options]);
      const data = JSON.stringify({
        id: 'm1',
        title: 'High: r1',
        body: 'Turn the heat off.',
        url: '/#/answer/x',
      });
      const PushEvent = (globalThis as never as { PushEvent: new (type: string, init: object) => Event })
        .PushEvent;
      self.dispatchEvent(new PushEvent('push', { data }));
      return calls;
    });
    expect(shown).toMatchObject([
      ['High: r1', { body: 'Turn the heat off.', tag: 'm1', data: { url: '/#/answer/x' } }],
    ]);
  });
});

test('the question whether they are well is seen, said on the tab and heard, wherever the page is', {
  timeout: 90_000,
}, async () => {
  const post = { url: 'http://127.0.0.1:9/', secret: SECRET };
  // The shortest time until it is asked is a minute.
  const daemon = await runDaemon({ clock: machineClock(20) });
  await daemon.read('barn/r1/liquid-temperature', 20);
  await daemon.send('PUT', '/api/v1/sites/barn', { altitudeM: 340 });
  await daemon.send('PUT', '/api/v1/reach/people/Ben', { post });
  const { page, errors, width } = await openPage(browser, daemon.httpPort, hrefOf('set-up'), async (tab) => {
    await tab.setViewportSize({ width: 390, height: 844 });
    await tab.addInitScript(() => {
      const tones: number[] = [];
      Object.assign(globalThis, { tones });
      const start = OscillatorNode.prototype.start;
      OscillatorNode.prototype.start = function (this: OscillatorNode, when?: number) {
        tones.push(this.frequency.value);
        start.call(this, when);
      };
    });
  });
  await page.getByRole('button', { name: SHELL_TEXTS.sound.turnOn }).click();
  const begin = { by: 'Eve', tell: 'Ben', everyMinutes: 1, answerMinutes: 60 };
  expect((await daemon.send('POST', '/api/v1/vessels/barn:r1/alone', begin)).status).toBe(200);
  const question = page.getByRole('alert').filter({ hasText: 'Eve at r1, are you well?' });
  const well = page.getByRole('button', { name: 'I am Eve, and well' });
  await question.waitFor();
  const tones = () => page.evaluate(() => (globalThis as never as { tones: number[] }).tones);
  await patiently(async () =>
    expect((await tones()).slice(0, TUNES.high.length)).toEqual(TUNES.high.map(({ hz }) => hz)),
  );
  for (const [hash, shown] of [
    [hrefOf('set-up'), '.set-up'],
    [hrefOf('overview'), '.vessel'],
    [hrefOf('batches'), 'h1'],
    [hrefOf('alarms'), 'h1'],
    [vesselHref({ site: 'barn', vessel: 'r1' }, 'wall'), '.wall'],
    [vesselHref({ site: 'barn', vessel: 'r1' }), '.alone'],
  ] as const) {
    await page.evaluate((to) => {
      location.hash = to;
    }, hash);
    await page.locator(`main ${shown}`).first().waitFor();
    // As far down as it goes: the question stays where it is seen.
    await page.evaluate(() => scrollTo(0, document.body.scrollHeight));
    for (const part of [question, well]) {
      const box = (await part.boundingBox())!;
      expect(box.y).toBeGreaterThanOrEqual(0);
      expect(box.y + box.height).toBeLessThanOrEqual(300);
    }
    expect(await page.title()).toContain('Are you well, Eve?');
    expect(await width()).toBeLessThanOrEqual(390);
  }
  expect(await violations(page)).toEqual([]);
  await well.click();
  await question.waitFor({ state: 'detached' });
  await patiently(async () => expect(await page.title()).not.toContain('Are you well'));
  expect(errors).toEqual([]);
});

test('who works alone is asked on the page of the vessel', { timeout: 60_000 }, async () => {
  const daemon = await runDaemon();
  await daemon.read('barn/r1/liquid-temperature', 20);
  await daemon.send('PUT', '/api/v1/sites/barn', { altitudeM: 340 });
  const post = { url: 'http://127.0.0.1:9/', secret: SECRET };
  await daemon.send('PUT', '/api/v1/reach/people/Ben', { post });
  const { page, errors, width } = await openPage(
    browser,
    daemon.httpPort,
    vesselHref({ site: 'barn', vessel: 'r1' }),
  );
  await page.locator('summary', { hasText: 'Working alone' }).click();
  const line = page.locator('.alone');
  await line.getByLabel('Your name').fill('Eve');
  // Ben has a way.
  await line.locator('datalist option[value="Ben"]').waitFor({ state: 'attached' });
  await line.getByLabel('Who is told').fill('Ben');
  await line.getByLabel('Ask me every, min').fill('0.5');
  await line.getByRole('button', { name: 'Ask me' }).click();
  await line.getByText('Ask every 1 to 240 minutes').waitFor();
  await line.getByLabel('Ask me every, min').fill('15');
  await line.getByRole('button', { name: 'Ask me' }).click();
  await line.getByText('Eve works here alone').waitFor();
  expect((await daemon.get('/api/v1/alone')).json.alone).toMatchObject([
    { by: 'Eve', tell: 'Ben', everyMinutes: 15, answerMinutes: 3 },
  ]);
  expect(await violations(page)).toEqual([]);
  expect(await width()).toBeLessThanOrEqual(320);
  await line.getByRole('button', { name: 'I am well' }).click();
  await line.getByRole('button', { name: 'I am done here' }).click();
  await page.locator('summary', { hasText: 'Working alone' }).waitFor();
  expect((await daemon.get('/api/v1/alone')).json.alone).toEqual([]);
  expect(errors).toEqual([]);
});
