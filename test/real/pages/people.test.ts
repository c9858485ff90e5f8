import { setTimeout as wait } from 'node:timers/promises';
import { connectAsync, type MqttClient } from 'mqtt';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { TEXTS } from '../../../dashboard/texts/live.ts';
import { PASSPHRASE, PEOPLE, RIGHT_WORDS, SIGN_IN } from '../../../dashboard/texts/people.ts';
import { ALONE, REACH } from '../../../dashboard/texts/reach.ts';
import { SET_UP } from '../../../dashboard/texts/set-up.ts';
import { STOCK } from '../../../dashboard/texts/stock.ts';
import { TYPED } from '../../../dashboard/texts/typed.ts';
import { Api, eventually } from '../../support/api.ts';
import { startChromium } from '../../support/chromium.ts';
import { handsOf } from '../../support/hands.ts';
import { NARROW, openPage } from '../../support/opened-page.ts';
import { dataFolder, LOOPBACK, type Served, serve } from '../../support/serving.ts';
import { isThorough } from '../../support/thorough.ts';

const ADA = { name: 'Ada Brook', passphrase: 'seven ducks in a row' };
const TOM = { name: 'Tom Vale', passphrase: 'a kettle full of rain' };
const SESSION = '/api/v1/session';

let browser: Browser;
let served: Served;
let device: MqttClient;
let removeData: () => void;
let base: string;
/** Of whoever is signed in by the API, as a browser sends it. */
const cookies = new Map<string, string>();

/** A site with an alarm that stands, and nobody set up. */
beforeAll(async () => {
  const folder = dataFolder();
  removeData = folder.remove;
  [browser, served] = await Promise.all([startChromium(), serve({ data: folder.data })]);
  base = `http://${LOOPBACK}:${served.httpPort}`;
  device = await connectAsync(`mqtt://${LOOPBACK}:${served.mqttPort}`, { reconnectPeriod: 0 });
  const read = (channel: string, value: number) =>
    device.publishAsync(`esterwatch/v1/reading/shed/r1/${channel}`, String(value), { qos: 1 });
  await read('liquid-temperature', 54);
  const api = new Api(served.httpPort);
  const batch = await api.openBatch('shed:r1', { site: { altitudeM: 20 } });
  await api.enter(batch, 'react');
  await read('stirrer-speed', 300);
  await read('liquid-temperature', 63.5);
  await eventually(
    () => api.alarms('?standing=true'),
    ({ length }) => length > 0,
  );
}, 60_000);
afterAll(async () => {
  await browser?.close();
  await device?.endAsync(true);
  served?.kill('SIGKILL');
  await served?.ended;
  removeData?.();
});

const send = (method: string, path: string, body?: object, headers: Record<string, string> = {}) =>
  fetch(`${base}${path}`, {
    method,
    headers: { ...headers, ...(body && { 'content-type': 'application/json' }) },
    ...(body && { body: JSON.stringify(body) }),
  });

/** Signs in by the API, once for all tests: a passphrase takes long to be compared. */
async function cookieOf({ name, passphrase }: typeof ADA): Promise<string> {
  const known = cookies.get(name);
  if (known !== undefined) return known;
  const answer = await send('POST', SESSION, { name, passphrase });
  expect(answer.status).toBe(200);
  const cookie = answer.headers.getSetCookie()[0]!.split(';')[0]!;
  cookies.set(name, cookie);
  return cookie;
}

const signedIn = (who: typeof ADA) => async (page: Page) => {
  const [name, value] = (await cookieOf(who)).split('=');
  await page.context().addCookies([{ name: name!, value: value!, url: base }]);
};

/** What the browser itself says of an answer that is a refusal is no fault of the page. */
const faults = (errors: readonly string[]) =>
  errors.filter((error) => !/the server responded with a status of (400|401|429)/.test(error));

const formOf = (page: Page) => ({
  title: page.getByRole('heading', { level: 1, name: SIGN_IN.title }),
  name: page.getByLabel(SIGN_IN.name, { exact: true }),
  passphrase: page.getByLabel(SIGN_IN.passphrase, { exact: true }),
  submit: page.getByRole('button', { name: SIGN_IN.submit }),
});

