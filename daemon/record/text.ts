import { FUEL_PROPERTIES, FUEL_STANDARDS_NOTE } from '../../shared/chemistry/fuel-limits.ts';
import type { Titration } from '../../shared/plan/request.ts';
import { PLAN_DEFAULTS, resolvePlanRequest } from '../../shared/plan/resolve.ts';
import type { Amount, Balance, Yield } from '../../shared/wire/balance.ts';
import type { Batch } from '../../shared/wire/batch.ts';
import type { EntryWhat } from '../../shared/wire/entries.ts';
import type { LotKnown } from '../../shared/wire/lots.ts';
import type { BatchRecord, RecordTest } from '../../shared/wire/record.ts';
import type { Check, CheckedPoint } from '../../shared/wire/thermometers.ts';
import { channelTitle, unitOf } from '../../shared/words/channels.ts';
import { ENTRY_WORDS, LOT_WORDS, MOVED_WORDS, OIL_NAMES, TEST_WORDS } from '../../shared/words/entries.ts';
import { isToSee, missingName, PRIORITY_WORDS, STAGE_NAMES, toSee } from '../../shared/words/stages.ts';
import { outsideOf, testName } from './fuel-tests.ts';

type BatchStage = Batch['stages'][number];

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
      ? batch.stages.length === 0
        ? 'Open: nothing has begun yet.'
        : `Open, now: ${STAGE_NAMES[batch.stage]}.`
      : `${OUTCOMES[outcome.stage] ?? STAGE_NAMES[outcome.stage]} by ${outcome.by}, ${time(outcome.at)}${outcome.reason === null ? '' : `: ${outcome.reason}`}.`;
  return {
    title: batch.name,
    lead: [
      ...shortOfLine(record),
      `Batch ${batch.id} at ${batch.site}, opened ${time(batch.opened)}. ${ended}`,
      `Covers ${time(record.from)} to ${time(record.to)}. All times UTC.`,
    ],
    sections: [
      planOf(record),
      lotsOf(record),
      stagesOf(record),
      movesOf(record),
      entriesOf(record),
      testsOf(record),
      balanceSection(record),
      figuresOf(record),
      alarmsOf(record),
      channelsOf(record),
      thermometersOf(record),
      chainOf(record),
    ],
    caution:
      'Conversion is an estimate from kinetics and no test; the fuel is not certified by field tests. ' +
      `${FUEL_STANDARDS_NOTE} ` +
      'This record was made by a tool that watches and warns: it is no safety interlock. Local codes and licensed practice come first.',
  };
}

const OUTCOMES: Partial<Record<string, string>> = {
  finished: 'Finished and released',
  rejected: 'Rejected',
  void: 'Opened by mistake',
};

const WITH: Partial<Record<string, string>> = {
  finished: 'Released with',
  rejected: 'Rejected with',
  void: 'Opened by mistake, with',
};

/** What the newest tests of the fuel have against it; nothing where they have nothing. */
function shortOfLine({ tests, outcome }: BatchRecord): string[] {
  const against = tests.flatMap((test) => {
    const outside = outsideOf(test);
    const words = [
      test.passed === false && 'not passed',
      outside.length > 0 && `OUTSIDE ${outside.join(' and ')}`,
    ].filter(Boolean);
    return words.length === 0 ? [] : [`${testName(test)} ${words.join(', ')}`];
  });
  const how = outcome === null ? 'So far with' : (WITH[outcome.stage] ?? 'Ended with');
  return against.length === 0 ? [] : [`${how} ${against.join('; ')}.`];
}

/** A time as people read it, UTC. */
export const time = (iso: string): string => `${iso.slice(0, 10)} ${iso.slice(11, 19)}`;
const round = (value: number, digits: number): string => value.toFixed(digits);
const maybe = (value: number | null | undefined, digits: number, unit: string): string =>
  value == null ? '–' : `${round(value, digits)} ${unit}`;

