/** Letters and marks that change the direction of what stands around them. */
const TURNS =
  /[\u0590-\u08ff\u200e\u200f\u202a-\u202e\u2066-\u2069\ufb1d-\ufdff\ufe70-\ufefc]|[\ud802\ud803\ud83a\ud83b]/;
/** What a name itself could end its isolation with. */
const ENDS = /[\u202a-\u202e\u2066-\u2069]/g;

/** What a person typed, inside a sentence of ours: its direction stays its own. Elements of their own are a `<bdi>`. */
export const isolated = (name: string): string =>
  TURNS.test(name) ? `\u2068${name.replaceAll(ENDS, '')}\u2069` : name;
