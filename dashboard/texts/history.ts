import type { Deed } from '../../shared/wire/history.ts';
import { isolated } from './isolated.ts';

export { channelTitle, unitOf } from '../../shared/words/channels.ts';

/** Texts of charts and of the page of a vessel's history. */

const DEED_WORDS: Readonly<Record<Deed, string>> = {
  'batch-opened': 'Batch opened',
  stage: 'Stage begun',
  moved: 'Liquid moved',
  entry: 'Noted by hand',
  draw: 'Drawn from a lot',
  acknowledge: 'Alarm seen',
  shelve: 'Alarm set aside',
  'site-stated': 'Altitude or pressure stated',
  'vessel-emptied': 'Vessel emptied',
  'thermometer-checked': 'Thermometer checked: corrected from here on',
  'thermometer-check-withdrawn': 'Thermometer corrected no more from here on',
  started: 'Watching again after a break',
};

export const deedWord = (deed: Deed): string => DEED_WORDS[deed];

const ENTRIES: Readonly<Record<string, string>> = {
  note: 'note',
  weighing: 'weighing',
  drained: 'drained',
  volume: 'volume',
  'handed-out': 'handed out',
  wash: 'wash',
  test: 'test',
  photograph: 'photograph',
};

export const entryWord = (kind: string): string => ENTRIES[kind] ?? kind.replaceAll('-', ' ');

export const HISTORY = {
  title: (vessel: string) => `${vessel}: all that was read`,
  lead: (site: string) => `at ${site}`,
  back: (vessel: string) => `To ${vessel}`,
  more: 'Any range, as a file or a picture',
  unknown: 'No vessel of that name has sent a reading.',
  noChannels: 'Nothing was read in this vessel yet.',

  region: 'Charts',
  group: 'Charts of all channels on one time axis',
  hint: 'Drag to move; pinch, or Ctrl and the wheel, to zoom; after a click into the charts the wheel alone. Keys: ← → move, + − zoom, Home to the beginning, End to now, Shift with ← → moves the cursor, Escape takes it away.',
  hintTitle: 'Moving and zooming',
  spanLabel: 'Length shown',
  spans: {
    900000: '15 min',
    3600000: '1 h',
    21600000: '6 h',
    86400000: '24 h',
    604800000: '7 days',
    2592000000: '30 days',
    31536000000: 'a year',
  } as Readonly<Record<number, string>>,
  earlier: 'Earlier',
  later: 'Later',
  now: 'Now',
  nearer: 'Zoom in',
  farther: 'Zoom out',
  between: (from: string, to: string) => `${from} to ${to}`,

  probes: 'Liquid temperature',
  unread: '(kept and drawn; no rule reads it)',
  titled: (title: string, unit: string) => (unit === '' ? title : `${title}, ${unit}`),
  last: (value: string) => `last ${value}`,
  spread: (least: string, most: string) => `${least} to ${most}`,
  extremes: (least: string, most: string) => `least ${least}, most ${most}`,
  nothingThere: 'no reading',
  none: 'No readings in this time.',
  unheard: 'Not known: the link is lost.',
  loading: 'Fetching readings …',
  failed: 'The readings could not be fetched.',
  unfit: 'These readings cannot be drawn: the answer is not in order.',
  offAxis: 'Some readings are out of range and lie beyond the axis.',
  on: 'on',
  off: 'off',
  partly: (percent: string) => `on for ${percent} %`,
  boiling: 'methanol boils',
  planned: 'plan',
  lowest: 'lowest wanted',
  boilingNote:
    'The hatched line is methanol’s boiling point as it was: from the pressure in the vessel, a barometer of the place, or its altitude, ±0.25 °C. Grey bands span the least and the most of what one point stands for.',
  boilingFailed: 'Methanol’s boiling point could not be fetched: its line is missing, or ends too early.',
  again: 'Fetch again',

  cursorAt: (time: string) => `At ${time}`,
  cursorNone: 'Point at the charts or touch them to read all channels at one moment.',
  belowBoiling: (apart: string) => `${apart} below boiling`,
  aboveBoiling: (apart: string) => `${apart} above boiling`,
  saidAt: (time: string, stage: string, values: string) =>
    `${time}${stage === '' ? '' : `, ${stage}`}: ${values}`,

  lanes: ['alarms', 'people'] as const,
  gathered: (count: number) => `${count} here`,
  happened: 'What happened in this time',
  nothingHappened: 'No alarm, and nobody noted anything.',
  moreHappened: 'More happened than is listed: choose a shorter time.',
  columns: { at: 'When', what: 'What', who: 'Who' },
  openAlarm: 'Why it came',
  openBatch: 'The batch',
  showTime: 'Show in the charts',
  until: (time: string) => `until ${time}`,
  stands: 'stands',

  range: 'Choose a range',
  tools: 'Range, batch and channels',
  from: 'From',
  to: 'To',
  show: 'Show this range',
  wrongRange: 'Two times, please, the first before the second and before now.',
  batch: 'A batch',
  thisBatch: (name: string) => `This batch: ${isolated(name)}`,
  chooseBatch: 'choose one',
  channels: 'Channels shown',
  files: 'Take it along',
  csv: (channel: string) => `${channel} as CSV`,
  csvHelp: 'Every single reading of the range, unrounded, times in UTC, temperatures in °C.',
  png: 'Charts as a picture (PNG)',
  pngBusy: 'Drawing …',
  pngFailed: 'The picture could not be made.',
  link: 'The address of this page keeps the range and the channels: send it to show somebody the same.',

  pictureTitle: (vessel: string, site: string) => `${vessel} at ${site}`,
  pictureRange: (from: string, to: string, zone: string) => `${from} to ${to} (${zone})`,
  pictureStep: (each: string) =>
    `Each point stands for ${each}; grey bands span its least and most. A gap in a line: no readings.`,
  pictureSingle: 'Single readings. A gap in a line: no readings.',
  pictureBoiling: 'Hatched: methanol boils, from the pressure as it was, ±0.25 °C.',
  pictureLost: (time: string) => `The link was lost: what came after ${time} is not known.`,
  pictureMade: (time: string, product: string) => `Drawn by ${product}, ${time}`,
} as const;
