/** Makes docs/chemistry.md of what the formulas and tables of shared/chemistry say of themselves. */
import { writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import {
  PRESSURE_SPREAD_HPA,
  SEA_LEVEL_HPA,
  STATION_DIFFERENCE_HPA,
} from '../shared/chemistry/atmosphere.ts';
import { BASE_KINDS, BASES } from '../shared/chemistry/bases.ts';
import { FORMULAS } from '../shared/chemistry/catalogue.ts';
import type { ChoiceInput, FormulaText, NumberInput } from '../shared/chemistry/formula.ts';
import {
  FUEL_PROPERTIES,
  FUEL_STANDARD_NAMES,
  FUEL_STANDARDS,
  FUEL_STANDARDS_NOTE,
  type FuelLimit,
  type FuelProperty,
  type FuelStandard,
} from '../shared/chemistry/fuel-limits.ts';
import { NEXT_PORTION_BELOW_C } from '../shared/chemistry/methoxide.ts';
import { OIL_KINDS } from '../shared/chemistry/oil-kinds.ts';
import { OILS, oilDensityKgPerM3, oilMolarMassGPerMol } from '../shared/chemistry/oils.ts';
import {
  DRYING_METHODS,
  FIELD_TESTS,
  type FieldTest,
  type Practice,
  WASH_METHODS,
} from '../shared/chemistry/practice.ts';
import { glycerolSetsBelowC } from '../shared/chemistry/settling.ts';
import {
  BASE_DOSE_G_PER_L,
  FREE_FATTY_ACID_HIGH_PERCENT,
  FREE_FATTY_ACID_NOTE_PERCENT,
} from '../shared/chemistry/titration.ts';
import { ICE_POINT_C } from '../shared/chemistry/water.ts';

const PAGE = new URL('chemistry.md', import.meta.url);

const INTRODUCTION = `# The chemistry

Everything that a plan is computed by: each formula with its inputs, constants, source and doubt, then the tables. This page is made from the code in [\`shared/chemistry/\`](../shared/chemistry/) by \`npm run chemistry-page\`: change it there. What a plan asks and answers is in [plan.md](plan.md).

## What it is for

These numbers help a person to work out a batch and to check a plan. They are no licence to do anything. Esterwatch watches and warns only: it switches nothing and is no safety interlock. Methanol burns and poisons, lye burns skin and eyes, and hot oil and methoxide can erupt. Local codes and licensed practice come first, then the maker’s data sheets, then this page.

## How to read it

- **Taken** is what a formula can be asked: beyond it the call is refused, with the field, the value and what is allowed. **Vouched for** is what the source speaks of; from there to the end of what is taken the result is extrapolated, and a plan says so (\`outside-validity\`).
- In a formula the long names are the inputs, and the short ones the constants below it. \`log10\` is the logarithm to the base 10, \`a ^ b\` a power. Constants are shown to eight digits.
- Where the uncertainty speaks of bounds, the result is an estimate: a low, a middle and a high value. The bounds say where it may well lie. They are no guarantee, and the middle is no measurement.
- “Common practice, no source” is what people do and nobody was found to have measured. “From memory” is what a source is remembered to say and was not looked up. “Read in a reprint” or “in the tables of” a package: the original was not seen. An “abstract” was read without the paper.
- **Others say** is where sources disagree, and by how much.
`;

/** What has to be said before the formulas of a heading. */
const BEFORE: Partial<Record<keyof typeof FORMULAS, string>> = {
  'Acid esterification':
    'For an oil that is too acid for base alone. Sulphuric acid goes slowly into the stirred liquid, never the reverse (common practice, no source). Titrate the oil again before the base reaction.',
  Reaction: `The conversion is an estimate with wide bounds.

**It may be used** to see whether a plan is worth starting, to compare two plans, and to show during a batch about how far it may have come.

**It may not be used** as a gate: no rule reads it, and no stage waits for it. It is no substitute for a test: what has reacted is known when the fuel has been tested. It says nothing of whether fuel complies with a standard.

How it was made:

- Published rate constants differ by a factor of a hundred and more. So a plain model, three reversible steps, was fitted to one published series of measurements, and its bounds are far apart.
- The constants of Noureddini & Zhu 1997 are widely copied. They come to rest at 84 to 85 % with 6:1 methanol, where 93 to 98 % is measured. That ceiling is not used. Only the activation energy of their first step is.
- All steps have this one activation energy. So a change of temperature speeds all of them up or slows them down alike, and a history of temperatures comes to the same as minutes weighted by one factor, \`reactionRate\`. The counted time of the [rules](rules.md) weighs its minutes by the same factor; the estimate and the credit go by the same minutes ([\`kinetics.ts\`](../shared/chemistry/kinetics.ts), [\`conversion.ts\`](../shared/engine/conversion.ts)). The credit moreover never counts more minutes than went by. Time that was not mixed, at boiling or without readings counts in neither.
- Not in it: the first minutes, in which oil and methanol have to be mixed before anything reacts; water in the oil; soap that too much catalyst makes of the oil; methanol that boiled off.
`,
  'Washing, drying and field tests':
    'These work out what field tests read. What the tests show, and what they do not, is under [Field tests](#field-tests).',
};

/** The text of docs/chemistry.md. */
export function chemistryPage(): string {
  return [
    INTRODUCTION,
    ...Object.entries(FORMULAS).map(([heading, formulas]) =>
      paragraphs(
        `## ${heading}`,
        BEFORE[heading as keyof typeof FORMULAS],
        ...Object.entries<FormulaText>(formulas).map(([name, formula]) => formulaText(name, formula)),
      ),
    ),
    oils(),
    bases(),
    chosenNumbers(),
    fuelLimits(),
    practices(
      'Field tests',
      '**None of the field tests shows that fuel complies with a standard.** None of them is a method that a standard names, and each sees only part of what a standard limits. They tell when something is wrong.',
      FIELD_TESTS,
    ),
    practices('Ways to wash', 'What each shows is what the person at the tank can see by it.', WASH_METHODS),
    practices('Ways to dry', 'Neither shows how dry the fuel is.', DRYING_METHODS),
  ]
    .map((part) => part.trim())
    .join('\n\n')
    .concat('\n');
}

const paragraphs = (...parts: readonly (string | undefined)[]): string =>
  parts.flatMap((part) => (part === undefined ? [] : [part.trim()])).join('\n\n');

function formulaText(name: string, of: FormulaText): string {
  const constants = Object.entries(of.constants ?? {}).map(
    ([symbol, value]) => `\`${symbol}\` ${num(value)}`,
  );
  return paragraphs(
    `### ${of.gives}`,
    `\`${name}\`${of.unit === '' ? '' : `, in ${of.unit}`}`,
    `\`\`\`text\n${inLines(of.formula)}\n\`\`\``,
    table(
      ['input', 'what', 'unit', 'taken', 'vouched for'],
      Object.entries(of.inputs).map(([input, text]) => [`\`${input}\``, ...inputCells(text)]),
    ),
    list({
      Constants: constants.length === 0 ? undefined : constants.join(', '),
      Source: capital(of.source),
      Uncertainty: capital(of.uncertainty),
      'Others say': of.disagreement,
    }),
  );
}

/** An equation, or what is said of it, a line. */
const inLines = (formula: string): string => formula.replace(/; |, (?=(?:and )?[^,;=]+ = )/g, '\n');

function inputCells(input: NumberInput | ChoiceInput): string[] {
  if ('oneOf' in input) return [input.what, '', input.oneOf.join(', '), 'all'];
  const { what, unit, least, most, valid, list: isList } = input;
  return [
    isList ? `${what}; a list` : what,
    unit,
    span(least, most),
    valid === undefined ? 'all' : span(...valid),
  ];
}

function oils(): string {
  return paragraphs(
    '## Kinds of oil',
    'Saponification value and density are what a kind of oil is known by. The middle of the range is taken; `used` is taken as soybean oil.',
    table(
      [
        'oil',
        'saponification value, mg KOH/g',
        'taken as',
        'molar mass, g/mol',
        'density at 20 °C, kg/m³',
        'slope, kg/m³ per °C',
        'line holds from, °C',
      ],
      OIL_KINDS.map((kind) => {
        const { saponification, density } = OILS[kind];
        return [
          kind,
          span(saponification.low, saponification.high),
          num(saponification.value),
          oilMolarMassGPerMol({ kind }).toFixed(0),
          oilDensityKgPerM3({ kind, temperatureC: 20 }).toFixed(1),
          num(density.perC),
          span(...density.rangeC),
        ];
      }),
    ),
    list(
      Object.fromEntries(
        OIL_KINDS.map((kind) => [
          kind,
          `${capital(OILS[kind].source)}. Density: ${OILS[kind].density.source}`,
        ]),
      ),
    ),
  );
}

function bases(): string {
  const row = (what: string, of: (kind: (typeof BASE_KINDS)[number]) => string) => [
    what,
    ...BASE_KINDS.map(of),
  ];
  return paragraphs(
    '## Bases',
    table(
      ['', ...BASE_KINDS],
      [
        row('molar mass, g/mol', (kind) => num(BASES[kind].gPerMol)),
        row('heat given off on dissolving in water, J/mol', (kind) => num(BASES[kind].solutionHeatJPerMol)),
        row('heat capacity of the solid, J/(mol·K)', (kind) => num(BASES[kind].solidHeatCapacityJPerMolK)),
        row('molar mass of its oleate (soap), g/mol', (kind) => num(BASES[kind].oleateGPerMol)),
        row('its glycerol sets below, °C', (kind) => {
          const setsBelowC = glycerolSetsBelowC(kind);
          return setsBelowC === null ? 'stays liquid' : num(setsBelowC);
        }),
      ],
    ),
    'Molar masses from IUPAC atomic weights. Heats at 25 °C and infinite dilution from the CRC Handbook’s enthalpies of formation, heat capacities from the CRC Handbook, both read in the tables of the Python package chemicals. No heat of solution in methanol was found. Where glycerol sets: common practice, no source.',
  );
}

function chosenNumbers(): string {
  return paragraphs(
    '## Numbers that no formula gives',
    table(
      ['what', 'value', 'source'],
      [
        [
          'base dose beside what the titration takes, fresh oil, pure NaOH',
          `${num(BASE_DOSE_G_PER_L.fresh)} g/L`,
          'common practice, no source; KOH the same in moles',
        ],
        ['the same, used oil', `${num(BASE_DOSE_G_PER_L.used)} g/L`, 'common practice, no source'],
        [
          'free fatty acid from which there is more soap to wash out',
          `${num(FREE_FATTY_ACID_NOTE_PERCENT)} %`,
          'common practice, no source; Ma, Clements & Hanna 1998 (Trans. ASAE 41:1261) have 0.5 % for a good yield',
        ],
        [
          'free fatty acid from which base alone will not do',
          `${num(FREE_FATTY_ACID_HIGH_PERCENT)} %`,
          'Kombe et al. 2013 (Adv. Chem. Eng. Sci. 3(4))',
        ],
        [
          'the next portion of catalyst goes in when the methoxide is back under',
          `${num(NEXT_PORTION_BELOW_C)} °C`,
          'common practice, no source',
        ],
        ['standard pressure at sea level', `${num(SEA_LEVEL_HPA)} hPa`, 'U.S. Standard Atmosphere 1976'],
        [
          'how far the weather moves the pressure',
          `±${num(PRESSURE_SPREAD_HPA)} hPa`,
          'common practice, no source; storms go further',
        ],
        [
          'pressure and altitude contradict each other when further apart than',
          `${num(STATION_DIFFERENCE_HPA)} hPa`,
          'chosen beyond the weather’s spread',
        ],
        [
          'ice in water, to check a thermometer',
          `${num(ICE_POINT_C)} °C`,
          'ASTM E563; the altitude does not count',
        ],
      ],
    ),
  );
}

function fuelLimits(): string {
  return paragraphs(
    '## Fuel limits of the standards',
    FUEL_STANDARDS_NOTE,
    ...FUEL_STANDARD_NAMES.flatMap((standard) => [
      `### ${standard}`,
      table(['property', 'limit', 'unit', 'method', 'note'], limitRows(standard)),
    ]),
  );
}

const limitRows = (standard: FuelStandard): string[][] =>
  Object.entries<FuelLimit>(FUEL_STANDARDS[standard]).map(([property, limit]) => [
    FUEL_PROPERTIES[property as FuelProperty],
    limitText(limit),
    limit.unit,
    limit.method,
    limit.note ?? '',
  ]);

function limitText({ least, most }: FuelLimit): string {
  if (least === undefined) return `at most ${num(most!)}`;
  return most === undefined ? `at least ${num(least)}` : span(least, most);
}

function practices(
  heading: string,
  before: string,
  of: Readonly<Record<string, Practice | FieldTest>>,
): string {
  return paragraphs(
    `## ${heading}`,
    before,
    ...Object.values(of).flatMap((practice) => [
      `### ${practice.name}`,
      practice.how,
      list({
        Shows: practice.shows,
        'Does not show': practice.doesNotShow,
        'Shows compliance': 'showsCompliance' in practice ? 'no' : undefined,
        'Works it out': practice.formula && linkTo(practice.formula),
        Source: capital(practice.source),
      }),
    ]),
  );
}

const linkTo = ({ gives }: FormulaText): string =>
  `[${gives}](#${gives
    .toLowerCase()
    .replace(/[^\p{L}\p{N} -]/gu, '')
    .replaceAll(' ', '-')})`;

/** Points with a bold name each; what is undefined is left out. */
const list = (points: Readonly<Record<string, string | undefined>>): string =>
  Object.entries(points)
    .flatMap(([name, text]) => (text === undefined ? [] : [`- **${name}**: ${text}`]))
    .join('\n');

const capital = (text: string): string => text.charAt(0).toUpperCase() + text.slice(1);

/** A table as the formatter leaves it: every column as wide as its widest cell. */
export function table(head: readonly string[], rows: readonly (readonly string[])[]): string {
  const widths = head.map((_, column) =>
    Math.max(3, ...[head, ...rows].map((row) => [...row[column]!].length)),
  );
  const line = (cells: readonly string[]): string =>
    `| ${cells.map((cell, column) => cell + ' '.repeat(widths[column]! - [...cell].length)).join(' | ')} |`;
  return [line(head), line(widths.map((width) => '-'.repeat(width))), ...rows.map(line)].join('\n');
}

const span = (least: number, most: number): string => `${num(least)} to ${num(most)}`;

const num = (value: number): string =>
  value.toLocaleString('en-US', { maximumSignificantDigits: 8 }).replace('-', '−');

if (process.argv[1] === fileURLToPath(import.meta.url)) writeFileSync(PAGE, chemistryPage());
