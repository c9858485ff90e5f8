import { useSignal, useSignalEffect } from '@preact/signals';
import { useEffect, useMemo } from 'preact/hooks';
import { type Board, createBoard } from '../../chart/board.ts';
import { BoardView } from '../../chart/board-view.tsx';
import { csvHref } from '../../chart/calls.ts';
import { LONG_SPANS_MS, queryOfView, viewFromQuery, viewOfRange } from '../../chart/view.ts';
import { type Route, vesselHref } from '../../route.ts';
import { now, vessels } from '../../store.ts';
import { channelTitle, HISTORY } from '../../texts/history.ts';
import { isolated } from '../../texts/isolated.ts';
import { when } from '../../views/words.ts';
import './history.css';
import { makePng } from './png.ts';
import { channelsFrom, fieldTime, pictureName, typedRange } from './range.ts';

/** On a phone the charts come first. */
const ROOM = '(min-width: 48rem)';
/** The address is written when the view has stood still for so long, ms. */
const ADDRESS_AFTER_MS = 300;

/** Any range of all that was read in a vessel. */
export function HistoryPage({ route }: { route: Route & { page: 'history' } }) {
  const { key } = route;
  // The clock of the daemon is not known before its first word.
  if (vessels.value === undefined) return null;
  return <Known key={`${key} ${route.query}`} vesselKey={key} query={route.query} />;
}

function Known({ vesselKey, query }: { vesselKey: string; query: URLSearchParams }) {
  const [site, vessel] = vesselKey.split(':') as [string, string];
  const isKnown = vessels.value?.has(vesselKey) === true;
  return (
    <div class="history">
      <p class="back">
        <a class="button plain" href={vesselHref({ site, vessel })}>
          <span aria-hidden="true">← </span>
          {HISTORY.back(vessel)}
        </a>
      </p>
      <h1>
        {HISTORY.title(vessel)} <small class="quiet">{HISTORY.lead(site)}</small>
      </h1>
      {isKnown ? (
        <Charted site={site} vessel={vessel} vesselKey={vesselKey} query={query} />
      ) : (
        <p>{HISTORY.unknown}</p>
      )}
    </div>
  );
}

interface OfVessel {
  site: string;
  vessel: string;
  vesselKey: string;
  query: URLSearchParams;
}

function Charted({ site, vessel, vesselKey, query }: OfVessel) {
  const board = useMemo(() => {
    const view = viewFromQuery(query, now.peek()) ?? { spanMs: LONG_SPANS_MS[1], endMs: null };
    const made = createBoard(vesselKey, view);
    made.chosen.value = channelsFrom(query);
    return made;
  }, [vesselKey, query]);
  useEffect(() => board.end, [board]);
  useSignalEffect(() => {
    const chosen = board.chosen.value;
    const channels = chosen === undefined ? {} : { channels: [...chosen].join() };
    const href = vesselHref({ site, vessel }, 'history', { ...queryOfView(board.view.value), ...channels });
    const timer = setTimeout(() => history.replaceState(history.state, '', href), ADDRESS_AFTER_MS);
    return () => clearTimeout(timer);
  });
  const hasRoom = useMemo(() => matchMedia(ROOM).matches, []);
  return (
    <>
      <details class="history-tools" open={hasRoom}>
        <summary>{HISTORY.tools}</summary>
        <div>
          <TypedRange board={board} />
          <BatchChoice board={board} />
          <Channels board={board} />
        </div>
      </details>
      <BoardView board={board} spans={LONG_SPANS_MS} listed={hasRoom}>
        <Files board={board} site={site} vessel={vessel} />
      </BoardView>
    </>
  );
}

function TypedRange({ board }: { board: Board }) {
  const typed = useSignal<{ from?: string; to?: string }>({});
  const isWrong = useSignal(false);
  const { fromMs, toMs } = board.window.value;
  const from = typed.value.from ?? fieldTime(fromMs);
  const to = typed.value.to ?? fieldTime(toMs);
  const show = (event: Event): void => {
    event.preventDefault();
    const range = typedRange(from, to);
    const followed = typed.value.to === undefined && board.view.value.endMs === null;
    const view = range && viewOfRange(followed ? { ...range, toMs: now.peek() } : range, now.peek());
    isWrong.value = view === undefined;
    if (view === undefined) return;
    board.view.value = view;
    typed.value = {};
  };
  const field = (name: 'from' | 'to', value: string) => (
    <label class="field">
      {HISTORY[name]}
      <input
        type="datetime-local"
        step="1"
        value={value}
        onInput={(event) => {
          typed.value = { ...typed.value, [name]: event.currentTarget.value };
        }}
      />
    </label>
  );
  return (
    <form class="typed-range" onSubmit={show}>
      <fieldset class="inline">
        <legend class="unseen">{HISTORY.range}</legend>
        {field('from', from)}
        {field('to', to)}
        <button type="submit" class="plain">
          {HISTORY.show}
        </button>
      </fieldset>
      <p class="problem" role="alert">
        {isWrong.value && HISTORY.wrongRange}
      </p>
    </form>
  );
}

