/** A value as a sensor gives it, in the unit of its kind, and how long it has been there, ms. */
export interface Measured {
  value: number;
  ageMs: number;
}

/** One stream of values. */
export interface Source {
  /** Where it is, for a person: `1-Wire 28-0316a2791eff`. */
  readonly place: string;
  /** The unit of what it gives; empty where nobody can know it. */
  readonly unit: string;
  /**
   * What it shows now; null where there is nothing new since the last look (a serial line), or not yet enough to tell
   * (a counter needs two looks).
   * @throws SourceTrouble
   */
  read(): Promise<Measured | null>;
  close(): void;
}

/** Why there is no value, as a sentence that says what to do. What a device sent in it is made fit for a terminal. */
export class SourceTrouble extends Error {
  /** The same for the same trouble, also where the sentence has in it what a device sent, which is another each time. */
  readonly kind: string;

  constructor(message: string, kind = message) {
    super(message.replace(/\p{Cc}/gu, escaped));
    this.kind = kind;
  }
}

/** A control character (0x00 to 0x1f, 0x7f to 0x9f) as JSON has it: some make a terminal do things. */
const escaped = (control: string): string => `\\u${control.codePointAt(0)!.toString(16).padStart(4, '0')}`;
