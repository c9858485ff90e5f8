import { randomUUID } from 'node:crypto';
import { setTimeout as wait } from 'node:timers/promises';
import { z } from 'zod';
import { smtpSchema } from '../../shared/wire/reach.ts';
import { isoTime } from '../../shared/wire/time.ts';
import { readJsonFile } from '../json-file.ts';
import { Guarding } from '../reach/guarding.ts';
import { email } from '../reach/ways/email.ts';
import { statusOf } from '../reach/ways/outgoing.ts';
import { post } from '../reach/ways/post.ts';
import { guardWords, type Words } from '../reach/words.ts';
import { openLog } from './log.ts';
import { readNumber, readOptions } from './options.ts';
import { untilSignal } from './until-signal.ts';
import { UsageError } from './usage.ts';

const DEFAULT_EVERY_S = 30;
/** A stop waits no longer than this for what is being sent, ms. */
const GOODBYE_MS = 3000;
/** A daemon says on MQTT at least every 10 s that it watches; one that has not for so long is missed, ms. */
const BEAT_WITHIN_MS = 30_000;

const HELP = `esterwatch guard: on a second small machine, tells somebody when a daemon is gone and when it is back. It does
nothing else.

  --url URL     the daemon's page, as http://10.0.0.5:8080; missed three times in a row, it is gone
  --every S     look so often, seconds (${DEFAULT_EVERY_S})
  --broker URL  also listen for its beat (mqtt://10.0.0.5:1883)
  --post URL    tell by a POST there, signed with the secret in ESTERWATCH_POST_SECRET
  --config FILE the same from a JSON file, where a password belongs, and people to write to:
                {"url":"…","everySeconds":30,"broker":"mqtt://name:password@…","smtp":{…},"email":["…"],
                "post":{"url":"…","secret":"…"}}; options go before it
  --help
`;

export const guardConfigSchema = z.strictObject({
  url: z.url({ protocol: /^https?$/ }).optional(),
  everySeconds: z.number().min(1).max(3600).optional(),
  /** Its password is not seen in the list of processes, as that of an option is. */
  broker: z.url({ protocol: /^(mqtts?|wss?)$/ }).optional(),
  smtp: smtpSchema.optional(),
  email: z.array(z.email()).min(1).optional(),
  post: z.strictObject({ url: z.url({ protocol: /^https?$/ }), secret: z.string().min(8) }).optional(),
});

type Said = { id: string; atMs: number; words: Words };
type Send = (said: Said) => Promise<void>;

export async function guard(args: string[]): Promise<void> {
  const given = readOptions(
    args,
    {
      url: { type: 'string' },
      every: { type: 'string' },
      broker: { type: 'string' },
      post: { type: 'string' },
      config: { type: 'string' },
    },
    HELP,
  );
  if (given === null) return;
  const file =
    given.config === undefined ? {} : readJsonFile(given.config, 'configuration', guardConfigSchema);
  const url = webUrl(given.url ?? file.url, '--url').replace(/\/+$/, '');
  const everyMs =
    1000 * (readNumber(given.every, '--every', 1, 3600) ?? file.everySeconds ?? DEFAULT_EVERY_S);
  const ways = waysOf(given, file);
  const log = await openLog();
  const broker = given.broker ?? file.broker;
  const beat = broker === undefined ? null : await listenForBeat(broker, (message) => log.warn(message));
  const guarding = new Guarding(Date.now());
  /** What each way has still to say: only the newest, since what was before is over. */
  const waiting = new Map<string, Said>();
  /** Ways by which something is being sent: a slow one must not keep it from looking. */
  const sending = new Map<string, Promise<void>>();
  let isStopped = false;
  const stop = new AbortController();

  const run = (async () => {
    while (!isStopped) {
      const because = (await missedBecause(url)) ?? beat?.missedBecause() ?? null;
      const nowMs = Date.now();
      const change = guarding.looked(because, nowMs);
      if (change !== null) {
        const words = guardWords(change.state, url, because ?? '', change.sinceMs, nowMs);
        log.warn(words.text);
        const said = { id: randomUUID(), atMs: nowMs, words };
        for (const way of ways.keys()) waiting.set(way, said);
      }
      for (const [way, said] of waiting) {
        if (sending.has(way)) continue;
        const sent = ways.get(way)!(said)
          .then(() => {
            // Something newer may have come meanwhile.
            if (waiting.get(way) === said) waiting.delete(way);
          })
          .catch((error: Error) => log.warn(`${way}: ${error.message}; tried again in ${everyMs / 1000} s`))
          .finally(() => sending.delete(way));
        sending.set(way, sent);
      }
      await wait(everyMs, undefined, { signal: stop.signal }).catch(() => {});
    }
  })();
  log.info(`guarding ${url}`);
  await untilSignal(log, new Promise<Error>(() => {}), async () => {
    isStopped = true;
    stop.abort();
    await beat?.close();
    await run;
    await Promise.race([Promise.all(sending.values()), wait(GOODBYE_MS, undefined, { ref: false })]);
  });
}