test('the first person is set up, has everybody sign in, and does so by keys alone', {
  timeout: 90_000,
}, async () => {
  const { page, errors, hosts, width } = await openPage(browser, served.httpPort, '#/people');
  await page.getByText(PEOPLE.people.nobody).waitFor();
  await page.evaluate(() => Object.assign(globalThis, { isSamePage: true }));
  const add = page.getByRole('button', { name: PEOPLE.people.addFirst });
  await page.getByLabel(PEOPLE.people.name).fill(ADA.name);
  await page.getByLabel(PEOPLE.people.passphrase).fill('Password 1234');
  await add.click();
  await page.getByText(PEOPLE.problems['passphrase-weak']!).waitFor();
  await page.getByLabel(PEOPLE.people.passphrase).fill(ADA.passphrase);
  await add.click();

  const form = formOf(page);
  await form.title.waitFor();
  await page.getByText(SIGN_IN.nowWantedBy(ADA.name)).waitFor();
  expect((await send('GET', '/api/v1/vessels')).status).toBe(401);
  expect(await form.name.inputValue()).toBe(ADA.name);
  expect(await width()).toBeLessThanOrEqual(NARROW.width);

  // What was typed is seen only if it is to be.
  expect(await form.passphrase.getAttribute('type')).toBe('password');
  await page.getByRole('button', { name: PASSPHRASE.show }).click();
  expect(await form.passphrase.getAttribute('type')).toBe('text');
  await page.getByRole('button', { name: PASSPHRASE.show }).click();

  const keys = handsOf.keys(page);
  keys.anew();
  await keys.write(form.passphrase, 'seven ducks in a pond');
  await page.keyboard.press('Enter');
  await page.getByText(SIGN_IN.wrong).waitFor();
  await keys.write(form.passphrase, ADA.passphrase);
  await keys.press(form.submit);

  // The page that was asked for, without having been loaded anew.
  await page.getByRole('heading', { name: PEOPLE.people.title, exact: true }).waitFor();
  await page.locator('.page.live').waitFor();
  expect(await page.evaluate(() => Reflect.get(globalThis, 'isSamePage'))).toBe(true);
  expect(await page.evaluate(() => document.activeElement?.tagName)).not.toBe('BODY');

  // The only one who sets up people cannot be taken that right, nor removed.
  const own = page.getByRole('listitem').filter({ hasText: ADA.name });
  await own.getByText(RIGHT_WORDS.keep).waitFor();
  expect(await page.getByRole('button', { name: `${PEOPLE.people.remove}: ${ADA.name}` }).count()).toBe(0);

  await page.getByRole('button', { name: PEOPLE.people.add }).click();
  await page.getByLabel(PEOPLE.people.name).fill(TOM.name);
  await page.getByLabel(PEOPLE.people.passphrase).fill(TOM.passphrase);
  await page.getByLabel(RIGHT_WORDS.work).uncheck();
  await page.getByRole('button', { name: PEOPLE.people.adding, exact: true }).click();
  await page.getByText(PEOPLE.people.added(TOM.name)).waitFor();
  const { people } = (await (
    await send('GET', '/api/v1/people', undefined, { cookie: await cookieOf(ADA) })
  ).json()) as { people: object[] };
  expect(people).toEqual([
    { name: ADA.name, rights: ['look', 'work', 'keep'] },
    { name: TOM.name, rights: ['look'] },
  ]);
  expect(await width()).toBeLessThanOrEqual(NARROW.width);

  await page.getByRole('button', { name: TEXTS.signedIn.out }).click();
  await page.getByText(SIGN_IN.signedOut(ADA.name)).waitFor();
  expect(faults(errors)).toEqual([]);
  expect([...hosts]).toEqual([`${LOOPBACK}:${served.httpPort}`]);
});

test('while nobody is signed in nothing is asked for but who is, and nothing shows', {
  timeout: 60_000,
}, async () => {
  const asked: string[] = [];
  const { page, errors } = await openPage(browser, served.httpPort, '#/batches', async (tab) => {
    tab.on('request', (request) => asked.push(new URL(request.url()).pathname));
    tab.on('websocket', (socket) => asked.push(new URL(socket.url()).pathname));
  });
  await formOf(page).title.waitFor();
  // Longer than a page waits before it says that it is not live, and than several tries to connect.
  await wait(6000);
  expect(asked.filter((path) => path.startsWith('/api/'))).toEqual([SESSION]);
  expect(await page.locator('nav, .not-live, .vessel, .standing').count()).toBe(0);
  expect(await page.title()).toBe(TEXTS.product);
  expect(errors).toEqual([]);
});

