import { isolated } from './isolated.ts';

/** Checks of thermometers. */
export const THERMOMETERS = {
  title: 'Thermometers',
  lead: 'A probe that says 2 °C (3.6 °F) too little hides most of what is left to boiling. Ice water and boiling water show how far it is off; what it sends is corrected from then on.',
  none: 'No thermometer has sent anything yet.',
  at: (vessel: string, site: string) => `${vessel} at ${site}`,
  notChecked: 'Not checked: shown as it is sent.',
  checked: (day: string, by: string) => `Checked ${day} by ${isolated(by)}`,
  due: (day: string) => `to be checked again by ${day}`,
  overdue: (day: string) => `Overdue: it was to be checked again by ${day}.`,
  open: 'Check the thermometer',
  openOf: (thermometer: string) => `Check the thermometer: ${thermometer}`,
  how: 'Between batches: each bath for three minutes, until the number stands still. Type what this page shows of the probe then. Ice water: crushed ice, and clean water in the gaps. Boiling water: at a rolling boil, the probe off the bottom.',
  shows: (temperature: string) => `It shows ${temperature} now.`,
  boilsAt: (temperature: string, hPa: string) =>
    `Water boils at ${temperature} here now, at ${hPa} hPa (IAPWS-IF97).`,
  boilsUnknown:
    'At what water boils here is not known: set the altitude of the place, or check it in ice water alone.',
  fields: {
    ice: 'Shown in ice water',
    boiling: 'Shown in boiling water',
    due: 'To be checked again by',
    dueHelp: 'In 12 months, where nothing is said.',
    anyway: 'So far off, and yet it is so, because',
  },
  baths: { ice: 'ice water', boiling: 'boiling water' },
  exact: (bath: string) => `In ${bath} it is right.`,
  high: (bath: string, apart: string) => `In ${bath} it sends ${apart} too much.`,
  low: (bath: string, apart: string) => `In ${bath} it sends ${apart} too little.`,
  becomes: (shown: string, then: string) => `What is shown as ${shown} now will be ${then}.`,
  large: (apart: string) => `More than ${apart} off: look at the bath and the probe first.`,
  tooLarge: (apart: string) =>
    `More than ${apart} off is another bath, another unit or a broken probe, and is not corrected.`,
  nothing: 'What is made of it shows as you type.',
  wrong: (field: string) => `${field}: a number, please, such as 0.4.`,
  wrongDay: 'A day, please.',
  wants: 'One of the two baths at least, please.',
  name: 'Your name',
  keep: 'Keep the correction',
  kept: 'Kept: it is corrected from now on.',
  cancel: 'Cancel',
  withdraw: 'Correct it no more',
  withdrawOf: (thermometer: string) => `Correct it no more: ${thermometer}`,
  withdrawHelp: 'As where another probe takes its place.',
  reason: 'Why',
  withdrawn: 'It is shown as it is sent from now on.',
} as const;
