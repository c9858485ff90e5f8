import { z } from 'zod';
import { vesselSchema } from '../../../shared/wire/api.ts';
import type { Role } from '../../../shared/wire/names.ts';
import {
  type Device,
  devicesSchema,
  healthSchema,
  type Senders,
  type SiteAnswer,
  siteSchema,
} from '../../../shared/wire/set-up.ts';
import { call } from '../../api.ts';

const segment = encodeURIComponent;

export const getSites = async (): Promise<SiteAnswer[]> =>
  (await call(z.object({ sites: z.array(siteSchema) }), 'sites')).sites;

export const getDevices = async (): Promise<Device[]> => (await call(devicesSchema, 'devices')).devices;

export const getSenders = async (): Promise<Senders> => (await call(devicesSchema, 'devices')).senders;

export type Health = z.infer<typeof healthSchema>;

/** One that is not ready is an answer, too. */
export const getHealth = (): Promise<Health> =>
  call(healthSchema, 'health', 'GET', undefined, { fine: [503] });

export const putVessel = (
  vessel: string,
  body: { role?: Role; empty?: true; by?: string },
): Promise<unknown> => call(vesselSchema, `vessels/${segment(vessel)}`, 'PUT', body);

export const sendTestWarning = (site: string, body: { by?: string; mark: string }): Promise<unknown> =>
  call(z.unknown(), `sites/${segment(site)}/test-warning`, 'POST', body);