function BatchChoice({ board }: { board: Board }) {
  const batches = board.timeline.value?.batches ?? [];
  if (batches.length === 0) return null;
  const { fromMs, toMs } = board.window.value;
  const end = (to: string | null): number => (to === null ? now.value : Date.parse(to));
  const show = (id: string): void => {
    const batch = batches.find((each) => each.batch === id);
    if (batch === undefined) return;
    const range = { fromMs: Date.parse(batch.from), toMs: end(batch.to) };
    board.view.value = viewOfRange(range, now.peek()) ?? board.view.value;
  };
  // That of the middle of what is shown, else the newest.
  const middle = (fromMs + toMs) / 2;
  const here = batches.find(({ from, to }) => Date.parse(from) <= middle && end(to) >= middle) ?? batches[0]!;
  return (
    <div class="inline">
      <button type="button" class="plain" onClick={() => show(here.batch)}>
        {HISTORY.thisBatch(here.name)}
      </button>
      {batches.length > 1 && (
        <label class="field">
          {HISTORY.batch}
          <select value="" onChange={(event) => show(event.currentTarget.value)}>
            <option value="">{HISTORY.chooseBatch}</option>
            {batches.map(({ batch, name, from }) => (
              <option key={batch} value={batch}>
                {isolated(name)}, {when(from)}
              </option>
            ))}
          </select>
        </label>
      )}
    </div>
  );
}

function Channels({ board }: { board: Board }) {
  const all = board.channels.value;
  const chosen = board.chosen.value;
  return (
    <details class="channels">
      <summary class="button plain">{HISTORY.channels}</summary>
      <fieldset>
        <legend class="unseen">{HISTORY.channels}</legend>
        {all.map((channel) => (
          <label key={channel} class="check">
            <input
              type="checkbox"
              checked={chosen?.has(channel) ?? true}
              onChange={(event) => {
                const next = new Set(chosen ?? all);
                if (event.currentTarget.checked) next.add(channel);
                else next.delete(channel);
                board.chosen.value = next.size === all.length ? undefined : next;
              }}
            />
            {channelTitle(channel)}
          </label>
        ))}
      </fieldset>
    </details>
  );
}

function Files({ board, site, vessel }: { board: Board; site: string; vessel: string }) {
  const state = useSignal<'idle' | 'busy' | 'failed'>('idle');
  const window = board.window.value;
  const save = async (): Promise<void> => {
    if (state.peek() === 'busy') return;
    state.value = 'busy';
    try {
      const address = URL.createObjectURL(await makePng(board, site, vessel));
      const link = document.createElement('a');
      link.href = address;
      link.download = pictureName(site, vessel, window);
      link.click();
      setTimeout(() => URL.revokeObjectURL(address), 60_000);
      state.value = 'idle';
    } catch {
      state.value = 'failed';
    }
  };
  return (
    <section class="files" aria-label={HISTORY.files}>
      <h2>{HISTORY.files}</h2>
      <div class="actions">
        <button
          type="button"
          class="plain"
          aria-disabled={state.value === 'busy'}
          onClick={() => void save()}
        >
          {state.value === 'busy' ? HISTORY.pngBusy : HISTORY.png}
        </button>
        {board.plots.value
          .flatMap(({ channels }) => channels)
          .map((channel) => (
            <a
              key={channel}
              class="button plain"
              href={csvHref(board.vesselKey, channel, window)}
              download=""
            >
              {HISTORY.csv(channelTitle(channel))}
            </a>
          ))}
      </div>
      <p class="problem" role="alert">
        {state.value === 'failed' && HISTORY.pngFailed}
      </p>
      <p class="quiet">{HISTORY.csvHelp}</p>
      <p class="quiet">{HISTORY.link}</p>
    </section>
  );
}
