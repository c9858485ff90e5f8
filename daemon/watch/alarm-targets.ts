import type { AlarmMeasures } from '../../shared/wire/alarm-measures.ts';

type Target = AlarmMeasures['targets'][number];

const EDITION_2009 = 'ANSI/ISA-18.2-2009';
const EDITION_2016 = 'ANSI/ISA-18.2-2016';
const BOTH = 'ANSI/ISA-18.2; IEC 62682:2014';
/** The standards themselves were not at hand. */
const AS_REPRINTED = 'as publicly reprinted';

const target = (
  measure: string,
  is: Target['is'],
  value: number,
  source: string,
  { note = null, manageable = null }: { note?: string | null; manageable?: number | null } = {},
): Target => ({ measure, is, value, manageable, note, source: `${source}, ${AS_REPRINTED}` });

const ONE_OPERATOR = 'per operator; here the whole daemon counts as one operator’s';

/** What the alarm management standards give for the measures, in the order of the answer. */
export const ALARM_TARGETS: readonly Target[] = [
  target('days', 'at-least', 30, EDITION_2009),
  target('perDay.mean', 'at-most', 150, EDITION_2009, { manageable: 300, note: ONE_OPERATOR }),
  target('perTenMinutes.mean', 'at-most', 1, EDITION_2016, { manageable: 2, note: ONE_OPERATOR }),
  target('perTenMinutes.highest.count', 'at-most', 10, BOTH, {
    note: 'more is a flood; another reprint has “10 or more”',
  }),
  target('perTenMinutes.floodPercent', 'under', 1, BOTH),
  target('byPriority.low.percent', 'about', 80, EDITION_2009),
  target('byPriority.medium.percent', 'about', 15, EDITION_2009),
  target('byPriority.high.percent', 'about', 5, EDITION_2009),
  target('byPriority.critical.percent', 'under', 1, EDITION_2009, {
    note: 'where there are four priorities',
  }),
  target('mostFrequent.percent', 'at-most', 5, EDITION_2009, {
    note: '1 to 5 %, meant for plants with hundreds of alarms: with few it is more as a matter of course',
  }),
  target('stale.mostOnOneDay', 'under', 5, BOTH),
  target('chattering.length', 'at-most', 0, BOTH, {
    note: 'the standards describe chattering in words; “at least 3 in 60 s” is practice, not the standard',
  }),
];
