import { randomUUID } from 'node:crypto';
import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import type { Logger } from 'pino';
import { Access } from './access/access.ts';
import { NotLetIn } from './access/not-let-in.ts';
import { AccessNotes } from './access/notes.ts';
import type { Broker } from './broker/broker.ts';
import { startEmbeddedBroker } from './broker/embedded.ts';
import { ArrivalClock, type Clock, every } from './clock.ts';
import {
  type Address,
  type BackupConfig,
  isLoopback,
  type MappedTopic,
  type RetentionConfig,
  type StillWatchingConfig,
} from './config.ts';
import { Centre } from './forward/centre.ts';
import { Forwarder, type ForwardTo } from './forward/forwarder.ts';
import { Acting } from './http/acting.ts';
import { LotOperations } from './http/lot-operations.ts';
import { Operations } from './http/operations.ts';
import { buildServer, listen } from './http/server.ts';
import { TemplateOperations } from './http/template-operations.ts';
import { Intake } from './intake/intake.ts';
import { RefusedList } from './intake/refused-list.ts';
import { SharedChannels } from './intake/shared-channels.ts';
import { TopicMap } from './intake/topic-map.ts';
import { Announcer } from './live/announcer.ts';
import { HeadPublisher } from './live/head-publisher.ts';
import { Viewers } from './live/viewers.ts';
import { Answers } from './reach/answers.ts';
import { ReachKeys } from './reach/keys.ts';
import { SettingsFile } from './reach/settings.ts';
import { startStillWatching } from './reach/still-watching.ts';
import { Teller } from './reach/teller.ts';
import { Records } from './record/records.ts';
import { fitHeapTo } from './small-heap.ts';
import { DailyBackup } from './store/daily-backup.ts';
import { backupInThread, damageIn, openStore } from './store/open.ts';
import { Recorder } from './store/recorder.ts';
import { Retention } from './store/retention.ts';
import { Sealing } from './store/sealing.ts';
import { type Store, StoreError } from './store/store.ts';
import type { Certificate } from './tls/certificate.ts';
import { Watch } from './watch/watch.ts';

/** A centre tells people of a site from which nothing has come for so long. */
const USUAL_SILENT_MINUTES = 15;
/** How much comes is looked at so often, for the heap's sake, ms. */
const FIT_HEAP_MS = 1000;

export interface DaemonOptions {
  data: string;
  http: Address;
  /** Where the broker of its own listens by TLS as well. */
  mqtts?: Address | undefined;
  /** With it the page and the API are served by TLS. */
  certificate?: Certificate | undefined;
  /** Whether it is of the daemon's own making, which no browser trusts unasked. */
  isOwnCertificate?: boolean | undefined;
  /** Where the broker of its own listens, or the URL of another. */
  mqtt: Address | string;
  topics: readonly MappedTopic[];
  publicName?: string | undefined;
  /** Whether everybody who reaches it may do everything, also beyond the machine, while nobody is set up. */
  isOpenMeant?: boolean | undefined;
  /** Whether what a proxy says of its client is believed. */
  trustsProxy?: boolean | undefined;
  /** Where people reach the page, for the links in messages. */
  publicUrl?: string | undefined;
  stillWatching?: StillWatchingConfig | undefined;
  backup?: BackupConfig | undefined;
  retention?: RetentionConfig | undefined;
  /** Where what is watched here goes to. */
  forward?: ForwardTo | undefined;
  silentAfterMinutes?: number | undefined;
  clock: Clock;
  log: Logger;
  /** Another way to open the store; tests hold its commits back. */
  openStore?: (data: string) => Promise<Store>;
}

export interface Daemon {
  httpPort: number;
  /** Null with an outside broker. */
  mqttPort: number | null;
  /** By TLS; null where it does not listen so. */
  mqttsPort: number | null;
  /** Resolves with the reason where it cannot go on: what was acknowledged is stored. */
  died: Promise<Error>;
  /** Ends cleanly: nothing taken in is lost, nothing is half written. */
  close(): Promise<void>;
}

/**
 * Puts the stages together, each knowing only the next: broker → intake → recorder and store → watch →
 * viewers and announcer; and beside them the HTTP API.
 */
