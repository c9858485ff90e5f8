/** What the reader chooses for this browser. */
export const DISPLAY = {
  temperature: 'Temperature',
  clock: 'Clock',
  hours: { '24': '24 h', '12': '12 h' },
  volume: 'Volume',
  volumes: { L: 'L', gal: 'US gal' },
  height: 'Altitude',
  heights: { m: 'm', ft: 'ft' },
  theme: 'Light or dark',
  themes: { system: 'as the device', light: 'light', dark: 'dark' },
  glycerol: 'What sinks',
  glycerolWords: { glycerol: 'glycerol', glycerine: 'glycerine' },
  name: 'Your name',
  nameHelp: 'Noted beside what you acknowledge and start.',
} as const;
