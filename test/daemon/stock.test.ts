import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { type StockChange, stockAt, stockLeft } from '../../daemon/watch/stock.ts';

const at = (hour: number): string => `2026-03-02T${String(hour).padStart(2, '0')}:00:00.000Z`;

describe('a stock', () => {
  test('goes down with what is drawn, and to what is counted', () => {
    expect(stockLeft(200, [])).toBe(200);
    expect(stockLeft(200, [{ at: at(1), drawn: 100 }])).toBe(100);
    expect(
      stockLeft(200, [
        { at: at(1), drawn: 100 },
        { at: at(2), counted: 95 },
        { at: at(3), drawn: 5 },
      ]),
    ).toBe(90);
  });

  test('a draw that is noted after a count, and was before it, was counted', () => {
    const changes: StockChange[] = [
      { at: at(5), counted: 95 },
      { at: at(3), drawn: 80 },
    ];
    expect(stockLeft(200, changes)).toBe(95);
    expect(stockAt(200, changes, at(2))).toBe(120);
    expect(stockAt(200, changes, at(5))).toBe(95);
  });

  test('decimals leave nothing over', () => {
    const tenths = Array.from({ length: 10 }, (_, i) => ({ at: at(i), drawn: 0.1 }));
    expect(stockLeft(1, tenths)).toBe(0);
    expect(stockAt(1, tenths.slice(1), at(9))).toBe(0.1);
  });

  const amount = fc.integer({ min: 1, max: 500 });
  const hour = fc.integer({ min: 0, max: 23 });
  const draw = fc.record({ at: hour.map(at), drawn: amount });
  const count = fc.record({ at: hour.map(at), counted: amount });

  test('without a count, what is left and what was drawn is what there was', () => {
    fc.assert(
      fc.property(amount, fc.array(draw), (start, draws) => {
        const drawn = draws.reduce((sum, one) => sum + one.drawn, 0);
        expect(stockLeft(start, draws) + drawn).toBe(start);
      }),
    );
  });

  test('after the last count only what was drawn after it matters', () => {
    fc.assert(
      fc.property(
        amount,
        fc.array(fc.oneof(draw, count)),
        amount,
        fc.array(amount),
        (start, before, n, later) => {
          const changes: StockChange[] = [
            ...later.map((drawn) => ({ at: '2026-03-04T00:00:00.000Z', drawn })),
            ...before,
            { at: '2026-03-03T00:00:00.000Z', counted: n },
          ];
          expect(stockLeft(start, changes)).toBe(later.reduce((left, drawn) => left - drawn, n));
        },
      ),
    );
  });

  test('whoever draws no more than can be drawn, in whatever order it is noted, never draws what is not there', () => {
    fc.assert(
      fc.property(amount, fc.array(fc.oneof(draw, draw, count), { maxLength: 30 }), (start, wanted) => {
        const changes: StockChange[] = [];
        for (const one of wanted) {
          // A count is made now: what is noted after it may still be of before.
          if ('counted' in one) {
            const last =
              changes
                .map((change) => change.at)
                .toSorted()
                .at(-1) ?? at(0);
            changes.push({ ...one, at: last });
          } else if (one.drawn <= stockAt(start, changes, one.at)) changes.push(one);
        }
        // Every hour, by another way than the stock's own: all that is of up to then, since the last count.
        for (let h = 0; h < 24; h++) {
          const upTo = changes
            .map((change, i) => ({ change, i }))
            .filter(({ change }) => change.at <= at(h))
            .sort((a, b) => (a.change.at === b.change.at ? a.i - b.i : a.change.at < b.change.at ? -1 : 1))
            .map(({ change }) => change);
          const from = upTo.findLastIndex((change) => 'counted' in change);
          const base = from === -1 ? start : (upTo[from] as { counted: number }).counted;
          const drawn = upTo.slice(from + 1).reduce((sum, one) => sum + (one as { drawn: number }).drawn, 0);
          expect(base - drawn).toBeGreaterThanOrEqual(0);
        }
      }),
    );
  });
});
