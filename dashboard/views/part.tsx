import type { ComponentChildren } from 'preact';
import { useId } from 'preact/hooks';

/** A part of a page under a heading of its own, which names it for screen readers, too. */
export function Part({
  title,
  class: name,
  children,
}: {
  title: string;
  class?: string;
  children: ComponentChildren;
}) {
  const id = useId();
  return (
    <section class={name} aria-labelledby={id}>
      <h2 id={id}>{title}</h2>
      {children}
    </section>
  );
}
