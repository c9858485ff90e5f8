import { FUEL_PROPERTIES, FUEL_STANDARDS, type FuelProperty } from '../../../shared/chemistry/fuel-limits.ts';
import { PLAN_DEFAULTS } from '../../../shared/plan/resolve.ts';
import type { EntryWhat } from '../../../shared/wire/entries.ts';
import { type FieldSpec, plain, valueIn } from '../../forms.ts';
import { BATCH, ENTRIES } from '../../texts/batch.ts';

/** What people note by hand, as a table: each kind with what belongs to it. Pure. */

const { fields: name, help, options } = ENTRIES;

export type EntryKind = Exclude<keyof typeof ENTRIES.kinds, 'photograph'>;

export interface EntryForm {
  group: keyof typeof ENTRIES.groups;
  /** What every body of this kind has. */
  fixed: { kind: string; test?: string };
  fields: readonly FieldSpec[];
}

const laboratory = Object.fromEntries(
  (Object.entries(FUEL_PROPERTIES) as [FuelProperty, string][]).map(([property, text]) => {
    const limits = Object.values(FUEL_STANDARDS).map((standard) => standard[property]);
    const unit = limits.find((limit) => limit !== undefined)?.unit ?? '';
    return [property, unit === '' ? text : `${text}, ${unit}`];
  }),
);

const litres: FieldSpec = { name: 'litres', label: name.litres, is: 'volume', bare: true };
const runs = PLAN_DEFAULTS.titration;

/** A titration as a plan takes it; `inside` a body of something else it has a name of its own there. */
export const titrationFields = (inside = '', optional = false): FieldSpec[] => {
  const at = (field: string): string => (inside === '' ? field : `${inside}.${field}`);
  return [
    {
      name: at('mL'),
      label: name.mL,
      is: 'numbers',
      unit: 'mL',
      bare: true,
      help: help.mL,
      ...(optional && { optional }),
    },
    {
      name: at('titrant'),
      label: name.titrant,
      is: 'choice',
      options: options.base,
      aside: true,
      help: help.titrant,
    },
    {
      name: at('blankMl'),
      label: name.titrantBlankMl,
      is: 'number',
      unit: 'mL',
      start: String(runs.blankMl),
      optional: true,
    },
    {
      name: at('gPerL'),
      label: name.gPerL,
      is: 'number',
      unit: 'g/L',
      start: String(runs.gPerL),
      optional: true,
    },
    {
      name: at('sampleMl'),
      label: name.sampleMl,
      is: 'number',
      unit: 'mL',
      start: String(runs.sampleMl),
      optional: true,
    },
    { name: at('purityPercent'), label: name.purityPercent, is: 'number', unit: '%', optional: true },
  ];
};

