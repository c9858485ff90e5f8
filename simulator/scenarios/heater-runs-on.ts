import { batch, REACT_AT } from '../batch.ts';

export const heaterRunsOn = batch({
  description: 'the thermostat sticks in the reaction; the liquid boils until the heat is switched off',
  reactMinutes: 66,
  settleHours: 24.2,
  events: [
    { atMinutes: REACT_AT + 18, do: 'thermostat', vessel: 'r1', stuck: true },
    { atMinutes: REACT_AT + 42, do: 'set-point', vessel: 'r1', celsius: null },
  ],
});