function planOf({ batch: { computed, plan, request, madeLike, template } }: BatchRecord): Section {
  const { oil, catalyst } = resolvePlanRequest(request);
  const rows: [string, string][] = [
    ['Reaction', `${plan.requiredReactionMinutes} min at ${plan.reactionTemperatureC} °C`],
    ['Settling', `${plan.requiredSettleHours} h`],
  ];
  if (computed !== null) {
    const { passes, methoxidePortions, methoxidePortionG, methoxideNextBelowC } = computed;
    rows.unshift(
      [
        'Oil',
        `${oil.volumeL} L, ${OIL_NAMES[oil.kind]}, at ${oil.volumeAtC} °C, ${round(computed.oilKg, 2)} kg`,
      ],
      ['Titration', request.oil?.titration ? titrationText(request.oil.titration) : 'not titrated'],
      ['Methanol', `${round(computed.methanolL, 2)} L, ${round(computed.methanolKg, 2)} kg`],
      ['Lye', `${round(computed.catalystG, 1)} g ${computed.catalyst} of ${catalyst.purityPercent} % purity`],
      [
        'Portions of it',
        methoxidePortions === null
          ? 'none is small enough to keep the methoxide cool'
          : `${methoxidePortions} of at most ${round(methoxidePortionG, 1)} g, the next below ${round(methoxideNextBelowC, 1)} °C`,
      ],
      ...passes.map(({ sharePercent, methanolL, catalystG }, i): [string, string] => [
        `Pass ${i + 1} of ${passes.length}`,
        `${Number(sharePercent.toFixed(1))} %: ${round(methanolL, 2)} L of methanol, ${round(catalystG, 1)} g ${computed.catalyst}`,
      ]),
      ['Methanol boils at', `${round(computed.methanolBoilingC, 1)} °C`],
    );
  }
  if (madeLike !== null) rows.push(['Made like', `batch ${madeLike}`]);
  if (template !== null) rows.push(['From the template', template]);
  return { title: 'Plan, as frozen at the start', none: '', heads: ['What', 'How much'], rows };
}

function lotsOf({ lots }: BatchRecord): Section {
  return {
    title: 'Lots',
    none: 'No lot was drawn from.',
    heads: ['When', 'By', 'Kind', 'Lot', 'Amount', 'Known of it then', 'Remark'],
    rows: lots.map(({ at, by, kind, name, fromBatch, litres, kg, known, caution, deviation, undone }) => [
      time(at),
      by,
      LOT_WORDS[kind],
      fromBatch === null ? name : `batch ${name}`,
      litres === null ? `${kg} kg` : `${litres} L`,
      knownText(known),
      [
        deviation && `${deviation.missing.map(lackText).join(', ')}: ${deviation.reason}`,
        caution,
        undone && `undone by ${undone.by}, ${time(undone.at)}: ${undone.reason}`,
      ]
        .filter(Boolean)
        .join('; '),
    ]),
  };
}

const titrationText = ({ mL, blankMl, gPerL, sampleMl, titrant }: Titration): string =>
  `titrated, ${[mL].flat().join(', ')} mL (blank ${blankMl ?? PLAN_DEFAULTS.titration.blankMl}) of ` +
  `${gPerL ?? PLAN_DEFAULTS.titration.gPerL} g/L ${titrant} on ` +
  `${sampleMl ?? PLAN_DEFAULTS.titration.sampleMl} mL`;

function knownText({ titration, waterPpm, filtered, purityPercent }: LotKnown): string {
  return [
    titration && titrationText(titration),
    waterPpm !== null && `${waterPpm} ppm water`,
    filtered !== null && (filtered ? 'filtered' : 'not filtered'),
    purityPercent !== null && `${purityPercent} % pure`,
  ]
    .filter(Boolean)
    .join('; ');
}

function stagesOf({ batch }: BatchRecord): Section {
  return {
    title: 'Stages',
    none: 'No stage was noted.',
    heads: ['From', 'Stage', 'Vessel', 'By', 'Seen, and what was not'],
    rows: batch.stages.map(({ at, stage, vessel, by, ...stageNotes }) => [
      time(at),
      STAGE_NAMES[stage],
      vessel,
      by,
      stageText(stageNotes),
    ]),
  };
}

function stageText({ deviation, seen, unseen, reason }: Omit<BatchStage, 'at' | 'by' | 'stage' | 'vessel'>) {
  return [
    deviation && `WENT ON EARLY: ${deviation.reason} (${deviation.missing.map(missingText).join('; ')})`,
    reason,
    seen.length > 0 && `seen: ${seen.map(toSee).join('; ')}`,
    unseen.length > 0 && `nobody confirmed: ${unseen.map(askedText).join('; ')}`,
  ]
    .filter(Boolean)
    .join('; ');
}

const askedText = (what: string): string => (isToSee(what) ? toSee(what) : missingName(what).name);

function missingText({ what, has, needs }: NonNullable<BatchStage['deviation']>['missing'][number]): string {
  if (needs === 1 && has === 0) return askedText(what);
  const { name, unit } = missingName(what);
  return `${name} ${round(has, 1)} of ${round(needs, 1)} ${unit === '°' ? '°C' : unit}`.trim();
}

