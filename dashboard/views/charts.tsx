import { useSignal } from '@preact/signals';
import type { ComponentType } from 'preact';
import { useEffect } from 'preact/hooks';
import { TEXTS } from '../texts/live.ts';

type Late = ComponentType<{ vesselKey: string }>;
let loaded: Late | undefined;

/** The charts of a vessel; what draws them is fetched only where they are looked at. */
export function Charts({ vesselKey }: { vesselKey: string }) {
  const state = useSignal<'loading' | 'there' | 'failed'>(loaded === undefined ? 'loading' : 'there');
  useEffect(() => {
    let gone = false;
    import('../chart/vessel-charts.tsx').then(
      ({ VesselCharts }) => {
        loaded = VesselCharts;
        if (!gone) state.value = 'there';
      },
      () => {
        if (!gone) state.value = 'failed';
      },
    );
    return () => {
      gone = true;
    };
  }, [state]);
  if (state.value === 'there' && loaded !== undefined) {
    const Loaded = loaded;
    return <Loaded vesselKey={vesselKey} />;
  }
  return state.value === 'failed' ? (
    <p role="alert">{TEXTS.charts.failed}</p>
  ) : (
    <p class="quiet">{TEXTS.charts.loading}</p>
  );
}
