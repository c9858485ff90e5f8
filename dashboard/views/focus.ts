import { useEffect, useRef } from 'preact/hooks';

/** The focus does not get lost: whoever has only keys goes on where they were. */

/** What had the focus, and all around it, from the inside out; empty where nothing had. */
export type Trail = readonly Element[];

const hasFocus = (): Element | null => {
  const { activeElement, body } = document;
  return activeElement === body || activeElement instanceof HTMLDialogElement ? null : activeElement;
};

export function trail(): Trail {
  const found: Element[] = [];
  for (let at = hasFocus(); at !== null; at = at.parentElement) found.push(at);
  return found;
}

const CONTROLS = 'a[href], button, input, select, textarea, summary';

/**
 * Where the focus was lost, gives it back to what had it; else to what is wanted there instead, such as a reason; else
 * to what stands nearest to where it was.
 */
export function focusAgain(from: Trail): void {
  if (from.length === 0 || hasFocus() !== null) return;
  const [own, ...around] = from.filter(({ isConnected }) => isConnected);
  const within = (part: string, wanted: string) =>
    from.find((each) => each.isConnected && each.matches(part))?.querySelector(wanted);
  const main = document.querySelector('main');
  const near = around.slice(0, Math.max(0, around.indexOf(main!)));
  const places = [
    own,
    within('form', 'input:invalid, select:invalid'),
    within('dialog', '[data-first]'),
    ...near.flatMap((each) => [...each.querySelectorAll(CONTROLS)]),
    main,
  ];
  for (const place of places) {
    if (place instanceof HTMLElement) place.focus();
    if (hasFocus() !== null) return;
  }
}

/** For what takes the focus while it is there, such as a dialog. */
export function useFocusBack(): void {
  const from = useRef<Trail | undefined>(undefined);
  from.current ??= trail();
  useEffect(() => () => queueMicrotask(() => focusAgain(from.current!)), []);
}

/** For what opens in the place of the button that opened it. */
export const focusFirst = (opened: HTMLElement | null): void =>
  opened?.querySelector<HTMLElement>('input, select, textarea')?.focus();
