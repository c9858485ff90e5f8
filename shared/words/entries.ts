import type { OilKind } from '../chemistry/oil-kinds.ts';

/** What is noted by hand, as people read it: on the pages, and in a printed record. */

export const OIL_NAMES: Readonly<Record<OilKind, string>> = {
  soybean: 'soybean',
  rapeseed: 'rapeseed (canola)',
  sunflower: 'sunflower',
  palm: 'palm',
  olive: 'olive',
  coconut: 'coconut',
  tallow: 'tallow',
  lard: 'lard',
  used: 'used frying oil',
};

/** Of each kind of entry what its choices are called. */
export const ENTRY_WORDS = {
  weighing: {
    oil: 'oil',
    methanol: 'methanol',
    catalyst: 'lye',
    'sulphuric-acid': 'sulphuric acid',
    glycerol: 'glycerol',
    fuel: 'fuel',
  },
  volume: {
    fuel: 'fuel',
    oil: 'oil',
    methanol: 'methanol',
    'methanol-recovered': 'methanol recovered',
    glycerol: 'glycerol',
    water: 'water off the oil',
  },
  drained: { glycerol: 'glycerol', water: 'water', 'wash-water': 'wash water' },
  use: { used: 'used', 'given-away': 'given away' },
  method: {
    mist: 'mist',
    bubble: 'bubbles',
    stirred: 'stirred',
    still: 'still water',
    'dry-bed': 'dry bed',
  },
} as const;

export const TEST_WORDS = {
  '3/27': '3/27 test',
  shake: 'Shake test',
  soap: 'Soap titration',
  titration: 'Titration of the oil',
  water: 'Water',
  freezer: 'Freezer test',
  density: 'Density',
  laboratory: 'From a laboratory',
} as const;

export const MOVED_WORDS = { ester: 'what becomes the fuel', glycerol: 'glycerol' } as const;

export const LOT_WORDS = { oil: 'oil', methanol: 'methanol', catalyst: 'lye', 'dry-bed': 'dry bed' } as const;