export async function startDaemon(options: DaemonOptions): Promise<Daemon> {
  const { clock, log } = options;
  const arrivals = new ArrivalClock(clock);
  const refused = new RefusedList();
  const topics = new TopicMap(options.topics);
  const warn = (message: string) => log.warn(message);

  const store = await (options.openStore ?? openStore)(options.data);
  const settings = new SettingsFile(options.data, warn);
  const recorder = new Recorder(store, clock);
  const watch = new Watch({ store, recorder, arrivals, clock });
  try {
    await watch.start();
  } catch (error) {
    await store.close();
    // What is damaged may fail in any way; what fails in a store that is whole is a mistake of ours.
    throw error instanceof StoreError ? error : ((await damageIn(options.data)) ?? error);
  }
  const { http, mqtt, isOpenMeant = false } = options;
  const isBeyond = (at: Address | string | undefined) =>
    typeof at === 'object' && !isLoopback(at.host) && !isOpenMeant;
  // A proxy serves others, wherever it is itself.
  const beyond = {
    people: isBeyond(http) || (options.trustsProxy === true && !isOpenMeant),
    devices: isBeyond(mqtt) || isBeyond(options.mqtts),
  };
  const access = new Access({ dataFolder: options.data, clock, arrivals, beyond });
  const centre = new Centre({
    store,
    recorder,
    watch,
    access,
    arrivals,
    clock,
    silentAfterMinutes: options.silentAfterMinutes ?? USUAL_SILENT_MINUTES,
  });
  try {
    await centre.start();
  } catch (error) {
    watch.stop();
    await recorder.close();
    await store.close();
    throw error;
  }
  const senders = new SharedChannels({ watch, recorder, arrivals, clock });
  const intake = new Intake({ clock: arrivals, recorder, known: watch, topics, refused, senders });
  const acting = new Acting({ recorder, arrivals });
  const operations = new Operations({ watch, acting, intake, centre });
  const viewers = new Viewers({
    watch,
    centre,
    arrivals,
    clock,
    recorder,
    unreached: () => (teller.health()?.works === false ? teller.health()!.because : null),
  });
  const announcer = new Announcer({ watch, arrivals, clock, warn });
  const keys = new ReachKeys(options.data);
  const { publicUrl } = options;
  const mayAnswer = (name: string) => access.mayWork(name);
  const forwarded = () => centre.toldSites();
  const telling = { watch, recorder, arrivals, clock, settings, keys, forwarded };
  const teller = new Teller({ ...telling, publicUrl, mayAnswer, warn });
  centre.listen({ forwarded: () => teller.look() });
  const answers = new Answers({ watch, acting, operations, keys, mayAnswer });
  // Whoever has left is not woken any more.
  const onRemoved = (name: string) => {
    settings.removePerson(name);
    teller.look();
  };
  const notes = new AccessNotes({ access, watch, recorder, store, arrivals, clock, onRemoved, warn });
  const heads = new HeadPublisher({ store, arrivals, clock, warn });
  const sites = () => [...watch.sites().map(({ site }) => site), ...centre.chains()];
  const sealing = new Sealing({ store, sites, arrivals, clock, warn });
  const backup = options.backup && startBackups(options.data, options.backup, { arrivals, clock, warn });

  const retention =
    options.retention &&
    new Retention({
      store,
      config: options.retention,
      sites: () => watch.sites().map(({ site, batches }) => ({ site, kept: batches.spans() })),
      arrivals,
      clock,
      warn,
      say: (message) => log.info(message),
    });

  const notLetIn = new NotLetIn({ access, refused, arrivals, clock, warn });

  const announceTo = (to: Broker) => {
    announcer.announceTo(to);
    heads.announceTo(to);
  };

  let broker: Broker | undefined;
  let forwarder: Forwarder | undefined;
  const app = await buildServer({
    watch,
    store,
    recorder,
    arrivals,
    refused,
    senders,
    operations,
    lots: new LotOperations({ watch, acting, operations }),
    templates: new TemplateOperations({ watch, acting }),
    viewers,
    broker: () => broker ?? NO_BROKER,
    backup: () => backup?.status ?? null,
    sealing,
    records: new Records(options.data, clock),
    access,
    notes,
    trustsProxy: options.trustsProxy === true,
    certificate: options.certificate ?? null,
    isOwnCertificate: options.isOwnCertificate === true,
    acting,
    reach: { settings, keys, teller, answers, publicUrl, clock, people: () => access.people() },
    centre,
    forward: () => forwarder?.health ?? null,
    own: { host: options.http.host, publicName: options.publicName },
    log,
  });

  let storedBefore = watch.storedReadings;
  const fitting = every(clock, FIT_HEAP_MS, () => {
    fitHeapTo((1000 * (watch.storedReadings - storedBefore)) / FIT_HEAP_MS);
    storedBefore = watch.storedReadings;
  });

  let stillWatching: { close(): void } | undefined;
  const close = async () => {
    fitting.cancel();
    senders.close();
    await forwarder?.close();
    heads.close();
    stillWatching?.close();
    await teller.close();
    await backup?.close();
    await sealing.close();
    await retention?.close();
    await announcer.close();
    viewers.close();
    await app.close();
    await broker?.close();
    await notes.close();
    watch.stop();
    await recorder.close();
    await store.close();
    options.certificate?.close();
  };

  try {
    let mqttPort: number | null = null;
    let mqttsPort: number | null = null;
    if (typeof options.mqtt === 'string') {
      // Only where it is needed: its library is large.
      const url = options.mqtt;
      const { connectOutsideBroker } = await import('./broker/outside.ts');
      broker = await connectOutsideBroker({
        url,
        clientId: clientId(options.data),
        filters: topics.filters,
        take: (message) => intake.take(message),
        onConnect: () => {
          log.info(`connected to the broker ${withoutSecrets(url)}`);
          // The broker is named before its first connection can come.
          setImmediate(() => broker && announceTo(broker));
        },
        warn,
      });
    } else {
      const embedded = await startEmbeddedBroker(
        options.mqtt,
        (message) => intake.take(message),
        access,
        () => recorder.failure !== null,
        options.mqtts && options.certificate ? { at: options.mqtts, certificate: options.certificate } : null,
        (sender) => notLetIn.note(sender),
      );
      broker = embedded;
      mqttPort = embedded.port;
      mqttsPort = embedded.securePort;
      announceTo(broker);
    }
    stillWatching =
      options.stillWatching &&
      startStillWatching(options.stillWatching, {
        clock,
        warn,
        isWell: () =>
          broker?.connected === true && recorder.failure === null && teller.health()?.works !== false,
      });
    const httpPort = await listen(app, options.http);
    forwarder =
      options.forward &&
      new Forwarder({
        to: options.forward,
        watch,
        store,
        arrivals,
        clock,
        siteAnswer: (site) => operations.siteAnswer(site),
        health: () => [
          ...(broker?.connected === true ? [] : ['the broker cannot be reached']),
          ...(recorder.failure === null ? [] : ['the store cannot be written']),
        ],
        warn,
      });
    return { httpPort, mqttPort, mqttsPort, died: store.died, close };
  } catch (error) {
    await close();
    throw error;
  }
}

function startBackups(
  data: string,
  config: BackupConfig,
  parts: { arrivals: ArrivalClock; clock: Clock; warn: (message: string) => void },
): DailyBackup {
  return new DailyBackup({ config, copy: (file) => backupInThread(data, file), ...parts });
}

/** A broker's URL as it may stand in a log. */
function withoutSecrets(url: string): string {
  const { protocol, host } = new URL(url);
  return `${protocol}//${host}`;
}

/** Until the broker is there: what the first requests are told. */
const NO_BROKER: Broker = {
  kind: 'embedded',
  connected: false,
  listens: null,
  publish: async () => {},
  leaveWill: () => {},
  close: async () => {},
};

/** The same at every start, or the broker would keep a session for each. */
function clientId(data: string): string {
  const file = join(data, 'mqtt-client-id');
  if (!existsSync(file)) writeFileSync(file, `esterwatch-${randomUUID()}\n`, { mode: 0o600 });
  return readFileSync(file, 'utf8').trim();
}
