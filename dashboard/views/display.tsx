import { useSignal } from '@preact/signals';
import { TEXTS } from '../texts/live.ts';
import { Late } from './late.tsx';

const load = async () => (await import('./choices.tsx')).Choices;

/** The reader's choices, at the foot of every page. */
export function Display() {
  const open = useSignal(false);
  return (
    <details
      class="display"
      onToggle={(event) => {
        open.value = event.currentTarget.open;
      }}
    >
      <summary class="button plain">{TEXTS.display.open}</summary>
      {open.value && <Late part name="choices" load={load} props={{}} />}
    </details>
  );
}
