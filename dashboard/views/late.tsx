import { useSignal } from '@preact/signals';
import type { ComponentType } from 'preact';
import { useEffect } from 'preact/hooks';
import { TEXTS } from '../texts/live.ts';

type Any = ComponentType<object>;
const loaded = new Map<string, Any>();

/** A part of the page that is fetched when it is first shown; `name` is its own. */
export function Late<P extends object>({
  name,
  load,
  props,
}: {
  name: string;
  load: () => Promise<ComponentType<P>>;
  props: P;
}) {
  const failed = useSignal(false);
  const arrived = useSignal(0);
  useEffect(() => {
    failed.value = false;
    if (loaded.has(name)) return;
    let gone = false;
    load().then(
      (Part) => {
        loaded.set(name, Part as Any);
        if (!gone) arrived.value += 1;
      },
      () => {
        if (!gone) failed.value = true;
      },
    );
    return () => {
      gone = true;
    };
  }, [name]);
  void arrived.value;

  const Part = loaded.get(name) as ComponentType<P> | undefined;
  if (Part !== undefined) return <Part {...props} />;
  if (!failed.value) return <p class="quiet">{TEXTS.latePage.loading}</p>;
  return (
    <div role="alert">
      <p>{TEXTS.latePage.failed}</p>
      {/* A page of an older build may be gone from the daemon: only a fresh start finds the new one. */}
      <button type="button" onClick={() => location.reload()}>
        {TEXTS.latePage.reload}
      </button>
    </div>
  );
}
