import type { Verdict } from '../pages/oil/oil.ts';

/** Every text of the page that says whether an oil is worth taking. */

export const VERDICT_WORDS: Readonly<Record<Verdict, { say: string; why: string }>> = {
  take: {
    say: 'Take it',
    why: 'Little acid: lye alone makes fuel of it.',
  },
  'more-soap': {
    say: 'Take it, and expect more soap and less fuel',
    why: 'Lye alone will do. It makes soap of the acid, and that has to be washed out.',
  },
  'acid-first': {
    say: 'Acid step or mixing first',
    why: 'Too acid for lye alone: it would set to soap. Esterify it with acid and methanol first, wash it with old glycerol, or mix it with better oil.',
  },
  leave: {
    say: 'Leave it',
    why: 'It can be done with two acid steps or more, and is hardly worth the methanol and the days.',
  },
};

export const OIL_TEXTS = {
  title: 'Is this oil worth taking?',
  lead: 'Titrate a sample beside the jar. Worked out in this browser; nothing is sent.',
  sample: 'The sample',
  titrant: 'Titrated with',
  titrants: { NaOH: 'NaOH', KOH: 'KOH' },
  titrantHelp: 'A reading means nothing without it: 2.4 of NaOH is 3.4 of KOH.',
  titrantWrong: 'Say which one it was.',
  run: (number: number) => `Run ${number}`,
  blank: 'Blank, the solvent alone',
  blankHelp: 'Left out: 0 mL',
  gPerL: 'Strength of the titrant, as weighed',
  gPerLHelp: 'Left out: 1 g/L',
  sampleMl: 'Oil in the sample',
  sampleHelp: 'Left out: 1 mL',
  purity: 'Purity of its lye',
  purityHelp: (percent: number) => `Left out: ${percent} %, as flakes are sold`,
  water: 'Water in the oil',
  waterHelp: 'Left out: not known. 1,000 ppm are 0.1 %.',
  kind: 'Oil or fat',
  more: 'Strength, sample, water, kind of oil',
  tooMuch: 'That is more acid than any oil can have: look at the strength and the sample.',

  verdict: 'Verdict',
  again: 'Titrate again: the runs do not agree',
  waiting: 'Type in what one run took, and which lye was in the titrant.',
  says: (mL: string, titrant: string, acid: string) => `${mL} mL (${titrant}): ${acid} of free fatty acid.`,
  mean: (runs: number, spread: string) => `Mean of ${runs} runs, ${spread} mL apart.`,
  wet: (ppm: string) => `Wet, ${ppm}: dewater it before anything else.`,
  dry: (ppm: string) => `Its water, ${ppm}, is little enough.`,
  waterUnknown: 'Water not known: heat a spoonful; if it crackles, dewater the oil first.',
  mix: (parts: string) => `To mix: one part of it with ${parts} parts or more of oil without acid.`,
  acidStep: (methanol: string, sulphuric: string, each: string) =>
    `The acid step would take ${methanol} of methanol and ${sulphuric} of sulphuric acid for each ${each}. Acid slowly into the stirred liquid, never the reverse.`,

  runs: {
    title: 'The runs disagree',
    torn: (low: string, high: string) =>
      `By the lowest it is ‘${low}’, by the highest ‘${high}’: the runs do not tell which. Titrate again.`,
    apart: (low: string, high: string) =>
      `Between ${low} and ${high} of free fatty acid. Titrate again: a mean of runs so far apart is no measurement.`,
    causes:
      'Usual causes: a sample from a jar that was not shaken (water and acid lie at the bottom), a drop too much in 1 mL of oil, an end point that was not held for half a minute, old titrant. A larger sample, 5 or 10 mL, makes each mistake smaller.',
    limit: (mL: string, percent: string) =>
      `Said from ${mL} mL and ${percent} of the mean on. Common practice, no source.`,
    blank: 'The blank took more than the oil: are the two mixed up? The oil counts as free of acid.',
  },

  each: { L: 'litre', gal: 'US gallon' },
  numbers: (each: string) => `For each ${each} of it`,
  lye: (kind: string) => `Lye (${kind})`,
  lyeNote: (purity: number, base: string, acid: string) =>
    `of ${purity} % purity, as weighed: ${base} base dose and ${acid} for its acid`,
  soap: (kind: string) => `Soap with ${kind}`,
  ffa: 'Free fatty acid, as oleic',
  acidNumber: 'Acid number',
  taken: 'Base that a litre took',
  fuel: 'Fuel, washed and dry, of the oil’s volume',
  yield: 'Yield, ester’s mass by the oil’s',
  lossNote: (percent: number, temperature: string) => `With ${percent} % of methanol, at ${temperature}.`,
  onlyAfter:
    'After an acid step or mixing, titrate again: the numbers for lye, soap and fuel are then other ones.',

  limits: 'Where the limits are',
  limitsRows: (limits: { soap: number; acid: number; leave: number; water: number }) =>
    [
      [
        `Under ${limits.soap} % of free fatty acid: take it`,
        'Common practice, no source. Published limits for a good yield lie lower: 0.5 % (Ma, Clements & Hanna 1998, Trans. ASAE 41:1261), acid value 1 (Freedman et al. 1984, as cited by others).',
      ],
      [
        `From ${limits.soap} to ${limits.acid} %: more soap, less fuel`,
        'Kombe et al. 2013 (Adv. Chem. Eng. Sci. 3(4), doi 10.4236/aces.2013.34031): under 3 % for lye alone.',
      ],
      [
        `From ${limits.acid} to ${limits.leave} %: acid step or mixing first`,
        'Canakci & Van Gerpen 2001 (Trans. ASAE 44:1429, abstract): two acid steps brought greases of 12 and 33 % under 1 %.',
      ],
      [
        `From ${limits.leave} %: leave it`,
        'A choice: over 15 % the trade calls a grease brown (from memory). It has been done, in two acid steps.',
      ],
      [
        `Over ${limits.water} ppm of water: dewater first`,
        'Ma, Clements & Hanna 1998 (Trans. ASAE 41:1261): 0.06 %. The estimates do not see water.',
      ],
    ] as const,

  recipe: 'Make a recipe of it',
  clear: 'Next jar',
  first: 'Local codes and licensed practice come first. Lye solution on skin: running water.',
} as const;
