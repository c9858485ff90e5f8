import { standing } from '../../shared/batch/standing.ts';
import { testsOfFuel } from '../../shared/batch/test-limits.ts';
import { fahrenheitFromCelsius, type TemperatureUnit } from '../../shared/units/temperature.ts';
import type { Batch } from '../../shared/wire/batch.ts';
import { ENDED_STAGES } from '../../shared/wire/names.ts';
import type { RecordTest } from '../../shared/wire/record.ts';
import { OIL_NAMES } from '../../shared/words/entries.ts';
import { STAGE_NAMES } from '../../shared/words/stages.ts';
import { escaped } from './escaped.ts';
import { outsideOf, testName } from './fuel-tests.ts';

/** What can be labelled. */
export const LABELLED = ['glycerol', 'sample', 'fuel'] as const;
export type Labelled = (typeof LABELLED)[number];

/** What stands on a label. */
interface Label {
  /** The first thing to be read. */
  warning: string;
  title: string;
  /** Names and what stands beside them; '' is a line to write on. */
  rows: readonly (readonly [name: string, value: string])[];
  /** What to do with it, and what not to. */
  notes: string;
}

/** Labels of a batch as a page to print, A4 or Letter: it brings its own style and loads nothing. */
export function labelsHtml(batch: Batch, what: Labelled, unit: TemperatureUnit): string {
  const label = labelHtml(LABEL[what](batch, unit));
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width">
<title>${escaped(`Labels: ${what}, ${batch.name}`)}</title>
<style>${STYLE}</style>
</head>
<body>
<div class="sheet">
${Array.from({ length: TO_A_SHEET }, () => label).join('\n')}
</div>
<aside>
<h1>${escaped(ADVICE_TITLE[what])}</h1>
<ul>
${[...ADVICE[what](unit), ...FOR_ALL].map((line) => `<li>${escaped(line)}</li>`).join('\n')}
</ul>
</aside>
</body>
</html>
`;
}

/**
 * Six to a sheet, two columns of 92 mm and three rows of 84 mm, with gaps 187 mm by 258 mm: that fits on A4 and on
 * Letter, each with margins of 10 mm.
 */
const TO_A_SHEET = 6;

const STYLE = `
@page{margin:10mm}
*{box-sizing:border-box}
body{font:9pt/1.2 system-ui,sans-serif;color:#000;background:#fff;margin:0;max-width:187mm}
.sheet{display:grid;grid-template-columns:92mm 92mm;grid-auto-rows:84mm;gap:3mm}
section{border:.4mm solid #000;padding:2.5mm;overflow:hidden;overflow-wrap:anywhere;display:flex;flex-direction:column;gap:.8mm}
h2,h3,p{margin:0}h2{font-size:13pt;line-height:1.1}h3{font-size:8.5pt}
dl{margin:0;font-size:8pt;display:grid;grid-template-columns:max-content 1fr;gap:.2mm 2mm}dt{color:#333}dd{margin:0}
dd:empty{border-bottom:.2mm solid #000;min-height:6mm}
section p{font-size:7.5pt;line-height:1.15;margin-top:auto}
aside{break-before:page;margin-top:8mm}aside{font-size:10.5pt;line-height:1.35}aside h1{font-size:14pt;margin:0 0 3mm}li{margin-bottom:2mm}
@media screen{body{padding:10mm;max-width:207mm}}
@media print{aside{margin-top:0}}
`;

const labelHtml = ({ warning, title, rows, notes }: Label): string => `<section>
<h2>${escaped(warning)}</h2>
<h3>${escaped(title)}</h3>
<dl>${rows.map(([name, value]) => `<dt>${escaped(name)}</dt><dd>${escaped(value)}</dd>`).join('')}</dl>
<p>${escaped(notes)}</p>
</section>`;

const LABEL: Record<Labelled, (batch: Batch, unit: TemperatureUnit) => Label> = {
  glycerol: (batch, unit) => ({
    ...methanolOf(batch),
    rows: [...batchRows(batch), ['Drained', drainedOf(batch)], ['Went to, when', '']],
    notes:
      `Flammable, poisonous, caustic. No flame, no spark; vented, outdoors. Methanol flashes at ${METHANOL_FLASHES(unit)}; ` +
      'its flame is hard to see. Not into drain, soil or water: it can be ignitable waste. Local codes come first.',
  }),
  sample: (batch) => ({
    warning: 'Retained sample',
    title: fuelFrom(batch),
    rows: [...batchRows(batch), ...stateRows(batch), ['Taken on', ''], ['By', ''], ['Keep until', '']],
    notes: 'Not certified by field tests. No drink, no food.',
  }),
  fuel: (batch) => ({
    warning: fuelWarning(batch),
    title: `${fuelFrom(batch)}, not certified by field tests`,
    rows: [...batchRows(batch), ...stateRows(batch), ...testRows(batch), ['Filled on', '']],
    notes:
      'Combustible. No flame, no spark. Rags with it heat themselves: keep them in water, outdoors. ' +
      'Local codes and licensed practice come first.',
  }),
};

const dateOf = (iso: string): string => iso.slice(0, 10);

const batchRows = ({ name, id, site }: Batch): [string, string][] => [
  ['Batch', name],
  ['Id', id],
  ['Site', site],
];

/** When it was begun, and how it ended or where it is. */
function stateRows({ opened, open, stage, stages }: Batch): [string, string][] {
  const ended = stages.findLast((one) => ENDED_STAGES.includes(one.stage));
  const state =
    open || ended === undefined
      ? `not finished; now: ${stages.length === 0 ? 'nothing has begun' : STAGE_NAMES[stage]}`
      : `${STAGE_NAMES[ended.stage]} ${dateOf(ended.at)}`;
  return [
    ['Opened', dateOf(opened)],
    ['State', state],
  ];
}

/** Fat of animals is told from oil of plants; of used oil nobody knows for certain. */
function fuelFrom({ request }: Batch): string {
  const kind = request.oil?.kind;
  const from = kind === 'tallow' || kind === 'lard' ? 'animal fat' : 'plant oil';
  return `Fuel from ${from}${kind === undefined ? '' : `: ${OIL_NAMES[kind]}`}`;
}

/** What is to be known of a can of fuel first. */
function fuelWarning(batch: Batch): string {
  if (batch.stage === 'rejected') return 'REJECTED: not to be used as fuel';
  if (batch.open && !hasSettled(batch)) return 'NOT FUEL YET';
  return isFreedOfMethanol(batch) ? 'Fuel' : 'May hold methanol: flashes cold';
}

/** Whether what reacted last has begun to settle; after esterification or a prewash there is oil again. */
function hasSettled({ stages }: Batch): boolean {
  const last = (...names: string[]): number => stages.findLastIndex(({ stage }) => names.includes(stage));
  const reacted = last('dose', 'react');
  return last('settle') > reacted && last('dry-oil', 'prewash', 'esterify') <= reacted;
}

/**
 * Whether fuel was washed with water, or methanol recovered from it, since methoxide last went in. A dry bed takes
 * soap and leaves methanol (common practice, no source).
 */
function isFreedOfMethanol({ stages, moves, entries }: Batch): boolean {
  const dosedAt = stages.findLast(({ stage }) => stage === 'dose')?.at ?? '';
  const since = stages.filter(({ at }) => at >= dosedAt);
  const heldGlycerol = (vessel: string, at: string): boolean =>
    moves.findLast((move) => move.to === vessel && move.at <= at)?.what === 'glycerol';
  if (since.some(({ stage, vessel, at }) => stage === 'recover' && !heldGlycerol(vessel, at))) return true;
  const washes = standing(entries, 'wash').filter(({ at }) => at >= dosedAt);
  if (washes.some(({ what }) => what.method !== 'dry-bed')) return true;
  return washes.length === 0 && since.some(({ stage }) => stage === 'wash');
}

/** What was boiled off is known by its stage; how much was left nobody has measured. */
function methanolOf(batch: Batch): Pick<Label, 'warning' | 'title'> {
  const { recovered, isComplete, isUnderWay } = recoveryOf(batch);
  const title = 'Crude glycerol, with lye and soap';
  if (recovered.length === 0)
    return { warning: 'Contains methanol', title: `${title}; no methanol was recovered in this batch` };
  if (isUnderWay) return { warning: 'Contains methanol', title: `${title}; methanol is being recovered` };
  const when = [...new Set(recovered.map(({ at }) => dateOf(at)))].join(', ');
  if (!isComplete) {
    const where = [...new Set(recovered.map(({ vessel }) => vessel))].join(', ');
    return {
      warning: 'Contains methanol',
      title: `${title}; methanol was recovered ${when} in ${where} only`,
    };
  }
  return {
    warning: 'May still contain methanol',
    title: `${title}; methanol was recovered ${when}, what is left was not measured`,
  };
}

/**
 * The stages that methanol was recovered from glycerol in. Where glycerol was moved, that is in the vessels that it
 * is in, since it last came into them: what is boiled off the fuel beside it leaves it as it was.
 */
function recoveryOf({ moves, stages, stage, open }: Batch): {
  recovered: Batch['stages'];
  /** Of all of it that there is. */
  isComplete: boolean;
  isUnderWay: boolean;
} {
  const cameAt = new Map<string, string>();
  for (const { what, from, to, at } of moves) {
    if (what !== 'glycerol') continue;
    cameAt.delete(from);
    cameAt.set(to, at);
  }
  const all = stages.filter((one) => one.stage === 'recover');
  if (cameAt.size === 0) return { recovered: all, isComplete: true, isUnderWay: stage === 'recover' };
  const recovered = all.filter(({ vessel, at }) => at >= (cameAt.get(vessel) ?? '\uffff'));
  const vessels = [...cameAt.keys()];
  return {
    recovered,
    isComplete: vessels.every((vessel) => recovered.some((one) => one.vessel === vessel)),
    isUnderWay:
      open && vessels.some((vessel) => stages.findLast((one) => one.vessel === vessel)?.stage === 'recover'),
  };
}

/**
 * When, and how much of it is known: by what was moved off the fuel, else by what was noted; by the stage where
 * nobody noted it; to be written where there is neither.
 */
function drainedOf({ moves, entries, stages }: Batch): string {
  const glycerol = moves.filter(({ what }) => what === 'glycerol');
  // From can to can it is the same again.
  const moved = glycerol.filter(
    ({ from }, i) => !glycerol.slice(0, i).some((earlier) => earlier.to === from),
  );
  const noted = standing(entries, 'drained').filter(({ what }) => what.what === 'glycerol');
  const drained = moved.length > 0 ? moved : noted.map(({ at, what }) => ({ at, litres: what.litres }));
  const at = drained.length > 0 ? drained : stages.filter(({ stage }) => stage === 'drain');
  const days = [...new Set(at.map((one) => dateOf(one.at)))].sort();
  const litres = drained.reduce((sum, one) => sum + one.litres, 0);
  return `${days.join(', ')}${litres > 0 ? `; ${Number(litres.toFixed(2))} L in all` : ''}`;
}

/** Of tests outside of limits so many have room on a label. */
const MOST_NAMED = 3;

/** The newest of each test of the fuel counts: what passed, what did not, and what no standard would take. */
function testRows(batch: Batch): [string, string][] {
  const tests = testsOfFuel(batch);
  const dated = (test: RecordTest): string => `${testName(test)} (${dateOf(test.at)})`;
  const those = (passed: boolean): string =>
    tests
      .filter((test) => test.passed === passed)
      .map(dated)
      .join(', ');
  const outside = tests.filter((test) => outsideOf(test).length > 0);
  const named = outside.slice(0, MOST_NAMED).map(testName);
  const more = outside.length > MOST_NAMED ? [`${outside.length - MOST_NAMED} more`] : [];
  const standards = new Set(outside.flatMap(outsideOf).map((standard) => standard.split(/[:-]/)[0]!));
  const rows: [string, string][] = [
    ['Tests passed', those(true) || 'none noted'],
    ['Not passed', those(false)],
    [
      'OUTSIDE',
      outside.length === 0 ? '' : `${[...named, ...more].join(', ')} (${[...standards].join(', ')})`,
    ],
  ];
  return rows.filter(([, value]) => value !== '');
}

// ---- what stands beside the labels ----

const degrees = (c: number, unit: TemperatureUnit): string =>
  `${Math.round(unit === 'C' ? c : fahrenheitFromCelsius(c))}\u00a0°${unit}`;

/** 9 °C by IEC 60079-20-1:2010, 12 °C by NFPA 497-2008. */
const METHANOL_FLASHES = (unit: TemperatureUnit): string => `${degrees(9, unit)} to ${degrees(12, unit)}`;

const ADVICE_TITLE: Record<Labelled, string> = {
  glycerol: 'Before glycerol or wash water goes anywhere',
  sample: 'Keeping a sample',
  fuel: 'With the fuel',
};

const ADVICE: Record<Labelled, (unit: TemperatureUnit) => readonly string[]> = {
  glycerol: (unit) => [
    `Crude glycerol that still holds methanol can be ignitable waste: in the United States what flashes below ${degrees(60, unit)} is (RCRA, D001; from memory, no source). Methanol by itself flashes at ${METHANOL_FLASHES(unit)} (IEC 60079-20-1:2010, NFPA 497-2008). Nobody has measured the flash point of this glycerol.`,
    'In the United States households are exempt from the waste rules only where the fuel is neither sold nor used commercially; not-for-profits are not exempt (EPA, Region 7).',
    'Wash water holds soap, lye and methanol, and has rules of its own: ask whoever runs the sewer, or permits the septic tank, before any goes down. Never into a storm drain, a ditch or a stream (common practice, no source).',
    'Note: how much, of which batch, drained when, whether methanol was recovered from it and how far, where it stands, who took it and when.',
    'Ask: the waste authority and the fire authority of the place, and whoever is to take it: for compost, a digester or soap it is wanted without methanol (common practice, no source).',
    'Recovering methanol: condenser running before heat, outdoors, no flame.',
    'A can that is vented and not full, of steel or polyethylene; no aluminium, zinc or brass. Bonded and earthed while it is filled: static lights methanol.',
  ],
  sample: () => [
    'Closed, dark, cool, and out of the reach of children. Filled from the middle of the stream, after the tests (common practice, no source).',
    'Kept for as long as fuel of the batch is used, and a year is usual (common practice, no source).',
    'What is left in the end goes the way of fuel, not down a drain.',
  ],
  fuel: (unit) => [
    `Its flash point was not measured: EN 14214 wants at least ${degrees(101, unit)} (EN ISO 2719, 3679), ASTM D6751 ${degrees(93, unit)} (D93). Methanol that is left in it makes it flash far below that.`,
    'A test on the label was made in the field, by hand; it certifies nothing.',
    'Taxes, permits and warranties are the maker’s to ask about.',
  ],
};

const FOR_ALL = ['Local codes and licensed practice come first.'];
