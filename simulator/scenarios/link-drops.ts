import { batch, REACT_AT } from '../batch.ts';

export const linkDrops = batch({
  description: 'the reactor’s device loses its network for 10 minutes and then sends what it kept',
  reactMinutes: 66,
  settleHours: 24.2,
  events: [
    { atMinutes: REACT_AT + 20, do: 'link', device: 'r1-node', up: false },
    { atMinutes: REACT_AT + 30, do: 'link', device: 'r1-node', up: true },
  ],
});