test('who may only look sees no control that would be refused, and is told why on pages about acting', {
  timeout: 90_000,
}, async () => {
  const { page, errors } = await openPage(browser, served.httpPort, '#/', signedIn(TOM));
  await page.locator('.alarm').first().waitFor();
  const acting = [
    TEXTS.alarms.acknowledge,
    TEXTS.alarms.shelve,
    TEXTS.stage.other,
    TEXTS.altitude.change,
    TYPED.save,
    SET_UP.places.change,
    SET_UP.places.add,
    SET_UP.vessels.add,
    SET_UP.places.save,
    SET_UP.link.warn('shed'),
    ALONE.title,
    REACH.person.title,
    REACH.general.title,
    STOCK.save,
    PEOPLE.people.add,
    PEOPLE.devices.add,
  ];
  const actingOn = async (tab: Page) => {
    const found = await tab.locator('button, summary').allTextContents();
    return found.filter((text) => acting.some((one) => text.startsWith(one)));
  };
  // Of each page what shows that it is there.
  const pages = [
    ['#/', (tab: Page) => tab.locator('.alarm')],
    ['#/vessel/shed/r1', (tab: Page) => tab.locator('.past')],
    ['#/set-up', (tab: Page) => tab.getByRole('heading', { name: 'shed', exact: true })],
    ['#/stock', (tab: Page) => tab.getByText(STOCK.lead)],
    ['#/people', (tab: Page) => tab.getByRole('button', { name: PEOPLE.tokens.make })],
  ] as const;
  const ada = await openPage(browser, served.httpPort, '#/', signedIn(ADA));
  for (const [hash, shown] of pages) {
    for (const tab of [page, ada.page]) {
      await tab.goto(`${base}/${hash}`);
      await shown(tab).first().waitFor();
    }
    expect(await actingOn(page), hash).toEqual([]);
    await eventually(
      () => actingOn(ada.page),
      ({ length }) => length > 0,
    );
    if (hash === '#/stock') await page.getByText(PEOPLE.lacks(RIGHT_WORDS.work)).waitFor();
    if (hash === '#/set-up') {
      await page.getByText(SET_UP.lacksBoth(RIGHT_WORDS.work, RIGHT_WORDS.keep)).waitFor();
      // The API hides the others and the mail server: nothing is said of them that may be false.
      const reaching = page.getByRole('region', { name: SET_UP.reach.title });
      await reaching.getByText(REACH.notYou).waitFor();
      await reaching.getByText(REACH.ownOnly(RIGHT_WORDS.keep)).waitFor();
      expect(await reaching.getByText(REACH.nobody).count()).toBe(0);
      expect(await reaching.getByText(REACH.noServer).count()).toBe(0);
      await reaching.getByText(REACH.person.own).click();
      await reaching.getByLabel(REACH.person.email).fill('tom@example.org');
      await reaching.getByRole('button', { name: REACH.person.save }).click();
      await reaching.getByText(REACH.person.saved(TOM.name)).waitFor();
    }
    if (hash === '#/people') await page.getByText(PEOPLE.lacksMore(RIGHT_WORDS.keep)).waitFor();
  }
  expect(errors).toEqual([]);

  // Nobody signed in is asked for their name.
  await ada.page.goto(`${base}/#/`);
  await ada.page
    .getByRole('button', { name: new RegExp(`^${TEXTS.alarms.acknowledge}`) })
    .first()
    .click();
  await eventually(
    async () => {
      const answer = await send('GET', '/api/v1/alarms', undefined, { cookie: await cookieOf(ADA) });
      return ((await answer.json()) as { alarms: { acknowledged: { by: string } | null }[] }).alarms;
    },
    (alarms) => alarms.some(({ acknowledged }) => acknowledged?.by === ADA.name),
  );
  await ada.page.goto(`${base}/#/people`);
  await ada.page.getByRole('button', { name: PEOPLE.people.add }).click();
  await ada.page.getByLabel(PEOPLE.people.name).fill('a'.repeat(81));
  await ada.page.getByLabel(PEOPLE.people.passphrase).fill('nine geese on the roof');
  await ada.page.getByRole('button', { name: PEOPLE.people.adding, exact: true }).click();
  await ada.page.getByText(PEOPLE.people.nameWrong).waitFor();
  expect(ada.errors).toEqual([]);
});

