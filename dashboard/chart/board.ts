import { computed, effect, type ReadonlySignal, type Signal, signal } from '@preact/signals';
import type { Timeline } from '../../shared/wire/history.ts';
import { now, onReadings, synced, vesselAt } from '../store.ts';
import { fetchBoiling, fetchReadings, fetchTimeline } from './calls.ts';
import { createFeed, type Feed } from './feed.ts';
import { type PlotSpec, plotsOf } from './plots.ts';
import { steppedNow, type View, type Window, windowOf } from './view.ts';

/** How often what follows the clock or could not be fetched is fetched anew, ms: means of buckets that were filled live are exact again. */
const RENEW_MS = 60_000;
/** A moving view asks for what it lacks so often, ms: the first time at once. */
const SETTLE_MS = 80;

export interface Board {
  vesselKey: string;
  view: Signal<View>;
  /** Of a plot's inside, px. */
  width: Signal<number>;
  window: ReadonlySignal<Window>;
  /** What lies beside the readings, of the view and around it; undefined until it is known. */
  timeline: ReadonlySignal<Timeline | undefined>;
  /** All channels that the vessel has. */
  channels: ReadonlySignal<readonly string[]>;
  /** Those that are shown; undefined: all. */
  chosen: Signal<ReadonlySet<string> | undefined>;
  plots: ReadonlySignal<readonly PlotSpec[]>;
  feedOf: (channel: string) => Feed;
  boiling: Feed;
  /** Where the cursor stands, epoch ms. */
  cursor: Signal<number | undefined>;
  /** Asks for all that is shown anew. */
  renew: () => void;
  end: () => void;
}

/** All that the charts of one vessel share, apart from drawing. */
export function createBoard(vesselKey: string, first: View): Board {
  const view = signal(first);
  const width = signal(0);
  const chosen = signal<ReadonlySet<string> | undefined>(undefined);
  const cursor = signal<number | undefined>(undefined);
  const timeline = signal<Timeline | undefined>(undefined);
  const feeds = new Map<string, Feed>();
  const boiling = createFeed((wanted) => fetchBoiling(vesselKey, wanted));
  const feedOf = (channel: string): Feed => {
    const known = feeds.get(channel);
    if (known !== undefined) return known;
    const made = createFeed((wanted) => fetchReadings(vesselKey, channel, wanted));
    feeds.set(channel, made);
    return made;
  };

  const shownNow = computed(() => steppedNow(now.value, view.value.spanMs, width.value));
  const window = computed<Window>(() => windowOf(view.value, view.value.endMs === null ? shownNow.value : 0));
  // As one text: the same channels are no change.
  const channelText = computed(() => {
    const live = Object.keys(vesselAt(vesselKey)?.readings ?? {});
    return [...new Set([...(timeline.value?.channels ?? []), ...live])].sort().join();
  });
  const channels = computed(() => (channelText.value === '' ? [] : channelText.value.split(',')));
  const plots = computed(() =>
    plotsOf(channels.value.filter((channel) => chosen.value?.has(channel) ?? true)),
  );
  const shownFeeds = (): Feed[] => {
    const shown = plots.peek().flatMap((plot) => plot.channels.map(feedOf));
    return plots.peek().some(({ kind }) => kind === 'temperature') ? [...shown, boiling] : shown;
  };
  const sight = () => ({ width: width.peek(), nowMs: now.peek() });

  let settling: ReturnType<typeof setTimeout> | undefined;
  let movedSince = false;
  const seeSoon = (): void => {
    if (settling !== undefined) {
      movedSince = true;
      return;
    }
    see();
    settling = setTimeout(() => {
      settling = undefined;
      if (movedSince) seeSoon();
      movedSince = false;
    }, SETTLE_MS);
  };
  const see = (): void => {
    for (const feed of shownFeeds()) feed.see(window.peek(), sight());
    seeTimeline();
  };

  // ---- what lies beside the readings ----

  let seen: Window | undefined;
  let seeing: Window | undefined;
  const seeTimeline = (again = false): void => {
    const { fromMs, toMs } = window.peek();
    const span = toMs - fromMs;
    // What happens live comes by `changes`.
    const endMs = Math.min(toMs, now.peek());
    const covers = (one: Window | undefined): boolean =>
      one !== undefined &&
      one.fromMs <= Math.max(0, fromMs) &&
      one.toMs >= endMs &&
      one.toMs - one.fromMs < 8 * span;
    if (!again && (covers(seen) || covers(seeing))) return;
    const mine = { fromMs: Math.max(0, fromMs - span / 2), toMs: Math.max(toMs + span / 2, 0) };
    seeing = mine;
    fetchTimeline(vesselKey, mine).then(
      (answer) => {
        if (seeing !== mine) return;
        seeing = undefined;
        seen = mine;
        timeline.value = answer;
      },
      () => {
        if (seeing === mine) seeing = undefined;
      },
    );
  };
  const changes = computed(() => {
    const vessel = vesselAt(vesselKey);
    const alarms = vessel?.alarms.map(
      ({ id, standing, acknowledged, shelved }) => `${id}${standing}${acknowledged?.at}${shelved?.until}`,
    );
    return `${synced.value} ${vessel?.batch} ${vessel?.stage} ${vessel?.stageSince} ${alarms?.join()}`;
  });

  const ends = [
    effect(() => {
      void window.value;
      void plots.value;
      if (width.value > 0) seeSoon();
    }),
    effect(() => {
      void synced.value;
      if (width.peek() === 0) return;
      for (const feed of shownFeeds()) feed.renew(window.peek(), sight());
    }),
    effect(() => {
      void changes.value;
      seeTimeline(true);
    }),
    effect(() => {
      const boilingC = vesselAt(vesselKey)?.boilingC;
      if (boilingC !== undefined) boiling.add([{ t: now.peek(), value: boilingC }]);
    }),
    onReadings((readings) => {
      const byChannel = new Map<string, { t: number; value: number }[]>();
      for (const { key, channel, t, value } of readings) {
        if (key !== vesselKey || !feeds.has(channel)) continue;
        const some = byChannel.get(channel) ?? [];
        some.push({ t, value });
        byChannel.set(channel, some);
      }
      for (const [channel, some] of byChannel) feeds.get(channel)!.add(some);
    }),
  ];
  const timer = setInterval(() => {
    const isLacking = shownFeeds().some(({ state }) => state.peek() === 'failed');
    if (isLacking || view.peek().endMs === null) renew();
  }, RENEW_MS);
  const renew = (): void => {
    for (const feed of shownFeeds()) feed.renew(window.peek(), sight());
    seeTimeline(true);
  };

  return {
    vesselKey,
    view,
    width,
    window,
    timeline,
    channels,
    chosen,
    plots,
    feedOf,
    boiling,
    cursor,
    renew,
    end: () => {
      clearInterval(timer);
      clearTimeout(settling);
      for (const end of ends) end();
    },
  };
}
