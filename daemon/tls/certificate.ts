import { createPublicKey, X509Certificate } from 'node:crypto';
import { existsSync, readFileSync, statSync } from 'node:fs';
import { hostname, networkInterfaces } from 'node:os';
import { join } from 'node:path';
import { createSecureContext } from 'node:tls';
import { type Clock, every, type Timer } from '../clock.ts';
import { UsageError } from '../commands/usage.ts';
import { writePrivateText } from '../private-file.ts';

/** PEM files of a certificate, with what leads up to it, and its key. */
export interface CertificateFiles {
  certificate: string;
  key: string;
}

export interface KeyPair {
  cert: string;
  key: string;
}

/** Whether the files have changed is looked at so often, ms. */
const LOOK_MS = 10_000;
/** Whether one of its own making comes to its end is looked at so often, ms. */
const RENEW_MS = 24 * 3_600_000;

/** What the listeners prove by who they are; followed where its files change. */
export class Certificate {
  readonly #files: CertificateFiles;
  readonly #clock: Clock;
  readonly #timers: Timer[];
  readonly #onChange: ((pair: KeyPair) => void)[] = [];
  #stamp: string;
  #pair: KeyPair;

  /**
   * `renew` makes the files anew where that is due.
   * @throws UsageError where the files cannot be read or do not belong together.
   */
  constructor(
    files: CertificateFiles,
    { clock, warn, renew }: { clock: Clock; warn: (message: string) => void; renew?: () => Promise<unknown> },
  ) {
    this.#files = files;
    this.#clock = clock;
    this.#stamp = stampOf(files);
    this.#pair = readPair(files);
    // Browsers ask before they go on past it and devices stay away: still better than that nobody watches.
    if (this.#hasEnded(this.#pair))
      warn(`${files.certificate} has ended: whoever asks for it is warned or stays away`);
    const failed = (error: Error) => warn(`no new certificate: ${error.message}`);
    this.#timers = [
      every(clock, LOOK_MS, () => this.#look(warn)),
      every(clock, RENEW_MS, () => void renew?.().catch(failed)),
    ];
  }

  get pair(): KeyPair {
    return this.#pair;
  }

  /** SHA-256 of the certificate, to compare with what a browser shows. */
  get fingerprint(): string {
    return new X509Certificate(this.#pair.cert).fingerprint256;
  }

  onChange(call: (pair: KeyPair) => void): void {
    this.#onChange.push(call);
  }

  close(): void {
    for (const timer of this.#timers) timer.cancel();
  }

  #hasEnded({ cert }: KeyPair): boolean {
    return Date.parse(new X509Certificate(cert).validTo) < this.#clock.wallMs();
  }

  /** One that cannot be used is told of once, and the one before stays. */
  #look(warn: (message: string) => void): void {
    try {
      const stamp = stampOf(this.#files);
      if (stamp === this.#stamp) return;
      this.#stamp = stamp;
      const pair = readPair(this.#files);
      if (this.#hasEnded(pair) && !this.#hasEnded(this.#pair))
        throw new Error(`${this.#files.certificate} has ended`);
      this.#pair = pair;
      for (const call of this.#onChange) call(this.#pair);
    } catch (error) {
      warn(`the certificate stays as it was: ${(error as Error).message}`);
    }
  }
}

function stampOf({ certificate, key }: CertificateFiles): string {
  return [certificate, key]
    .map((file) => {
      try {
        const { mtimeMs, size, ino } = statSync(file);
        return `${ino} ${mtimeMs} ${size}`;
      } catch {
        return 'none';
      }
    })
    .join();
}

function readPair({ certificate, key }: CertificateFiles): KeyPair {
  try {
    const pair = { cert: readFileSync(certificate, 'utf8'), key: readFileSync(key, 'utf8') };
    createSecureContext(pair);
    return pair;
  } catch (error) {
    throw new UsageError(`certificate ${certificate}, key ${key}: ${(error as Error).message}`);
  }
}

/** Browsers refuse longer ones, days (CA/Browser Forum Baseline Requirements, 6.3.2: 398 at most until 2026). */
const OWN_DAYS = 397;
const RENEWED_DAYS = 30;
const DAY_MS = 24 * 3_600_000;

/**
 * A certificate of the daemon's own for a first try, kept in the data folder: for this machine's names and addresses.
 * No browser trusts it unasked. Made anew a month before its end, for another name, and once it has an address where
 * it had none but loopback's; not for another address, since those change by themselves, and whoever compares
 * fingerprints would stay away each time. The key stays.
 */
export async function ownCertificate(
  dataFolder: string,
  publicName: string | undefined,
  nowMs: number,
): Promise<CertificateFiles> {
  const files = {
    certificate: join(dataFolder, 'own-certificate.pem'),
    key: join(dataFolder, 'own-key.pem'),
  };
  const names = ownNames(publicName);
  if (existsSync(files.certificate) && existsSync(files.key)) {
    const known = new X509Certificate(readFileSync(files.certificate));
    const isLong = Date.parse(known.validTo) - nowMs > RENEWED_DAYS * DAY_MS;
    const isReached = names.ip.every(isLoopback) || !addressesOf(known).every(isLoopback);
    if (isLong && isReached && names.dns.every((name) => known.checkHost(name))) return files;
  }
  // Only where it is needed: it is large.
  const { generate } = await import('selfsigned');
  const kept = keptPair(files.key);
  const { cert, private: key } = await generate([{ name: 'commonName', value: 'esterwatch' }], {
    keyType: 'ec',
    curve: 'P-256',
    algorithm: 'sha256',
    ...kept,
    notBeforeDate: new Date(nowMs - DAY_MS),
    notAfterDate: new Date(nowMs + OWN_DAYS * DAY_MS),
    extensions: [
      { name: 'basicConstraints', cA: false, critical: true },
      { name: 'keyUsage', digitalSignature: true, critical: true },
      { name: 'extKeyUsage', serverAuth: true },
      {
        name: 'subjectAltName',
        altNames: [
          ...names.dns.map((value) => ({ type: 2 as const, value })),
          ...names.ip.map((ip) => ({ type: 7 as const, ip })),
        ],
      },
    ],
  });
  // Only where it is another: whoever looks at the files meanwhile must not see two that do not belong together.
  if (kept.keyPair === undefined) writePrivateText(files.key, key);
  writePrivateText(files.certificate, cert);
  return files;
}

const isLoopback = (ip: string): boolean => /^127\.|^(0*:)*0*1$/.test(ip);

/** The addresses that a certificate is for, as Node.js writes them. */
const addressesOf = ({ subjectAltName = '' }: X509Certificate): string[] =>
  [...subjectAltName.matchAll(/IP Address:([\da-f.:]+)/gi)].map(([, ip]) => ip!);

/** The pair of a key that was made before, to be gone on with; nothing where there is none that can be used. */
function keptPair(file: string): { keyPair?: { privateKey: string; publicKey: string } } {
  try {
    const privateKey = readFileSync(file, 'utf8');
    const publicKey = createPublicKey(privateKey).export({ type: 'spki', format: 'pem' }) as string;
    return { keyPair: { privateKey, publicKey } };
  } catch {
    return {};
  }
}

function ownNames(publicName: string | undefined): { dns: string[]; ip: string[] } {
  const own = hostname().toLowerCase();
  const isName = /^[a-z0-9]([a-z0-9.-]*[a-z0-9])?$/.test(own);
  const addresses = Object.values(networkInterfaces()).flatMap((all) =>
    (all ?? []).filter(({ family }) => family === 'IPv4').map(({ address }) => address),
  );
  return {
    dns: [
      ...new Set(['localhost', ...(isName ? [own] : []), ...(publicName === undefined ? [] : [publicName])]),
    ],
    // Without those that hold on one link only; of IPv6 loopback alone: which others are for a day only (RFC 8981) cannot be told from here.
    ip: [...new Set(['127.0.0.1', '::1', ...addresses.filter((address) => !address.startsWith('169.254.'))])],
  };
}
