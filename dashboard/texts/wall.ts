/** Words of the wall: one vessel, to be read from across the room. */
export const WALL_TEXTS = {
  back: 'Leave the wall view',
  title: (vessel: string, site: string) => `${vessel} at ${site}`,
  calm: 'Nothing is wrong as far as it can be seen from here.',
  aside: 'Alarms that stand and are not told',
  more: (count: number) => (count === 1 ? 'One more alarm stands.' : `${count} more alarms stand.`),
  screen: {
    on: 'The screen is kept on.',
    off: 'This screen may go dark by itself: set the device so that it stays on.',
  },
} as const;