test('a token and the password of a device are shown once, and work', { timeout: 90_000 }, async () => {
  const { page, errors, width } = await openPage(browser, served.httpPort, '#/people', signedIn(ADA));
  await page.getByRole('button', { name: PEOPLE.tokens.make }).click();
  await page.getByLabel(PEOPLE.tokens.name).fill('Plotter');
  await page.getByLabel(PEOPLE.tokens.days).fill('10');
  await page.getByRole('button', { name: PEOPLE.tokens.making }).click();
  const shown = page.locator('.shown-once');
  await shown.waitFor();
  const [header] = await shown.locator('code').allTextContents();
  const [, authorization] = /^Authorization: (Bearer \S+)$/.exec(header!)!;
  const metrics = () => send('GET', '/metrics', undefined, { authorization: authorization! });
  expect((await metrics()).status).toBe(200);
  expect(await width()).toBeLessThanOrEqual(NARROW.width);
  await shown.getByRole('button', { name: PEOPLE.secret.done }).click();
  expect(await page.content()).not.toContain(authorization!.slice('Bearer '.length));
  await page.getByRole('button', { name: `${PEOPLE.tokens.remove}: plotter` }).click();
  await page.getByRole('dialog').getByRole('button', { name: PEOPLE.tokens.remove }).click();
  await page.getByText(PEOPLE.tokens.removed('plotter')).waitFor();
  expect((await metrics()).status).toBe(401);

  await page.getByText(PEOPLE.devices.first).waitFor();
  const isCutOff = new Promise<void>((resolve) => {
    device.once('close', () => resolve());
  });
  await page.getByRole('button', { name: PEOPLE.devices.add }).click();
  await page.getByLabel(PEOPLE.devices.name).fill('r1 probe');
  await page.getByLabel(PEOPLE.devices.firstCheck).check();
  await page.getByRole('button', { name: PEOPLE.devices.adding, exact: true }).click();
  await shown.waitFor();
  const [username, password] = await shown.locator('code').allTextContents();
  expect(username).toBe('r1-probe');
  await isCutOff;
  const mqtt = `mqtt://${LOOPBACK}:${served.mqttPort}`;
  const own = await connectAsync(mqtt, { username: username!, password: password!, reconnectPeriod: 0 });
  await own.publishAsync('esterwatch/v1/reading/shed/r1/liquid-temperature', '55.5', { qos: 1 });
  await own.endAsync();
  await expect(connectAsync(mqtt, { reconnectPeriod: 0 })).rejects.toMatchObject({ code: 5 });
  await shown.getByRole('button', { name: PEOPLE.secret.done }).click();
  expect(await page.content()).not.toContain(password!);

  await page.getByText(PEOPLE.noted.open).click();
  await page.getByText(PEOPLE.noted.device(ADA.name, 'r1-probe', 'shed')).waitFor();
  await page.getByText(PEOPLE.noted.refused(ADA.name, LOOPBACK)).first().waitFor();
  expect(await width()).toBeLessThanOrEqual(NARROW.width);
  expect(errors).toEqual([]);
});

test('who signs out on one tab is signed out on the other', { timeout: 60_000 }, async () => {
  const { page, errors } = await openPage(browser, served.httpPort, '#/', signedIn(TOM));
  await page.locator('.vessel').first().waitFor();
  const other = await page.context().newPage();
  await other.goto(`${base}/#/oil`);
  await other.getByRole('button', { name: TEXTS.signedIn.out }).click();
  cookies.delete(TOM.name);
  await page.getByText(SIGN_IN.signedOut(TOM.name)).waitFor();
  expect(await page.locator('.vessel').count()).toBe(0);
  expect(faults(errors)).toEqual([]);
});

test.runIf(isThorough)(
  'after too many wrong tries it says how long to wait, and who is signed in goes on',
  {
    timeout: 120_000,
  },
  async () => {
    const { page, errors } = await openPage(browser, served.httpPort, '#/');
    const ada = await openPage(browser, served.httpPort, '#/', signedIn(ADA));
    for (;;) {
      const tried = await send('POST', SESSION, { name: ADA.name, passphrase: 'a wrong passphrase' });
      if (tried.status === 429) {
        const seconds = Number(tried.headers.get('retry-after'));
        // A wrong one of an earlier test may count still, and not for long.
        if (seconds > 20) break;
        await wait(seconds * 1000);
      } else expect(tried.status).toBe(401);
    }
    const form = formOf(page);
    await form.name.fill(ADA.name);
    await form.passphrase.fill(ADA.passphrase);
    await form.submit.click();
    await page.getByText(SIGN_IN.tooMany).waitFor();
    const timer = page.getByRole('timer');
    const seconds = async () => Number(/\d+/.exec((await timer.textContent()) ?? '')?.[0]);
    const first = await seconds();
    expect(first).toBeGreaterThan(0);
    expect(first).toBeLessThanOrEqual(60);
    await eventually(seconds, (left) => left < first);
    let tries = 0;
    page.on('request', (request) => {
      if (request.method() === 'POST') tries += 1;
    });
    await form.submit.click({ force: true });
    await wait(500);
    expect(tries).toBe(0);
    await ada.page.locator('.page.live .vessel').first().waitFor();
    expect(faults(errors)).toEqual([]);
    expect(ada.errors).toEqual([]);
  },
);