const LACKS: Partial<Record<string, string>> = {
  stock: 'less is there than was drawn',
  'open-lot': 'the lot is closed',
  'base-as-planned': 'another lye than planned',
};

const lackText = ({ what, has, needs }: { what: string; has: number; needs: number }): string => {
  const amount = needs === 1 && has === 0 ? '' : `, ${has} of ${needs}`;
  return `${LACKS[what] ?? what.replaceAll('-', ' ')}${amount}`;
};

function movesOf({ batch: { moves } }: BatchRecord): Section {
  return {
    title: 'Moved to another vessel',
    none: 'Nothing was moved.',
    heads: ['When', 'What', 'From', 'To', 'By'],
    rows: moves.map(({ at, what, litres, from, to, by }) => [
      time(at),
      `${litres} L, ${MOVED_WORDS[what]}`,
      from,
      to,
      by,
    ]),
  };
}

function testsOf({ tests }: BatchRecord): Section {
  return {
    title: 'Tests of the fuel, beside the standards',
    none: 'The fuel was not tested.',
    heads: ['Test', 'When', 'By', 'What it says', 'Limits, and whether it is within them'],
    rows: tests.map(({ test, at, by, says, property, value, limits }) => [
      TEST_WORDS[test as keyof typeof TEST_WORDS] ?? test,
      time(at),
      by,
      says,
      property === null
        ? 'no standard has it'
        : [`${property} ${Number(value!.toPrecision(4))}`, ...limits.map(limitText)].join('; '),
    ]),
  };
}

const limitText = ({ standard, unit, least, most, within }: RecordTest['limits'][number]): string => {
  const range = [least !== null && `from ${least}`, most !== null && `to ${most}`].filter(Boolean).join(' ');
  return `${within ? 'within' : 'OUTSIDE'} ${standard} (${range} ${unit})`;
};

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
      return `${ENTRY_WORDS.weighing[what.what]} weighed, ${what.kg} kg`;
    case 'drained':
      return `${ENTRY_WORDS.drained[what.what]} drained, ${what.litres} L`;
    case 'volume':
      return `${ENTRY_WORDS.volume[what.what]} measured, ${what.litres} L${what.atC === undefined ? '' : ` at ${what.atC} °C`}`;
    case 'handed-out': {
      return `${what.litres} L of fuel ${ENTRY_WORDS.use[what.use]}${what.to === undefined ? '' : `: ${what.to}`}`;
    }
    case 'wash': {
      const water = what.waterL === undefined ? '' : `, ${what.waterL} L of water`;
      const emulsion = what.emulsion ? ', emulsion' : '';
      return `washed, ${ENTRY_WORDS.method[what.method]}${water}${emulsion}${what.remedy === undefined ? '' : `: ${what.remedy}`}`;
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
    case 'laboratory':
      return `laboratory: ${FUEL_PROPERTIES[what.property]} ${what.value}${what.method === undefined ? '' : ` (${what.method})`}`;
    case 'titration':
      return `titration: ${[what.mL].flat().join(', ')} mL (${what.titrant})`;
    case 'water':
      return `water, ${what.ppm} ppm`;
    case 'freezer':
      return `clear in the freezer down to ${what.clearAtC} °C`;
    case 'density':
      return `density ${what.kgPerM3} kg/m³ at ${what.atC} °C`;
  }
}

const ORIGINS: Record<Amount['from'], string> = {
  weighed: 'weighed',
  measured: 'measured by volume',
  drained: 'drained',
  moved: 'moved to another vessel',
  noted: 'noted with the washes',
  drawn: 'drawn',
  planned: 'planned; nobody noted it',
  none: 'none noted',
  missing: 'not noted',
};

function balanceSection({ balance, yield: gave }: BatchRecord): Section {
  const row = (what: string, { kg, litres, from }: Amount): string[] => [
    what,
    maybe(kg, 2, 'kg'),
    maybe(litres, 2, 'L'),
    ORIGINS[from],
  ];
  const { in: into, out, methanol } = balance;
  return {
    title: 'Balance',
    none: '',
    heads: ['What', 'Mass', 'Volume at 20 °C', 'How it is known'],
    rows: [
      row('In: oil', into.oil),
      row('In: methanol', into.methanol),
      row('In: lye', { ...into.catalyst, litres: null }),
      ...(into.sulphuricAcid.from === 'none' ? [] : [row('In: sulphuric acid', into.sulphuricAcid)]),
      row('In: wash water', into.water),
      row('Out: fuel', out.fuel),
      row('Out: glycerol layer', out.glycerol),
      row('Out: water', out.water),
      row('Out: methanol recovered', out.methanolRecovered),
      ['Does not add up', maybe(balance.unaccountedKg, 2, 'kg'), '', addsUp(balance)],
      [
        'Methanol not recovered',
        maybe(methanol.notRecoveredKg, 2, 'kg'),
        '',
        methanol.notRecoveredKg === null
          ? '–'
          : `${round(methanol.reactedKg!, 2)} kg reacted (estimate); the rest is left in fuel and glycerol, or lost`,
      ],
      [
        'Yield',
        maybe(gave.kgPerKg, 3, 'kg per kg of oil'),
        maybe(gave.litresPerLitre, 3, 'L per L of oil'),
        '',
      ],
      ...besidePlan(gave),
      ...besideEarlier(gave),
      ...balance.notes.map((note) => ['Note', '', '', note]),
    ],
  };
}

