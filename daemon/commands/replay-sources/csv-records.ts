import { LINE_TOO_LONG } from './lines.ts';
import { type RefusedLine, refusedLine } from './source.ts';

/** Fields of a record, and the line it begins in. */
export interface CsvRecord {
  line: number;
  fields: string[];
}

/**
 * A quoted field that holds more line breaks than this, or more characters, was left open by mistake.
 */
const MOST_RECORD_LINES = 20;
const MOST_RECORD_LENGTH = 65_536;

/**
 * Puts lines together into the records of a CSV file (RFC 4180; any separator, records may differ in
 * length, empty lines are passed over). A record whose quotes are wrong costs its first line alone: what
 * follows is read again from the next line.
 */
export class CsvRecords {
  readonly #separator: string;
  readonly #skipLines: number;
  #line = 0;
  /** Lines of a record in which a quote is still open. */
  #open: string[] = [];

  /** The first so many lines are passed over, whatever stands in them. */
  constructor(separator: string, skipLines = 0) {
    this.#separator = separator;
    this.#skipLines = skipLines;
  }

  /** Takes the next line, without its line feed; null for one that is too long. */
  push(line: string | null): (CsvRecord | RefusedLine)[] {
    if (this.#line < this.#skipLines) {
      this.#line++;
      return [];
    }
    if (line === null) {
      const before = this.end();
      return [...before, refusedLine(++this.#line, LINE_TOO_LONG)];
    }
    this.#line++;
    if (this.#open.length === 0 && !line.includes('"')) {
      const text = withoutReturn(line);
      return text === '' ? [] : [{ line: this.#line, fields: text.split(this.#separator) }];
    }
    this.#open.push(line);
    const text = withoutReturn(this.#open.join('\n'));
    const fields = splitQuoted(text, this.#separator);
    if (typeof fields === 'object') {
      const first = this.#line - this.#open.length + 1;
      this.#open = [];
      return [{ line: first, fields }];
    }
    const mayClose = this.#open.length < MOST_RECORD_LINES && text.length < MOST_RECORD_LENGTH;
    return fields === 'open' && mayClose ? [] : this.#giveUp(fields);
  }

  /** What is left when there is no further line. */
  end(): (CsvRecord | RefusedLine)[] {
    const left: (CsvRecord | RefusedLine)[] = [];
    while (this.#open.length > 0) left.push(...this.#giveUp('open'));
    return left;
  }

  #giveUp(why: 'open' | 'text-after-quote'): (CsvRecord | RefusedLine)[] {
    const lines = this.#open;
    this.#open = [];
    this.#line -= lines.length - 1;
    const because = why === 'open' ? 'a quote is not closed' : 'text follows a closing quote';
    const refused = refusedLine(this.#line, because);
    return [refused, ...lines.slice(1).flatMap((line) => this.push(line))];
  }
}

const withoutReturn = (line: string): string => (line.endsWith('\r') ? line.slice(0, -1) : line);

function splitQuoted(text: string, separator: string): string[] | 'open' | 'text-after-quote' {
  const fields: string[] = [];
  for (let at = 0; ; at++) {
    if (text[at] === '"') {
      let field = '';
      for (;;) {
        const quote = text.indexOf('"', at + 1);
        if (quote === -1) return 'open';
        const doubled = text[quote + 1] === '"';
        field += text.slice(at + 1, doubled ? quote + 1 : quote);
        at = quote + 1;
        if (!doubled) break;
      }
      while (text[at] === ' ') at++;
      fields.push(field);
      if (at < text.length && text[at] !== separator) return 'text-after-quote';
    } else {
      const next = text.indexOf(separator, at);
      const end = next === -1 ? text.length : next;
      fields.push(text.slice(at, end));
      at = end;
    }
    if (at === text.length) return fields;
  }
}
