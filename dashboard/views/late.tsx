import { useSignal } from '@preact/signals';
import type { ComponentType } from 'preact';
import { useEffect } from 'preact/hooks';
import { isOutdated, lookWhetherOutdated } from '../outdated.ts';
import { TEXTS } from '../texts/live.ts';

type Any = ComponentType<object>;
const loaded = new Map<string, Any>();

/** What is fetched when it is first shown; `name` is its own, `part` where it is no page of its own. */
export function Late<P extends object>({
  name,
  load,
  props,
  part = false,
  quiet = false,
}: {
  name: string;
  part?: boolean;
  /** Nothing stands where it will be while it is fetched. */
  quiet?: boolean;
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
        // A page of an older build may be gone from the daemon: only a fresh start finds the new one.
        void lookWhetherOutdated();
      },
    );
    return () => {
      gone = true;
    };
  }, [name]);
  void arrived.value;

  const Part = loaded.get(name) as ComponentType<P> | undefined;
  if (Part !== undefined) return <Part {...props} />;
  if (!failed.value) return quiet ? null : <p class="quiet">{TEXTS.latePage.loading}</p>;
  const said = isOutdated.value ? TEXTS.latePage.outdated : TEXTS.latePage.failed;
  return (
    <div role="alert">
      {part ? <p>{said}</p> : <h1>{said}</h1>}
      {isOutdated.value && <p>{TEXTS.latePage.outdatedHelp}</p>}
      <button type="button" onClick={() => location.reload()}>
        {TEXTS.latePage.reload}
      </button>
    </div>
  );
}
