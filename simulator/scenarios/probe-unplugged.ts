import { batch, REACT_AT } from '../batch.ts';

export const probeUnplugged = batch({
  description: 'no temperature comes for 3 minutes of the reaction',
  reactMinutes: 70,
  settleHours: 24.2,
  events: [
    { atMinutes: REACT_AT + 20, do: 'probe', vessel: 'r1', fault: 'silent' },
    { atMinutes: REACT_AT + 23, do: 'probe', vessel: 'r1', fault: null },
  ],
});
