import type { Stage } from '../wire/names.ts';

/** What to mind in a stage, said when it matters. */
export interface StageCaution {
  text: string;
  source: string;
}

/** The source of what has none. */
export const PRACTICE = 'common practice, no source';
const NFPA_30 = 'NFPA 30-2003, 1.7.3, as cited: flash point 11 to 12 °C';
const PENN_STATE = 'Penn State Extension, Biodiesel Safety and Best Management Practices';
const ATTRA = 'ATTRA (NCAT)';

const caution = (text: string, source: string = PRACTICE): StageCaution => ({ text, source });

const METHANOL = caution(
  'Methanol burns with a flame that is hard to see. Its vapour is heavy and poisonous, and smell is no warning. Outdoors or with strong ventilation, no spark and no flame.',
  NFPA_30,
);
const BONDED = caution(
  'Bond and earth drum, pump and can: static lights methanol. Relays, pumps and this tool’s own boxes spark: keep them out of the vapour.',
);
const GEAR = caution(
  'Butyl gloves, goggles and face shield, apron, long sleeves. Running water at hand.',
  PENN_STATE,
);
const NO_MASK = caution('Cartridge masks do not hold methanol: only supplied air does.', ATTRA);
const LYE_ON_SKIN = caution(
  'Lye on skin or in eyes: running water for 15 min, then a doctor. Vinegar is for the floor only.',
);
const METHANOL_IN_BODY = caution(
  'Methanol swallowed, breathed or on much skin: to a doctor now, even if well. Harm comes hours later.',
);
const FIRE = caution(
  'Fire: dry powder, CO2 or alcohol-resistant foam. Oily rags heat themselves: into water, outdoors.',
);
const LOCAL_CODES = caution('Local codes and licensed practice come first.');

const WATER_ERUPTS = caution(
  'Settle and drain free water first, fill two thirds at most, and go slowly from 90 to 105 °C (194 to 221 °F): water below erupts.',
);
const BARE_ELEMENT = caution('Heat off before the element is bare: bare in methanol vapour it lights it.');
const IGNITABLE = caution(
  'Glycerol still holds methanol and can be ignitable waste (in the USA below a flash point of 60 °C). Mark the can, and ask the waste authority before it goes anywhere.',
  '40 CFR 261.21, from memory',
);

const IN_METHANOL = [METHANOL, GEAR, NO_MASK, METHANOL_IN_BODY, FIRE];

/** Wherever methanol or lye is handled, whatever the stage. */
const WITH_METHANOL: readonly StageCaution[] = [LYE_ON_SKIN, BONDED, ...IN_METHANOL];

const CAUTIONS: Partial<Record<Stage, readonly StageCaution[]>> = {
  warm: [FIRE],
  'dry-oil': [WATER_ERUPTS, FIRE],
  prewash: [caution('Old glycerol holds methanol and lye: as with methoxide.'), ...IN_METHANOL],
  esterify: [caution('Acid slowly into the stirred liquid, never the reverse.'), ...IN_METHANOL],
  methoxide: [
    caution(
      'Lye into methanol, in portions; never methanol onto lye. Leave the can vented while it is warm. No aluminium, zinc or brass.',
    ),
    LYE_ON_SKIN,
    BONDED,
    ...IN_METHANOL,
  ],
  dose: [
    caution('Methoxide only into oil below boiling, slowly, with the stirrer on.'),
    caution(
      'After a stop do not start it again over methoxide that has not reacted: heat off, let it cool, then short bursts.',
    ),
    LYE_ON_SKIN,
    BONDED,
    ...IN_METHANOL,
  ],
  react: [
    caution(
      'After a stop do not start it again over methoxide that has not reacted: heat off, let it cool, then short bursts.',
    ),
    ...IN_METHANOL,
  ],
  settle: [METHANOL],
  drain: [BARE_ELEMENT, IGNITABLE, METHANOL, GEAR],
  recover: [caution('Condenser running before heat. Outdoors, no flame.'), IGNITABLE, BONDED, ...IN_METHANOL],
  wash: [
    caution('Gently at first: shaken hard, soap makes a mayonnaise of it.'),
    caution(
      'Wash water holds soap, lye and methanol: it has rules of its own, and does not go into a stream.',
    ),
    caution('An acid wash splits soap to free acid: check the acid value afterwards.'),
    GEAR,
  ],
  'dry-fuel': [
    caution(
      'Fuel that was neither washed nor freed of methanol gives off its vapour when it is dried: recover it into a condenser first.',
    ),
    WATER_ERUPTS,
    BARE_ELEMENT,
    FIRE,
  ],
  filter: [FIRE],
  finished: [
    caution(
      'The fuel is not certified by field tests. Taxes, permits and warranties are the maker’s to ask about.',
    ),
  ],
  rejected: [caution('Until somebody says that the vessel is empty, methanol is taken to be in it.')],
};

/** The gravest first. Every list ends with whose word counts more. */
export const stageCautions = (stage: Stage): StageCaution[] => [...(CAUTIONS[stage] ?? []), LOCAL_CODES];

/** Of several stages at once, each caution once; `withMethanol` where there is some, whatever the stage. None: empty. */
export function cautionsOf(stages: readonly Stage[], withMethanol: boolean): StageCaution[] {
  const all = [...stages.flatMap((stage) => CAUTIONS[stage] ?? []), ...(withMethanol ? WITH_METHANOL : [])];
  if (all.length === 0) return [];
  return [...new Map([...all, LOCAL_CODES].map((one) => [one.text, one])).values()];
}