export const ENTRY_FORMS: Readonly<Record<EntryKind, EntryForm>> = {
  weighing: {
    group: 'amounts',
    fixed: { kind: 'weighing' },
    fields: [
      { name: 'what', label: name.weighedWhat, is: 'choice', options: options.weighing, bare: true },
      { name: 'kg', label: name.kg, is: 'number', unit: 'kg', bare: true },
      { name: 'pass', label: name.pass, is: 'number', optional: true, help: help.pass },
    ],
  },
  volume: {
    group: 'amounts',
    fixed: { kind: 'volume' },
    fields: [
      { name: 'what', label: name.measuredWhat, is: 'choice', options: options.volume, bare: true },
      litres,
      { name: 'atC', label: name.atC, is: 'temperature', optional: true },
    ],
  },
  drained: {
    group: 'amounts',
    fixed: { kind: 'drained' },
    fields: [
      { name: 'what', label: name.drainedWhat, is: 'choice', options: options.drained, bare: true },
      litres,
    ],
  },
  wash: {
    group: 'amounts',
    fixed: { kind: 'wash' },
    fields: [
      { name: 'method', label: name.method, is: 'choice', options: options.method, bare: true },
      { name: 'waterL', label: name.waterL, is: 'volume', optional: true },
      { name: 'emulsion', label: name.emulsion, is: 'yes-no', start: 'no' },
      { name: 'remedy', label: name.remedy, is: 'text', optional: true },
    ],
  },
  'handed-out': {
    group: 'amounts',
    fixed: { kind: 'handed-out' },
    fields: [
      { name: 'use', label: name.use, is: 'choice', options: options.use, bare: true },
      litres,
      { name: 'to', label: name.to, is: 'text', optional: true },
    ],
  },
  titration: { group: 'tests', fixed: { kind: 'test', test: 'titration' }, fields: titrationFields() },
  '3/27': {
    group: 'tests',
    fixed: { kind: 'test', test: '3/27' },
    fields: [
      { name: 'dropoutMl', label: name.dropoutMl, is: 'number', unit: 'mL' },
      { name: 'fuelMl', label: name.fuelMl, is: 'number', unit: 'mL', start: '3' },
      { name: 'methanolMl', label: name.methanolMl, is: 'number', unit: 'mL', start: '27' },
    ],
  },
  shake: {
    group: 'tests',
    fixed: { kind: 'test', test: 'shake' },
    fields: [{ name: 'partsClean', label: name.partsClean, is: 'yes-no' }],
  },
  soap: {
    group: 'tests',
    fixed: { kind: 'test', test: 'soap' },
    fields: [
      { name: 'acidMl', label: name.acidMl, is: 'number', unit: 'mL' },
      { name: 'sampleG', label: name.sampleG, is: 'number', unit: 'g' },
      { name: 'base', label: name.base, is: 'choice', options: options.base, bare: true },
      { name: 'blankMl', label: name.blankMl, is: 'number', unit: 'mL', start: '0' },
      { name: 'acidMolPerL', label: name.acidMolPerL, is: 'number', unit: 'mol/L', start: '0.01' },
    ],
  },
  water: {
    group: 'tests',
    fixed: { kind: 'test', test: 'water' },
    fields: [{ name: 'ppm', label: name.ppm, is: 'number', unit: 'ppm', bare: true }],
  },
  freezer: {
    group: 'tests',
    fixed: { kind: 'test', test: 'freezer' },
    fields: [{ name: 'clearAtC', label: name.clearAtC, is: 'temperature' }],
  },
  density: {
    group: 'tests',
    fixed: { kind: 'test', test: 'density' },
    fields: [
      { name: 'kgPerM3', label: name.kgPerM3, is: 'number', unit: 'kg/m³', bare: true },
      { name: 'atC', label: name.densityAtC, is: 'temperature', start: '' },
    ],
  },
  laboratory: {
    group: 'tests',
    fixed: { kind: 'test', test: 'laboratory' },
    fields: [
      { name: 'property', label: name.property, is: 'choice', options: laboratory, bare: true },
      { name: 'value', label: name.value, is: 'number', bare: true },
      { name: 'method', label: name.labMethod, is: 'text', optional: true },
    ],
  },
  note: {
    group: 'other',
    fixed: { kind: 'note' },
    fields: [{ name: 'text', label: name.text, is: 'text', bare: true }],
  },
};

export const entryKindOf = (what: EntryWhat): keyof typeof ENTRIES.kinds =>
  what.kind === 'test' ? what.test : what.kind;

/** How quantities are said to a reader. */
export interface Saying {
  litres: (litres: number) => string;
  degrees: (celsius: number) => string;
}

/** What was noted, in a line: 'Weighed: lye, 1.052 kg'. */
export function entryLine(what: EntryWhat, saying: Saying): string {
  const kind = entryKindOf(what);
  const title = ENTRIES.kinds[kind];
  if (what.kind === 'photograph') return what.text === '' ? title : `${title}: ${what.text}`;
  const told = linesOf(ENTRY_FORMS[kind as EntryKind].fields, what, saying);
  return told === '' ? title : `${title}: ${told}`;
}

/** The fields of a body that say something, after each other: '2.4 mL (KOH), purity of the titrant 98 %'. */
export function linesOf(fields: readonly FieldSpec[], body: object, saying: Saying): string {
  let line = '';
  for (const field of fields) {
    const value = valueIn(field, body);
    if (value === undefined || isNothing(field, value)) continue;
    const said = saidAs(field, value, saying);
    if (field.aside) line += ` (${said})`;
    else line += line === '' ? said : `, ${said}`;
  }
  return line;
}

/** A blank of 0 mL, and no emulsion. */
const isNothing = ({ start }: FieldSpec, value: unknown): boolean =>
  (start === '0' && value === 0) || (start === 'no' && value === false);

function saidAs(field: FieldSpec, value: string | number | boolean | number[], saying: Saying): string {
  const { is, unit, options: choices, label, bare, aside } = field;
  const name = label.toLowerCase();
  if (value === true) return name;
  if (value === false) return `${name}: ${BATCH.note.no}`;
  const figure = (number: number): string =>
    is === 'volume'
      ? saying.litres(number)
      : is === 'temperature'
        ? saying.degrees(number)
        : `${plain(number)}${unit === undefined ? '' : ` ${unit}`}`;
  const said = Array.isArray(value)
    ? [...value.slice(0, -1).map(plain), figure(value.at(-1)!)].join(', ')
    : typeof value === 'string'
      ? (choices?.[value] ?? value)
      : figure(value);
  return bare || aside ? said : `${name} ${said}`;
}
