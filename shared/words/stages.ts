import type { Priority, Stage } from '../wire/names.ts';

/** What the words of the wire are called where people read them: on the pages, and in a printed record. */

export const STAGE_NAMES: Readonly<Record<Stage, string>> = {
  idle: 'no batch',
  warm: 'heat the oil',
  'dry-oil': 'dewater',
  prewash: 'prewash with glycerol',
  esterify: 'acid step',
  methoxide: 'mix methoxide',
  dose: 'add methoxide',
  react: 'reaction',
  settle: 'settling',
  drain: 'drain',
  recover: 'recover methanol',
  wash: 'wash',
  'dry-fuel': 'dry the fuel',
  filter: 'filter',
  test: 'test',
  finished: 'finished',
  rejected: 'rejected',
  void: 'opened by mistake',
};

export const PRIORITY_WORDS: Readonly<Record<Priority, string>> = {
  critical: 'Danger',
  high: 'Warning',
  medium: 'Take care',
  low: 'Note',
};

const MISSING: Readonly<Record<string, { name: string; unit: string }>> = {
  'reaction-minutes': { name: 'Reaction time counted', unit: 'min' },
  'methoxide-minutes': { name: 'Methoxide mixed', unit: 'min' },
  'settle-hours': { name: 'Settling time counted', unit: 'h' },
  'below-boiling': { name: 'Below boiling', unit: '°' },
  'wash-clear': { name: 'Soap left', unit: 'ppm' },
  'fuel-dry': { name: 'Water in the fuel', unit: 'ppm' },
  'shake-parts-clean': { name: 'shake test parts clean', unit: '' },
  conversion: { name: '3/27', unit: '' },
  titration: { name: 'titration after the acid', unit: '' },
};

/** What somebody has to look at before a stage. */
const TO_SEE: Readonly<Record<string, string>> = {
  'drain-valve-shut': 'The drain valve is shut',
  'level-over-element': 'The liquid stands over the heating element',
  'vent-open': 'The vent is open',
  'pump-primed': 'The pump is primed',
  'water-at-hand': 'Running water is at hand',
  'extinguisher-at-hand': 'The extinguisher is at hand: powder, CO2 or alcohol-resistant foam',
  'gear-on': 'Gloves, goggles, apron are on',
  'someone-told': 'Somebody knows that you begin',
  'condenser-running': 'The condenser runs, and its end is cold',
  'heat-off': 'The heat is off',
  'oil-dewatered': 'The oil is dewatered',
  'free-water-drained': 'Free water is drained off',
  'below-boiling': 'The oil is well below methanol’s boiling point: look at the thermometer',
  'methoxide-clear': 'The methoxide is clear, with no grains on the bottom',
  'methanol-off': 'Methanol was washed out or recovered',
  'wash-clear': 'The wash water stays clear',
};

export const isToSee = (what: string): boolean => Object.hasOwn(TO_SEE, what);

export const toSee = (what: string): string => TO_SEE[what] ?? what.replaceAll('-', ' ');

export const missingName = (what: string): { name: string; unit: string } =>
  MISSING[what] ?? { name: what.replaceAll('-', ' '), unit: '' };
