import { batch } from '../batch.ts';

export const cutShort = batch({
  description: 'settling begins after 35 minutes of reaction, and the fuel goes on after 6 hours',
  reactMinutes: 35,
  // The glycerol takes 20 minutes to drain, which still counts as settling.
  settleHours: 6 - 20 / 60,
});
