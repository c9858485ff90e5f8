import { useSignal } from '@preact/signals';
import type { ComponentChildren } from 'preact';
import { useEffect } from 'preact/hooks';

/**
 * What is rarely wanted, folded away. It opens by itself where something in it is to be seen, and closes only by
 * hand: not under somebody who has just mended it.
 */
export function Folded({
  title,
  stirs,
  children,
}: {
  title: string;
  stirs: boolean;
  children: ComponentChildren;
}) {
  const open = useSignal(stirs);
  useEffect(() => {
    if (stirs) open.value = true;
  }, [stirs]);
  return (
    <details
      class="rarer"
      open={open.value}
      onToggle={(event) => {
        open.value = event.currentTarget.open;
      }}
    >
      <summary>{title}</summary>
      <div class="entries">{children}</div>
    </details>
  );
}
