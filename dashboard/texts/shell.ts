import { isolated } from './isolated.ts';

/** Texts of what stands around every page: sound, the tab, a test warning, what a power cut left. */

export const SHELL_TEXTS = {
  sound: {
    legend: 'Sound for alarms',
    choices: { off: 'off', on: 'on' },
    offNotice: 'No sound',
    turnOn: 'turn it on',
    blocked: 'Sound is on, and this browser holds it back: touch the page or press a key.',
    unavailable: 'This browser makes no sound.',
  },
  testWarning: {
    title: 'Test warning: nothing is wrong',
    sent: (site: string, by: string, time: string) => `Sent for ${site} by ${isolated(by)} at ${time}.`,
    close: 'Close',
  },
  powerCut: {
    notice: (vessels: string) => `Nobody watched for a time: ${vessels}.`,
    link: 'How long, how hot now, and what to do',
    linkShort: 'What to do after it',
  },
} as const;
