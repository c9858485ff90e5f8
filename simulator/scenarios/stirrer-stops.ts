import { batch, REACT_AT } from '../batch.ts';

export const stirrerStops = batch({
  description: 'the stirrer stops in the reaction, for 90 seconds and later for 4 minutes',
  reactMinutes: 74,
  settleHours: 24.2,
  events: [
    { atMinutes: REACT_AT + 15, do: 'stir', vessel: 'r1', perMin: 0 },
    { atMinutes: REACT_AT + 16.5, do: 'stir', vessel: 'r1', perMin: 300 },
    { atMinutes: REACT_AT + 30, do: 'stir', vessel: 'r1', perMin: 0 },
    { atMinutes: REACT_AT + 34, do: 'stir', vessel: 'r1', perMin: 300 },
  ],
});
