import type { EntryWhat } from '../../shared/wire/entries.ts';
import type { BatchRecord } from '../../shared/wire/record.ts';

/** What a record says in words and tables, the same on paper and on a page. */
export interface RecordText {
  title: string;
  /** What it was, and how it ended. */
  lead: readonly string[];
  sections: readonly Section[];
  /** What it is not. */
  caution: string;
}

export interface Section {
  title: string;
  /** Said where there is no row. */
  none: string;
  heads: readonly string[];
  rows: readonly (readonly string[])[];
}

export function recordText(record: BatchRecord): RecordText {
  const { batch, outcome } = record;
  const ended =
    outcome === null
      ? `Open: in ${batch.stage}.`
      : `${OUTCOMES[outcome.stage] ?? outcome.stage} by ${outcome.by}, ${time(outcome.at)}.`;
  return {
    title: batch.name,
    lead: [
      `Batch ${batch.id} at ${batch.site}, opened ${time(batch.opened)}. ${ended}`,
      `Covers ${time(record.from)} to ${time(record.to)}. All times UTC.`,
    ],
    sections: [
      planOf(record),
      stagesOf(record),
      entriesOf(record),
      figuresOf(record),
      alarmsOf(record),
      channelsOf(record),
      chainOf(record),
    ],
    caution:
      'Conversion is an estimate from kinetics and no test; the fuel is not certified by field tests. ' +
      'This record was made by a tool that watches and warns: it is no safety interlock. Local codes and licensed practice come first.',
  };
}

const OUTCOMES: Partial<Record<string, string>> = {
  finished: 'Finished',
  rejected: 'Rejected',
  void: 'Declared void',
};

/** A time as people read it, UTC. */
export const time = (iso: string): string => `${iso.slice(0, 10)} ${iso.slice(11, 19)}`;
const round = (value: number, digits: number): string => value.toFixed(digits);
const maybe = (value: number | null | undefined, digits: number, unit: string): string =>
  value == null ? '–' : `${round(value, digits)} ${unit}`;

function planOf({ batch: { computed, plan } }: BatchRecord): Section {
  const rows: [string, string][] = [
    ['Reaction', `${plan.requiredReactionMinutes} min at ${plan.reactionTemperatureC} °C`],
    ['Settling', `${plan.requiredSettleHours} h`],
  ];
  if (computed !== null)
    rows.unshift(
      ['Oil', `${round(computed.oilKg, 2)} kg`],
      ['Methanol', `${round(computed.methanolL, 2)} L, ${round(computed.methanolKg, 2)} kg`],
      ['Catalyst', `${round(computed.catalystG, 1)} g ${computed.catalyst}`],
      ['Methanol boils at', `${round(computed.methanolBoilingC, 1)} °C`],
    );
  return { title: 'Plan, as frozen at the start', none: '', heads: ['What', 'How much'], rows };
}

function stagesOf({ batch }: BatchRecord): Section {
  return {
    title: 'Stages',
    none: 'No stage was noted.',
    heads: ['From', 'Stage', 'Vessel', 'By', 'Deviation'],
    rows: batch.stages.map(({ at, stage, vessel, by, deviation }) => [
      time(at),
      stage,
      vessel,
      by,
      deviation === null
        ? ''
        : `${deviation.missing.map(({ what, has, needs }) => `${what} ${round(has, 1)} of ${round(needs, 1)}`).join(', ')}: ${deviation.reason}`,
    ]),
  };
}

function entriesOf({ batch: { entries } }: BatchRecord): Section {
  return {
    title: 'Noted by hand',
    none: 'Nothing was noted.',
    heads: ['No.', 'When', 'By', 'What', 'What it says', 'Correction'],
    rows: entries.map(({ id, at, by, vessel, what, result, corrects, correctedBy }) => [
      shortId(id),
      time(at),
      by,
      `${vessel}: ${entryText(what)}`,
      result?.says ?? '',
      [
        corrects && `instead of ${shortId(corrects.entry)}: ${corrects.reason}`,
        correctedBy && `corrected by ${shortId(correctedBy)}`,
      ]
        .filter(Boolean)
        .join('; '),
    ]),
  };
}

