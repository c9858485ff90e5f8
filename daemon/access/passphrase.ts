import { randomBytes, scrypt, timingSafeEqual } from 'node:crypto';
import { MOST_PASSPHRASE } from '../../shared/wire/access.ts';

/** Cost of a hash: 16 MiB and some tenths of a second on a small computer (OWASP Password Storage: N=2^14, r=8, p=5). */
const COST = { N: 2 ** 14, r: 8, p: 5 };
const MOST_MEMORY = 64 * 1024 * 1024;
const SALT_BYTES = 16;
const HASH_BYTES = 32;

/** Shorter ones are guessed (NIST SP 800-63B: 8 at least; OWASP ASVS 4.0.3, 2.1.1: 12). */
const LEAST_LENGTH = 12;

/** The commonest of those that are long enough, as they come to mind: no source. Compared without case and blanks. */
const COMMONEST = new Set(
  `123456789012 1234567890123 12345678901234 123123123123 111111111111 000000000000 121212121212 112233445566
  password1234 password12345 password123456 passwordpassword passw0rd1234 mypassword123 qwertyuiopas qwerty123456
  qwertyuiop123 qwertyuiop[] qwertyqwerty 1q2w3e4r5t6y 1qaz2wsx3edc abcdefghijkl abcdefgh1234 abc123abc123
  letmeinletmein iloveyou1234 iloveyouiloveyou welcome12345 welcome123456 administrator admin1234567 adminadmin123
  changeme1234 changemechangeme correcthorsebatterystaple trustno1trustno1 sunshine1234 football1234 princess1234
  dragondragon monkeymonkey superman1234 biodieselbiodiesel biodiesel123 biodiesel1234 esterwatch123 esterwatchesterwatch`
    .split(/\s+/)
    .filter((one) => one !== ''),
);

/** Why a passphrase will not do, in words; null where it will. Length is all that is asked for, and that nobody guesses it. */
export function weakness(passphrase: string, name: string): string | null {
  const plain = passphrase.toLowerCase().replace(/\s+/g, '');
  if ([...passphrase].length < LEAST_LENGTH) return `a passphrase has ${LEAST_LENGTH} characters or more`;
  if (passphrase.length > MOST_PASSPHRASE) return `a passphrase has ${MOST_PASSPHRASE} characters at most`;
  if (new Set(plain).size < 5 || COMMONEST.has(plain)) return 'that is among the first that anybody tries';
  const own = name.toLowerCase().replace(/\s+/g, '');
  if (own.length >= 4 && plain.split(own).join('').length < LEAST_LENGTH / 2)
    return 'it is little more than the name';
  return null;
}

/** As it is kept: the parameters, salt and hash of scrypt (RFC 7914). */
export async function hashOf(passphrase: string): Promise<string> {
  const salt = randomBytes(SALT_BYTES);
  const hash = await derive(passphrase, salt, COST);
  return ['scrypt', COST.N, COST.r, COST.p, salt.toString('base64url'), hash.toString('base64url')].join('$');
}

/** Whether a passphrase is the one that was kept. */
export async function isPassphrase(passphrase: string, kept: string): Promise<boolean> {
  const [, n, r, p, salt, hash] = kept.split('$');
  const wanted = Buffer.from(hash!, 'base64url');
  const cost = { N: Number(n), r: Number(r), p: Number(p) };
  return timingSafeEqual(await derive(passphrase, Buffer.from(salt!, 'base64url'), cost), wanted);
}

/** What an unknown name is compared with, so that it takes as long as a known one. */
export const NOBODYS = `scrypt$${COST.N}$${COST.r}$${COST.p}$${'A'.repeat(22)}$${'A'.repeat(43)}`;

const derive = (passphrase: string, salt: Buffer, cost: typeof COST): Promise<Buffer> =>
  new Promise((resolve, reject) => {
    // The same characters, however they were typed (NIST SP 800-63B, 5.1.1.2).
    const text = passphrase.normalize('NFKC');
    scrypt(text, salt, HASH_BYTES, { ...cost, maxmem: MOST_MEMORY }, (error, hash) =>
      error ? reject(error) : resolve(hash),
    );
  });
