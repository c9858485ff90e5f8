import { standardPressureHPa } from '../../../shared/chemistry/atmosphere.ts';
import { methanolBoilingC } from '../../../shared/chemistry/methanol.ts';
import { parseNumber } from '../../units.ts';

/** What of places a person types, and how readings are sent; pure. */

/** What the daemon takes, hPa. */
const LEAST_HPA = 200;
const MOST_HPA = 1100;

export function typedPressureHPa(text: string): number | undefined {
  const typed = parseNumber(text);
  return typed === undefined || typed < LEAST_HPA || typed > MOST_HPA ? undefined : typed;
}

/** Mean pressure at an altitude, and where methanol boils there. */
export function boilsThere(altitudeM: number): { pressureHPa: number; boilingC: number } {
  const pressureHPa = standardPressureHPa({ altitudeM });
  return { pressureHPa, boilingC: methanolBoilingC({ pressureHPa }) };
}

const isLoopback = (host: string): boolean => host === 'localhost' || host === '::1' || /^127\./.test(host);
const isEvery = (host: string): boolean => host === '0.0.0.0' || host === '::';

/** Where a device reaches the broker: as the daemon listens, or by the name that this page was reached by. */
export function brokerFrom(
  listens: { host: string; port: number } | null,
  pageHost: string,
): { host: string; port: number | null; only: 'here' | 'outside' | null } {
  if (listens === null) return { host: 'BROKER', port: null, only: 'outside' };
  const { host, port } = listens;
  if (isLoopback(host)) return { host, port, only: 'here' };
  return { host: isEvery(host) ? pageHost.replace(/^\[|\]$/g, '') : host, port, only: null };
}

/** The line that sends a reading from a shell. */
export const publishLine = (
  { host, port }: { host: string; port: number | null },
  topic: string,
  value: string,
): string => `mosquitto_pub -h ${host}${port === null ? '' : ` -p ${port}`} -q 1 -t ${topic} -m ${value}`;
