import { Replay } from '../../../shared/engine/replay.ts';
import { withLimits } from '../../../shared/engine/with-limits.ts';
import type { Limits } from '../../../shared/rules/limits.ts';
import { parseReplayLine } from '../../../shared/wire/replay-line.ts';

/** What a replay says of an alarm. */
export interface Told {
  at: string;
  vessel: string;
  alarm: string;
  event: 'raised' | 'cleared';
}

/** Lines that are played before others get their turn: some 20 ms. */
const LINES_A_TURN = 4000;

/**
 * A recorded run that is kept to be played more than once. Its readings lie in columns: a day at 1 Hz has some
 * hundred thousand, and as text they would take ten times the room.
 */
export class RecordedRun {
  readonly #atMs: number[] = [];
  readonly #arrivedMs: number[] = [];
  readonly #values: number[] = [];
  readonly #places: number[] = [];
  readonly #names: { vessel: string; channel: string; typed: boolean; stamped: boolean }[] = [];
  readonly #known = new Map<string, number>();
  /** Every other line, with how many readings stand before it. */
  readonly #rare: { after: number; line: string }[] = [];

  get readings(): number {
    return this.#values.length;
  }

  /** Whose readings they are. */
  get vessels(): string[] {
    return [...new Set(this.#names.map(({ vessel }) => vessel))];
  }

  get lines(): number {
    return this.#values.length + this.#rare.length;
  }

  /** Of the readings, epoch ms; null where there are none. */
  get span(): { fromMs: number; toMs: number } | null {
    return this.readings === 0 ? null : { fromMs: this.#atMs[0]!, toMs: this.#atMs.at(-1)! };
  }

  add(line: string): void {
    if (line.trim() === '') return;
    const parsed = line.startsWith('{"type":"reading"') ? parseReplayLine(line) : null;
    if (parsed?.type !== 'reading' || parsed.seq !== null) {
      this.#rare.push({ after: this.readings, line });
      return;
    }
    const { vessel, channel, typed, stamped } = parsed;
    const key = `${vessel} ${channel} ${typed} ${stamped}`;
    let place = this.#known.get(key);
    if (place === undefined) {
      place = this.#names.push({ vessel, channel, typed, stamped }) - 1;
      this.#known.set(key, place);
    }
    this.#places.push(place);
    this.#atMs.push(parsed.atMs);
    this.#arrivedMs.push(parsed.arrivedMs);
    this.#values.push(parsed.value);
  }

  /** Plays it with these limits over those of the plans, some lines at a time; gives what the rules say. */
  *play(limits: Partial<Limits>): Generator<undefined, Told[]> {
    const replay = new Replay();
    const told: Told[] = [];
    const hear = (lines: readonly object[]): void => {
      for (const line of lines) if ('event' in line) told.push(line as Told);
    };
    let rare = 0;
    for (let i = 0; i <= this.readings; i++) {
      for (; rare < this.#rare.length && this.#rare[rare]!.after === i; rare++) {
        hear(replay.push(withLimits(this.#rare[rare]!.line, limits)));
      }
      if (i === this.readings) break;
      const atMs = this.#atMs[i]!;
      const arrivedMs = this.#arrivedMs[i]!;
      const name = this.#names[this.#places[i]!]!;
      hear(replay.read({ type: 'reading', ...name, atMs, arrivedMs, value: this.#values[i]!, seq: null }));
      if (i % LINES_A_TURN === LINES_A_TURN - 1) yield;
    }
    hear(replay.end());
    return told;
  }
}
