import { type LotKind, type LotNote, NOTES_OF } from '../../../shared/wire/lots.ts';
import type { FieldSpec } from '../../forms.ts';
import { ENTRIES } from '../../texts/batch.ts';
import { STOCK } from '../../texts/stock.ts';
import { titrationFields } from '../batch/entry-forms.ts';

/** What is said of a lot when it is taken in, and what can be noted of it later, as tables. Pure. */

type NoteKind = LotNote['what']['kind'];

const { fields: name } = STOCK;
const optional = true;
const purity: FieldSpec = {
  name: 'purityPercent',
  label: name.purityPercent,
  is: 'number',
  unit: '%',
  optional,
};
const openedOn: FieldSpec = { name: 'openedOn', label: name.openedOn, is: 'date', optional };
const litres: FieldSpec = { name: 'litres', label: name.litres, is: 'volume', bare: true };
const kg: FieldSpec = { name: 'kg', label: name.kg, is: 'number', unit: 'kg', bare: true };
const pricePerL: FieldSpec = { name: 'pricePerL', label: name.pricePerL, is: 'number', optional };
const pricePerKg: FieldSpec = { name: 'pricePerKg', label: name.pricePerKg, is: 'number', optional };
const reason: FieldSpec = { name: 'reason', label: name.reason, is: 'text', bare: true };

export const LOT_FORMS: Readonly<Record<LotKind, readonly FieldSpec[]>> = {
  oil: [
    litres,
    { name: 'from', label: name.from, is: 'text', optional, bare: true },
    { name: 'filtered', label: name.filtered, is: 'yes-no', optional },
    { name: 'waterPpm', label: name.waterPpm, is: 'number', unit: 'ppm', optional },
    pricePerL,
    ...titrationFields('titration', optional),
  ],
  methanol: [litres, purity, openedOn, pricePerL],
  catalyst: [
    { name: 'base', label: name.base, is: 'choice', options: ENTRIES.options.base, bare: true },
    kg,
    purity,
    openedOn,
    pricePerKg,
  ],
  'dry-bed': [
    { name: 'medium', label: name.medium, is: 'text', bare: true },
    { name: 'kg', label: name.bedKg, is: 'number', unit: 'kg', bare: true },
    { name: 'dueAfterL', label: name.dueAfterL, is: 'volume' },
    pricePerKg,
  ],
};

const NOTES: Readonly<Record<NoteKind, readonly FieldSpec[]>> = {
  titration: titrationFields('titration'),
  water: [{ name: 'ppm', label: name.ppm, is: 'number', unit: 'ppm', bare: true }],
  count: [],
  soap: [
    { name: 'beforePpm', label: name.beforePpm, is: 'number', unit: 'ppm', optional },
    { name: 'afterPpm', label: name.afterPpm, is: 'number', unit: 'ppm', optional },
  ],
  'bed-changed': [{ name: 'kg', label: name.newKg, is: 'number', unit: 'kg', optional }],
  closed: [reason],
  note: [{ name: 'text', label: name.text, is: 'text', bare: true }],
};

export const noteKindsOf = (kind: LotKind): readonly NoteKind[] => NOTES_OF[kind];

/** What is there is counted as the lot is kept: by litres, or by weight. */
export const noteFields = (kind: LotKind, note: NoteKind): readonly FieldSpec[] => {
  if (note !== 'count') return NOTES[note];
  const counted: FieldSpec = kind === 'catalyst' ? kg : litres;
  return [{ ...counted, label: name.counted }, reason];
};