async function missedBecause(url: string): Promise<string | null> {
  try {
    const status = await statusOf(`${url}/api/v1/health`, 'GET', {});
    if (status === 503) return 'it says that it is not well';
    return status >= 200 && status < 300 ? null : `status ${status}`;
  } catch (error) {
    return (error as Error).message;
  }
}

function waysOf(
  { post: postUrl, config }: { post?: string; config?: string },
  file: z.infer<typeof guardConfigSchema>,
): Map<string, Send> {
  const secret = process.env.ESTERWATCH_POST_SECRET;
  if (postUrl !== undefined && (secret === undefined || secret.length < 8))
    throw new UsageError('--post wants a secret of at least 8 characters in ESTERWATCH_POST_SECRET');
  const posts = [
    ...(postUrl === undefined ? [] : [{ url: webUrl(postUrl, '--post'), secret: secret! }]),
    ...(file.post === undefined ? [] : [file.post]),
  ];
  const ways = new Map<string, Send>();
  for (const [i, to] of posts.entries())
    ways.set(`post ${i + 1}`, ({ id, atMs, words }) =>
      post(
        to,
        {
          id,
          kind: 'guard',
          at: isoTime(atMs),
          to: 'guard',
          site: null,
          ...words,
          alarms: [],
          heldBack: [],
          answer: null,
        },
        Date.now(),
      ),
    );
  const { smtp } = file;
  if (file.email !== undefined && smtp === undefined)
    throw new UsageError(`configuration ${config}: email needs smtp`);
  for (const [i, to] of (file.email ?? []).entries())
    ways.set(`email ${i + 1}`, ({ id, words }) => email(smtp!, to, id, words));
  if (ways.size === 0) throw new UsageError('nobody could be told: say --post URL or --config FILE');
  return ways;
}

async function listenForBeat(
  url: string,
  warn: (message: string) => void,
): Promise<{ missedBecause(): string | null; close(): Promise<void> }> {
  // Only where it is asked for: its library is large.
  const { default: mqtt } = await import('mqtt');
  const client = mqtt.connect(url, { reconnectPeriod: 1000 });
  let isRefused = false;
  client.on('error', (error) => {
    const { code } = error as { code?: unknown };
    // Bad user name or password, not authorized (MQTT 3.1.1, 3.2.2.3): its own trouble, no sign that nobody watches.
    if (code !== 4 && code !== 5) return;
    if (!isRefused) warn('the broker does not let the guard in: it goes by the page alone');
    isRefused = true;
  });
  /** Null: never. A daemon that no reading has reached yet has no site to say it of. */
  let heardMs: number | null = null;
  let isGone = false;
  client.on('connect', () => {
    isRefused = false;
    client.subscribe('esterwatch/v1/beat/+');
  });
  client.on('message', (_topic, payload) => {
    isGone = /"state":"gone"/.test(payload.toString());
    if (!isGone) heardMs = Date.now();
  });
  return {
    missedBecause: () =>
      isRefused
        ? null
        : isGone
          ? 'its beat says gone'
          : heardMs !== null && Date.now() - heardMs > BEAT_WITHIN_MS
            ? 'no beat'
            : null,
    close: () => client.endAsync(true),
  };
}

function webUrl(text: string | undefined, option: string): string {
  if (text === undefined || !URL.canParse(text) || !/^https?:$/.test(new URL(text).protocol))
    throw new UsageError(`${option} wants a URL like http://10.0.0.5:8080, not ${text ?? 'nothing'}`);
  return text;
}
