import { timingSafeEqual } from 'node:crypto';
import type { IncomingHttpHeaders } from 'node:http';
import { parseCookie } from 'cookie';
import { type Publisher, rightsSchema, type Token } from '../../shared/wire/access.ts';
import type { KnownPerson, Right } from '../../shared/wire/session.ts';
import { isoTime } from '../../shared/wire/time.ts';
import type { ArrivalClock, Clock } from '../clock.ts';
import {
  type AccessChange,
  AccessError,
  AccessFile,
  type AccessList,
  newSecret,
  sha256Of,
} from './access-file.ts';
import { LockHeld } from './lock.ts';
import { hashOf, isPassphrase, NOBODYS, weakness } from './passphrase.ts';
import { Sessions } from './sessions.ts';
import { Tries } from './tries.ts';

/** The cookie of a session. Under TLS its name makes the browser see to it that nobody else could have set it (RFC 6265bis, 4.1.3.2). */
export const sessionCookie = (isSecure: boolean): string =>
  isSecure ? '__Host-esterwatch-session' : 'esterwatch-session';
/** So many passphrases wait to be compared: each takes some tenths of a second, and 16 MiB. */
const MOST_COMPARING = 8;
/** A daemon does nothing else while it waits for another process that changes who is let in, ms. */
const WAITS_MS = 250;

/** Who asks, and what they may. */
export interface Caller {
  /** As it is noted with what they do; null while nobody has to sign in: then it is what they say. */
  name: string | null;
  /** Whose rights they are; null while nobody has to sign in. */
  person: string | null;
  rights: readonly Right[];
  /** Of a browser: what its session is known by. */
  session: string | null;
  /** Of a script: what its token is known by. */
  token: string | null;
}

/** A device that is set up. */
export type KnownDevice = Readonly<AccessList['devices'][number]>;

/** A daemon that may forward sites. */
export type KnownForwarder = Readonly<AccessList['forwarders'][number]>;

/** Everybody on the machine, while no person is set up. */
const ANYBODY: Caller = {
  name: null,
  person: null,
  rights: ['look', 'work', 'keep'],
  session: null,
  token: null,
};

export type SignedIn = { secret: string; person: KnownPerson } | { wrong: true } | { waitMs: number };

/** A change that cannot be made. */
export class AccessRefused extends Error {
  readonly code:
    | 'passphrase-weak'
    | 'person-unknown'
    | 'nobody-keeps'
    | 'sign-in-refused'
    | 'access-busy'
    | 'no-room'
    | 'publisher-unknown'
    | 'forwarder-unknown'
    | 'site-of-another'
    | 'token-unknown';

  constructor(code: AccessRefused['code'], message: string) {
    super(message);
    this.code = code;
  }
}

/**
 * Who is let in: people who sign in, scripts with a token, devices with a secret. While nobody is set up everybody on
 * the machine may do everything; a list that cannot be read lets nobody in.
 */
export class Access {
  readonly #file: AccessFile;
  readonly #sessions: Sessions;
  readonly #tries: Tries;
  readonly #nowMs: () => number;
  readonly #beyond: { people: boolean; devices: boolean };
  #comparing: Promise<unknown> = Promise.resolve();
  #waiting = 0;