const addsUp = ({ unaccountedPercent, missing, in: into }: Balance): string =>
  unaccountedPercent === null
    ? `missing: ${missing.map(({ says }) => says).join('; ')}`
    : `${round(unaccountedPercent, 1)} % of what ${
        Object.values(into).some(({ from }) => from === 'planned') ? 'was planned to go in' : 'went in'
      }`;

function besidePlan({ planned }: Yield): string[][] {
  if (planned === null) return [];
  const { fuel, litres, litresLow, litresHigh, percent, lies } = planned;
  const bounds = `${round(litresLow, 1)}–${round(litresHigh, 1)} L`;
  const where = percent === null ? '' : `: ${round(percent, 1)} % of it, ${lies} ${bounds}`;
  return [['Planned', '', `${round(litres, 1)} L`, `${fuel} fuel${where}`]];
}

function besideEarlier({ earlier: { known, median, least, most } }: Yield): string[][] {
  if (median === null) return [];
  const bounds = `${round(least!, 3)} to ${round(most!, 3)}`;
  return [['Earlier batches', '', `${round(median, 3)} L per L of oil`, `median of ${known}, ${bounds}`]];
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
      PRIORITY_WORDS[priority],
      because,
      [
        acknowledged &&
          `seen by ${acknowledged.by}, ${time(acknowledged.at)}${acknowledged.reason === null ? '' : `: ${acknowledged.reason}`}`,
        shelved && `set aside by ${shelved.by} until ${time(shelved.until)}: ${shelved.reason}`,
      ]
        .filter(Boolean)
        .join('; '),
    ]),
  };
}

/** °C, since a record is in the units that are kept. */
const withUnit = (channel: string): string => {
  const unit = unitOf(channel, '°C');
  return `${channelTitle(channel)}${unit === '' ? '' : `, ${unit}`}`;
};

function channelsOf({ channels }: BatchRecord): Section {
  return {
    title: 'Channels',
    none: 'There are no readings.',
    heads: ['Vessel', 'Channel', 'Readings', 'Least', 'Mean', 'Most'],
    rows: channels.map(({ vessel, channel, readings, least, mean, most }) => [
      vessel,
      withUnit(channel),
      String(readings),
      ...[least, mean, most].map((value) => String(Number(value.toPrecision(6)))),
    ]),
  };
}

function thermometersOf({ thermometers }: BatchRecord): Section {
  return {
    title: 'Thermometers',
    none: 'No thermometer was read.',
    heads: ['Vessel', 'Channel', 'Checked', 'By', 'Sent, and what the bath was', 'To be checked again'],
    rows: thermometers.flatMap(({ vessel, channel, checks, overdue }) => {
      const name = [vessel, channelTitle(channel)];
      if (checks.length === 0) return [[...name, 'NOT CHECKED: as it was sent', '', '', '']];
      return checks.map((check) => [
        ...name,
        time(check.at),
        check.by,
        checkText(check),
        `by ${check.due}${overdue && check === checks.at(-1) ? ': OVERDUE' : ''}`,
      ]);
    }),
  };
}

function checkText({ ice, boiling, deviation, ended }: Check): string {
  const inBath = ({ sentC, trueC }: CheckedPoint): string =>
    `${round(sentC, 2)} °C, was ${round(trueC, 2)} °C`;
  return [
    ice && `ice water ${inBath(ice)}`,
    boiling && `boiling water at ${round(boiling.pressureHPa, 1)} hPa ${inBath(boiling)}`,
    deviation && `LARGE ERROR, kept: ${deviation.reason}`,
    ended && ended.reason !== null && `withdrawn by ${ended.by}, ${time(ended.at)}: ${ended.reason}`,
  ]
    .filter(Boolean)
    .join('; ');
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
