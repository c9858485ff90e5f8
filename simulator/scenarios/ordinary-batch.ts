import { batch } from '../batch.ts';

export const ordinaryBatch = batch({
  description: 'a batch without trouble, from cold oil to filtered fuel after a day of settling',
  reactMinutes: 66,
  settleHours: 24.2,
});