/** Its number in the batch. */
export const shortId = (id: string): string => id.slice(id.lastIndexOf('-') + 1);

function entryText(what: EntryWhat): string {
  switch (what.kind) {
    case 'note':
      return what.text;
    case 'weighing':
      return `${what.what} weighed, ${what.kg} kg`;
    case 'drained':
      return `${what.what} drained, ${what.litres} L`;
    case 'wash': {
      const water = what.waterL === undefined ? '' : `, ${what.waterL} L of water`;
      const emulsion = what.emulsion ? ', emulsion' : '';
      return `washed, ${what.method}${water}${emulsion}${what.remedy === undefined ? '' : `: ${what.remedy}`}`;
    }
    case 'test':
      return testText(what);
    case 'photograph':
      return `photograph${what.text === '' ? '' : `: ${what.text}`}`;
  }
}

function testText(what: Extract<EntryWhat, { kind: 'test' }>): string {
  switch (what.test) {
    case '3/27':
      return `3/27: ${what.fuelMl} mL of fuel in ${what.methanolMl} mL of methanol, ${what.dropoutMl} mL drop out`;
    case 'shake':
      return 'shaken with water';
    case 'soap':
      return `soap titration: ${what.acidMl} mL of acid`;
    case 'water':
      return `water, ${what.ppm} ppm`;
    case 'freezer':
      return `clear in the freezer down to ${what.clearAtC} °C`;
    case 'density':
      return `density ${what.kgPerM3} kg/m³ at ${what.atC} °C`;
  }
}

function figuresOf({ batch, vessels }: BatchRecord): Section {
  return {
    title: 'What the readings show',
    none: 'No vessel was watched.',
    heads: ['Vessel', 'Reaction', 'Settling', 'Conversion (estimate)', 'Hottest', 'Nearest to boiling'],
    rows: vessels.map((vessel) => [
      vessel.vessel,
      // What is earned is the batch's, whichever vessel it was earned in.
      ...(vessel.vessel === batch.vessel ? earned(vessel) : ['', '', '']),
      maybe(vessel.highestLiquidC, 1, '°C'),
      maybe(vessel.smallestHeadroomC, 1, '°C below'),
    ]),
  };
}

const earned = (vessel: BatchRecord['vessels'][number]): string[] => [
  `${round(vessel.creditedReactionMinutes, 1)} min`,
  `${round(vessel.creditedSettleHours, 1)} h`,
  `${round(vessel.conversionPercent, 1)} % (${round(vessel.conversionPercentLow, 1)}–${round(vessel.conversionPercentHigh, 1)})`,
];

function alarmsOf({ alarms }: BatchRecord): Section {
  return {
    title: 'Alarms',
    none: 'None was raised.',
    heads: ['Raised', 'Cleared', 'Vessel', 'Priority', 'What', 'Who did what'],
    rows: alarms.map(({ at, clearedAt, vessel, priority, because, acknowledged, shelved }) => [
      time(at),
      clearedAt === null ? 'stands' : time(clearedAt),
      vessel,
      priority,
      because,
      [
        acknowledged &&
          `acknowledged by ${acknowledged.by}, ${time(acknowledged.at)}${acknowledged.reason === null ? '' : `: ${acknowledged.reason}`}`,
        shelved && `shelved by ${shelved.by} until ${time(shelved.until)}: ${shelved.reason}`,
      ]
        .filter(Boolean)
        .join('; '),
    ]),
  };
}

function channelsOf({ channels }: BatchRecord): Section {
  return {
    title: 'Channels',
    none: 'There are no readings.',
    heads: ['Vessel', 'Channel', 'Readings', 'Least', 'Mean', 'Most'],
    rows: channels.map(({ vessel, channel, readings, least, mean, most }) => [
      vessel,
      channel,
      String(readings),
      ...[least, mean, most].map((value) => String(Number(value.toPrecision(6)))),
    ]),
  };
}

function chainOf({ chain, made }: BatchRecord): Section {
  const heads = chain.sealed === null ? [chain] : [chain.sealed, chain];
  return {
    title: `History, as of ${time(made)}`,
    none: '',
    heads: ['Entries of the site', 'Head of the chain'],
    rows: heads.map(({ entries, head }) => [String(entries), head]),
  };
}
