import { useEffect, useMemo } from 'preact/hooks';
import { vesselHref } from '../route.ts';
import { vesselAt } from '../store.ts';
import { HISTORY } from '../texts/history.ts';
import { createBoard } from './board.ts';
import { BoardView } from './board-view.tsx';
import { queryOfView, SHORT_SPANS_MS } from './view.ts';

/** The charts on a vessel's own page: they follow the clock, and lead to its history. */
export function VesselCharts({ vesselKey }: { vesselKey: string }) {
  const board = useMemo(
    () => createBoard(vesselKey, { spanMs: SHORT_SPANS_MS[0], endMs: null }),
    [vesselKey],
  );
  useEffect(() => board.end, [board]);
  const vessel = vesselAt(vesselKey);
  return (
    <BoardView board={board} spans={SHORT_SPANS_MS} listed={false}>
      {vessel !== undefined && (
        <p class="to-history">
          <a class="button plain" href={vesselHref(vessel, 'history', queryOfView(board.view.value))}>
            {HISTORY.more}
          </a>
        </p>
      )}
    </BoardView>
  );
}
