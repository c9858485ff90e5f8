import { batch, REACT_AT } from '../batch.ts';

export const probeResets = batch({
  description: 'a loose probe reports 85.0, −127 and a spike among good readings',
  reactMinutes: 66,
  settleHours: 24.2,
  events: [
    { atMinutes: 20, do: 'probe', vessel: 'r1', fault: 'power-up', readings: 1 },
    { atMinutes: REACT_AT + 10, do: 'probe', vessel: 'r1', fault: 'unplugged', readings: 3 },
    { atMinutes: REACT_AT + 20, do: 'probe', vessel: 'r1', fault: 'spike', readings: 1 },
    { atMinutes: REACT_AT + 30, do: 'probe', vessel: 'r1', fault: 'power-up', readings: 2 },
  ],
});
