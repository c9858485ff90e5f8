import { z } from 'zod';
import { type Thermometer, thermometerSchema } from '../../../shared/wire/thermometers.ts';
import { call, segment } from '../../api.ts';

export const getThermometers = async (): Promise<Thermometer[]> =>
  (await call(z.object({ thermometers: z.array(thermometerSchema) }), 'thermometers')).thermometers;

const pathOf = ({ site, vessel, channel }: Thermometer): string =>
  `vessels/${segment(`${site}:${vessel}`)}/thermometers/${segment(channel)}`;

export const keepCheck = (of: Thermometer, body: object): Promise<unknown> =>
  call(z.unknown(), `${pathOf(of)}/checks`, 'POST', body);

export const withdrawCheck = (of: Thermometer, body: { reason: string; by?: string }): Promise<unknown> =>
  call(z.unknown(), `${pathOf(of)}/withdraw`, 'POST', body);
