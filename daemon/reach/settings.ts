import { renameSync } from 'node:fs';
import { join } from 'node:path';
import {
  MOST_REACHED,
  type ReachBody,
  type ReachedPerson,
  type ReachSettings,
  reachFileSchema,
  type Subscription,
  type WishesBody,
} from '../../shared/wire/reach.ts';
import { readPrivate, writePrivate } from '../private-file.ts';

/** What a password belongs to. */
const SERVER_FIELDS = ['host', 'port', 'security', 'user', 'ca'] as const;
/** The most browsers of a person: one more takes the place of the oldest. */
const MOST_BROWSERS = 10;

/** Who is told what and by which server: `reach.json` in the data folder, which holds addresses and secrets. */
export class SettingsFile {
  readonly #file: string;
  #settings: ReachSettings;
  /** Why the file cannot be read; null where it can. Then nobody is told, which is better than that nobody watches. */
  damage: string | null = null;

  constructor(data: string, warn: (message: string) => void) {
    this.#file = join(data, 'reach.json');
    this.#settings = reachFileSchema.parse({});
    try {
      this.#settings = readPrivate(this.#file, reachFileSchema) ?? this.#settings;
    } catch (error) {
      this.damage = (error as Error).message;
      warn(`nobody is told of anything: ${this.damage}`);
    }
  }

  get(): ReachSettings {
    return this.#settings;
  }

  person(name: string): ReachedPerson | undefined {
    return this.#settings.people.find((person) => person.name === name);
  }

  setGeneral({ smtp, nextAfterMinutes, night }: ReachBody): void {
    const known = this.#settings.smtp;
    // Only for the server that it was given for: otherwise one that listens could be put in its place.
    const isSame =
      known !== null &&
      smtp !== null &&
      SERVER_FIELDS.every((field) => known[field] === (smtp[field] ?? null));
    const password = smtp?.password ?? (isSame && smtp?.password === undefined ? known.password : null);
    this.#write({ ...this.#settings, nextAfterMinutes, night, smtp: smtp && { ...smtp, password } });
  }

  /**
   * @throws SecretMissing where a POST is wished for the first time without one
   * @throws NoRoom
   */
  setPerson(name: string, { post, ...wishes }: WishesBody): void {
    const known = this.person(name);
    // Only for the address that it was given for: otherwise one that listens could be put in its place.
    const secret = post?.secret ?? (post?.url === known?.post?.url ? known?.post?.secret : undefined);
    if (post !== null && secret === undefined) throw new SecretMissing();
    this.#put(name, {
      ...wishes,
      name,
      post: post && { url: post.url, secret: secret! },
      push: known?.push ?? [],
    });
  }

  /** @throws NoRoom */
  addBrowser(name: string, subscription: Subscription): void {
    const known = this.person(name) ?? reachFileSchema.parse({ people: [{ name }] }).people[0]!;
    const others = known.push.filter(({ endpoint }) => endpoint !== subscription.endpoint);
    this.#put(name, { ...known, push: [...others, subscription].slice(-MOST_BROWSERS) });
  }

  removeBrowsers(name: string, isRemoved: (browser: Subscription) => boolean): void {
    const known = this.person(name);
    if (known?.push.some(isRemoved))
      this.#put(name, { ...known, push: known.push.filter((browser) => !isRemoved(browser)) });
  }

  removePerson(name: string): void {
    this.#write({
      ...this.#settings,
      people: this.#settings.people.filter((person) => person.name !== name),
    });
  }

  #put(name: string, person: ReachedPerson): void {
    const { people } = this.#settings;
    const isNew = !people.some((one) => one.name === name);
    if (isNew && people.length >= MOST_REACHED) throw new NoRoom();
    this.#write({
      ...this.#settings,
      people: isNew ? [...people, person] : people.map((one) => (one.name === name ? person : one)),
    });
  }

  #write(settings: ReachSettings): void {
    const whole = reachFileSchema.parse(settings);
    // What is left of it may still be read by a person.
    if (this.damage !== null) renameSync(this.#file, `${this.#file}.damaged`);
    this.damage = null;
    writePrivate(this.#file, whole);
    this.#settings = whole;
  }
}

export class SecretMissing extends Error {}
/** There are as many people as may be. */
export class NoRoom extends Error {}