  /**
   * `beyond` says whether people, and devices, reach it from beyond the machine: then nobody set up means nobody let in.
   * `waitsMs`: how long another process that changes the list is waited for.
   */
  constructor(parts: {
    dataFolder: string;
    clock: Clock;
    arrivals: Pick<ArrivalClock, 'nowMs'>;
    beyond?: { people: boolean; devices: boolean };
    waitsMs?: number;
  }) {
    this.#beyond = parts.beyond ?? { people: false, devices: false };
    this.#file = new AccessFile(parts.dataFolder, parts.waitsMs ?? WAITS_MS);
    this.#nowMs = () => parts.arrivals.nowMs();
    this.#sessions = new Sessions(parts.dataFolder, this.#nowMs);
    this.#tries = new Tries(
      () => parts.clock.monotonicMs(),
      (name, address) => this.#sessions.isFrom(name, address),
    );
  }

  /**
   * Whether people have to sign in.
   * @throws AccessError where the list cannot be read.
   */
  get isWanted(): boolean {
    return this.#arePeopleWanted(this.#file.list());
  }

  /** Why it cannot be read who is let in, so that nobody is; null where it can. */
  get unreadableBecause(): string | null {
    try {
      this.#file.list();
      return null;
    } catch (error) {
      if (error instanceof AccessError) return error.message;
      throw error;
    }
  }

  // ---- who asks ----

  /**
   * Null where nobody is signed in who has to be.
   * @throws AccessError
   */
  caller(
    { authorization, cookie }: Pick<IncomingHttpHeaders, 'authorization' | 'cookie'>,
    isSecure: boolean,
  ): Caller | null {
    const list = this.#file.list();
    if (!this.#arePeopleWanted(list)) return ANYBODY;
    if (authorization !== undefined) return this.#bearer(list, authorization);
    const secret = cookie === undefined ? undefined : parseCookie(cookie)[sessionCookie(isSecure)];
    const session = secret === undefined ? null : this.#sessions.find(secret);
    const person = list.people.find(({ name }) => name === session?.person);
    if (session === null || person === undefined) return null;
    if (!this.#sessions.isOn(session.sha256, person.passphrase)) return null;
    const { name, rights } = person;
    return { name, person: name, rights, session: session.sha256, token: null };
  }

  /** Whether a caller who looks on for long is still let in. */
  isCallerStillIn({ session, token, person }: Caller): boolean {
    return this.#unlessDamaged((list) => {
      if (person === null) return !this.#arePeopleWanted(list);
      const known = list.people.find(({ name }) => name === person);
      if (known === undefined) return false;
      if (token !== null) return list.tokens.some((one) => one.sha256 === token && this.#isGood(one));
      return session !== null && this.#sessions.isOn(session, known.passphrase);
    });
  }

  /** The same of a device that is connected; null: one that did not have to say who it is. */
  isStillIn(device: KnownDevice | null): boolean {
    return this.#unlessDamaged((list) =>
      device === null
        ? !this.#areDevicesWanted(list)
        : list.devices.some(({ sha256, site }) => sha256 === device.sha256 && site === device.site),
    );
  }

  #arePeopleWanted({ people }: AccessList): boolean {
    return people.length > 0 || this.#beyond.people;
  }

  #areDevicesWanted({ devices }: AccessList): boolean {
    return devices.length > 0 || this.#beyond.devices;
  }

  #unlessDamaged(look: (list: AccessList) => boolean): boolean {
    try {
      return look(this.#file.list());
    } catch (error) {
      if (error instanceof AccessError) return false;
      throw error;
    }
  }

  #bearer({ people, tokens }: AccessList, authorization: string): Caller | null {
    const [, secret] = /^Bearer +([\w-]+)$/i.exec(authorization) ?? [];
    if (secret === undefined) return null;
    const sha256 = sha256Of(secret);
    const token = tokens.find((one) => isSame(one.sha256, sha256));
    const person = people.find(({ name }) => name === token?.person);
    if (token === undefined || person === undefined || !this.#isGood(token)) return null;
    const rights = token.rights.filter((right) => person.rights.includes(right));
    return {
      name: `${person.name} (${token.name})`,
      person: person.name,
      rights,
      session: null,
      token: token.sha256,
    };
  }

  #isGood({ endsMs }: AccessList['tokens'][number]): boolean {
    return endsMs > this.#nowMs();
  }

  // ---- signing in and out ----

  /**
   * Signs a person in who knows their passphrase; a name that is not known takes as long.
   * @throws AccessError
   */
  async signIn(name: string, passphrase: string, address: string): Promise<SignedIn> {
    const own = await this.#compared(name, address, () => this.#own(name, passphrase, address));
    if (typeof own === 'object' && own !== null) return own;
    const person = this.#file.list().people.find((one) => one.name === name);
    if (own === null || person === undefined) return { wrong: true };
    this.#tries.noteRight(name, address);
    return { secret: this.#sessions.begin(name, own, address), person: { name, rights: person.rights } };
  }

  /** One passphrase is compared at a time, and none after too many wrong ones: then how long to wait. */
  async #compared<T>(
    name: string,
    address: string,
    compare: () => Promise<T>,
  ): Promise<T | { waitMs: number }> {
    const waitMs = this.#tries.waitMs(name, address);
    if (waitMs > 0) return { waitMs };
    if (this.#waiting >= MOST_COMPARING) return { waitMs: 1000 };
    this.#waiting++;
    const comparing = this.#comparing.then(async (): Promise<T | { waitMs: number }> => {
      // Those that were wrong meanwhile count.
      const laterMs = this.#tries.waitMs(name, address);
      return laterMs > 0 ? { waitMs: laterMs } : compare();
    });
    this.#comparing = comparing.catch(() => {});
    try {
      return await comparing;
    } finally {
      this.#waiting--;
    }
  }

  /** As a person's passphrase is kept, where it is this one; null where it is another. */
  async #own(name: string, passphrase: string, address: string): Promise<string | null> {
    const before = this.#file.list().people.find((one) => one.name === name);
    const isRight = await isPassphrase(passphrase, before?.passphrase ?? NOBODYS);
    // The person may have gone meanwhile, or have another passphrase.
    const person = this.#file.list().people.find((one) => one.name === name);
    if (isRight && person !== undefined && person.passphrase === before?.passphrase) return person.passphrase;
    this.#tries.noteWrong(name, address);
    return null;
  }

  /** Whether the history is to have that somebody at an address was turned away after too many tries. */
  isTurnedAwayNoted(address: string): boolean {
    return this.#tries.isTurnedAwayNoted(address);
  }

  signOut({ session }: Caller): void {
    if (session !== null) this.#sessions.end(session);
  }

  /** Whether a name is one of a person; what else is typed as a name may be a passphrase. */
  isPerson(name: string): boolean {
    return this.#file.list().people.some((one) => one.name === name);
  }

  /** Whether somebody may note what is done, be it that they are not here now; anybody, while nobody has to sign in. */
  mayWork(name: string): boolean {
    return this.#unlessDamaged(
      (list) =>
        !this.#arePeopleWanted(list) ||
        list.people.some((one) => one.name === name && one.rights.includes('work')),
    );
  }

  // ---- people ----

  people(): KnownPerson[] {
    return this.#file.list().people.map(({ name, rights }) => ({ name, rights }));
  }

  /**
   * Sets a person up, with a passphrase, or changes their rights or passphrase, which ends their sessions.
   * With `keepsOne` somebody who may set up people must be left: with the first, or after this. With `over` the
   * passphrase must still be kept like this: another set meanwhile stays.
   * @throws AccessRefused `passphrase-weak`, `person-unknown` (a new one without a passphrase), `nobody-keeps`,
   * `sign-in-refused` (where it is kept like something else than `over`), `access-busy`
   */
  async setPerson(
    name: string,
    {
      rights,
      passphrase,
      keepsOne = false,
      over,
    }: {
      rights?: readonly Right[] | undefined;
      passphrase?: string | undefined;
      keepsOne?: boolean;
      over?: string;
    },
    by: string,
  ): Promise<KnownPerson> {
    const weak = passphrase === undefined ? null : weakness(passphrase, name);
    if (weak !== null) throw new AccessRefused('passphrase-weak', weak);
    const hash = passphrase === undefined ? undefined : await hashOf(passphrase);
    let rightsNow: Right[] = [];
    this.#change(
      ({ people, ...rest }) => {
        const before = people.find((one) => one.name === name);
        if (over !== undefined && before?.passphrase !== over)
          throw new AccessRefused('sign-in-refused', 'the passphrase until now is another');
        const kept = hash ?? before?.passphrase;
        if (kept === undefined)
          throw new AccessRefused('person-unknown', `${name} is not set up, and would need a passphrase`);
        rightsNow = rightsSchema.parse(rights ?? before?.rights ?? []);
        const person = { name, rights: rightsNow, passphrase: kept };
        const after =
          before === undefined
            ? [...people, person]
            : people.map((one) => (one.name === name ? person : one));
        if (keepsOne) refuseNobodyKeeps(after);
        return { ...rest, people: after };
      },
      () => ({ by, kind: 'person', name, may: rightsNow.join(',') }),
    );
    return { name, rights: rightsNow };
  }

  /**
   * A person's own change of passphrase: whether the old one was right, or how long to wait. All their sessions end.
   * @throws AccessRefused `passphrase-weak`
   */
  async changePassphrase(
    name: string,
    old: string,
    passphrase: string,
    address: string,
  ): Promise<boolean | { waitMs: number }> {
    const own = await this.#compared(name, address, () => this.#own(name, old, address));
    if (own === null) return false;
    if (typeof own === 'object') return own;
    try {
      // Hashing takes long: a keeper may set another meanwhile, so that a thief of this one is shut out.
      await this.setPerson(name, { passphrase, over: own }, name);
      return true;
    } catch (error) {
      if (error instanceof AccessRefused && error.code === 'sign-in-refused') return false;
      throw error;
    }
  }

  /**
   * Removes a person: their sessions and tokens end.
   * @throws AccessRefused `person-unknown`, `nobody-keeps`
   */
  removePerson(name: string, by: string, { keepsOne = false } = {}): void {
    this.#change(
      ({ people, tokens, ...rest }) => {
        const after = people.filter((one) => one.name !== name);
        if (after.length === people.length)
          throw new AccessRefused('person-unknown', `there is no person ${name}`);
        if (keepsOne) refuseNobodyKeeps(after);
        return { ...rest, people: after, tokens: tokens.filter(({ person }) => person !== name) };
      },
      () => ({ by, kind: 'person', name, may: null }),
    );
  }

  // ---- tokens of scripts ----

  tokens(): Token[] {
    return this.#file
      .list()
      .tokens.map(({ endsMs, sha256: _, ...token }) => ({ ...token, ends: isoTime(endsMs) }));
  }

  /** Gives its secret. One of the same name and person ends. */
  addToken(person: string, token: { name: string; rights: readonly Right[]; days: number }): string {
    const secret = newSecret();
    const { name, days } = token;
    const endsMs = this.#nowMs() + days * 24 * 3_600_000;
    const kept = { name, person, rights: [...token.rights], endsMs, sha256: sha256Of(secret) };
    this.#change(
      ({ tokens, ...rest }) => ({ ...rest, tokens: [...tokens.filter(isOther(person, name)), kept] }),
      () => ({ by: person, kind: 'token', name: `${person}/${name}`, may: token.rights.join(',') }),
    );
    return secret;
  }

  /** @throws AccessRefused `token-unknown` */
  removeToken(person: string, name: string, by: string): void {
    if (this.#file.list().tokens.every(isOther(person, name)))
      throw new AccessRefused('token-unknown', `${person} has no token ${name}`);
    this.#change(
      ({ tokens, ...rest }) => ({ ...rest, tokens: tokens.filter(isOther(person, name)) }),
      () => ({
        by,
        kind: 'token',
        name: `${person}/${name}`,
        may: null,
      }),
    );
  }

  // ---- devices ----

  /**
   * Whether devices have to name themselves.
   * @throws AccessError
   */
  get areDevicesWanted(): boolean {
    return this.#areDevicesWanted(this.#file.list());
  }

  /** The device of a name and a secret; null where there is none. */
  device(name: string | undefined, secret: string | undefined): KnownDevice | null {
    const device = this.#file.list().devices.find((one) => one.name === name);
    return device !== undefined && secret !== undefined && isSame(device.sha256, sha256Of(secret))
      ? device
      : null;
  }

  /** Whether what somebody gives for a name is the secret of a device. */
  isDeviceSecret(text: string | undefined): boolean {
    if (text === undefined) return false;
    const sha256 = sha256Of(text);
    return this.#file.list().devices.some((one) => isSame(one.sha256, sha256));
  }

  publishers(): Publisher[] {
    return this.#file.list().devices.map(({ name, site }) => ({ name, site }));
  }

  /** Sets a device up, or gives it another secret; gives that. Its site stays as it was where none is given. */
  setPublisher(name: string, wanted: string | null | undefined, by: string): string {
    const known = this.publishers().find((one) => one.name === name);
    const site = wanted === undefined ? (known?.site ?? null) : wanted;
    const secret = newSecret();
    const device = { name, site, sha256: sha256Of(secret) };
    this.#change(
      ({ devices, ...rest }) => ({
        ...rest,
        devices: [...devices.filter((one) => one.name !== name), device],
      }),
      () => ({ by, kind: 'device', name, may: site ?? 'any site' }),
    );
    return secret;
  }

  /** @throws AccessRefused `publisher-unknown` */
  removePublisher(name: string, by: string): void {
    if (this.publishers().every((one) => one.name !== name))
      throw new AccessRefused('publisher-unknown', `no device ${name} is set up`);
    this.#change(
      ({ devices, ...rest }) => ({ ...rest, devices: devices.filter((one) => one.name !== name) }),
      () => ({ by, kind: 'device', name, may: null }),
    );
  }

  // ---- daemons that forward ----

  /** The forwarder of an `Authorization` header; null where there is none. */
  forwarder(authorization: string | undefined): KnownForwarder | null {
    const [, secret] = /^Bearer +([\w-]+)$/i.exec(authorization ?? '') ?? [];
    if (secret === undefined) return null;
    const sha256 = sha256Of(secret);
    return this.#file.list().forwarders.find((one) => isSame(one.sha256, sha256)) ?? null;
  }

  forwarders(): { name: string; sites: readonly string[] }[] {
    return this.#file.list().forwarders.map(({ name, sites }) => ({ name, sites }));
  }

  /** Whether some forwarder may bring a site; a list that cannot be read says nothing. */
  isForwarded(site: string): boolean {
    return this.#unlessDamaged((list) => list.forwarders.some(({ sites }) => sites.includes(site)));
  }

  /**
   * Sets up a daemon that may forward sites, or gives it another secret; gives that. Its sites stay as they were where
   * none are given.
   * @throws AccessRefused `forwarder-unknown` (a new one without sites), `site-of-another`
   */
  setForwarder(name: string, wanted: readonly string[] | undefined, by: string): string {
    const secret = newSecret();
    let sites: readonly string[] = [];
    this.#change(
      ({ forwarders, ...rest }) => {
        const others = forwarders.filter((one) => one.name !== name);
        sites = wanted ?? forwarders.find((one) => one.name === name)?.sites ?? [];
        if (sites.length === 0)
          throw new AccessRefused('forwarder-unknown', `${name} is not set up, and would need a site`);
        const other = others.find((one) => one.sites.some((site) => sites.includes(site)));
        if (other !== undefined)
          throw new AccessRefused('site-of-another', `${other.name} forwards a site of these already`);
        return { ...rest, forwarders: [...others, { name, sites: [...sites], sha256: sha256Of(secret) }] };
      },
      () => ({ by, kind: 'forwarder', name, may: sites.join(',') }),
    );
    return secret;
  }

  /** @throws AccessRefused `forwarder-unknown` */
  removeForwarder(name: string, by: string): void {
    if (this.forwarders().every((one) => one.name !== name))
      throw new AccessRefused('forwarder-unknown', `no forwarder ${name} is set up`);
    this.#change(
      ({ forwarders, ...rest }) => ({ ...rest, forwarders: forwarders.filter((one) => one.name !== name) }),
      () => ({ by, kind: 'forwarder', name, may: null }),
    );
  }

  // ---- what the history has of it ----

  /** Changes that stand in the history of no site yet. */
  unnoted(): AccessList['unnoted'] {
    return this.#file.list().unnoted;
  }

  noted(changes: AccessList['unnoted']): void {
    this.#file.noted(changes);
  }

  /** @throws AccessRefused `no-room`, `access-busy` */
  #change(how: Parameters<AccessFile['change']>[0], noted: () => { by: string } & AccessChange): void {
    try {
      this.#file.change(
        (list) => {
          const changed = how(list);
          for (const kind of ['people', 'tokens', 'devices', 'forwarders'] as const)
            if (changed[kind].length > Math.max(MOST[kind], list[kind].length))
              throw new AccessRefused(
                'no-room',
                `there are ${MOST[kind]} ${kind} already; remove some first`,
              );
          return changed;
        },
        () => ({ atMs: this.#nowMs(), ...noted() }),
      );
    } catch (error) {
      if (error instanceof LockHeld) throw new AccessRefused('access-busy', error.message);
      throw error;
    }
  }
}

/** The whole list is read and written at every change, and gone through for every connection of a device. */
const MOST = { people: 500, tokens: 2000, devices: 5000, forwarders: 500 };

function refuseNobodyKeeps(people: readonly { rights: readonly Right[] }[]): void {
  if (people.some(({ rights }) => rights.includes('keep'))) return;
  throw new AccessRefused('nobody-keeps', 'one person at least must have the right keep');
}

const isOther =
  (person: string, name: string) =>
  (token: { person: string; name: string }): boolean =>
    token.person !== person || token.name !== name;

/** Of two hashes as they are kept. */
const isSame = (a: string, b: string): boolean => timingSafeEqual(Buffer.from(a), Buffer.from(b));
