/** What deserves a second look in a temperature that a device sent. */
export const SENT_DOUBT = {
  title: 'Is it as hot as that?',
  /** `sent` is the number as it came, `shown` and `other` are in the reader's unit. */
  help: (shown: string, sent: string, other: string) =>
    `It shows ${shown} now. Hold a hand near the vessel: if it is as warm as the room, the device sends °F without saying so (${sent} °F are ${other}). Have it send the unit, {"value":${sent},"unit":"degF"}, or °C.`,
  more: 'More of it',
} as const;
