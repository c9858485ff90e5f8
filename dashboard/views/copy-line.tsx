import { useSignal } from '@preact/signals';
import { useRef } from 'preact/hooks';
import { FIRST_START } from '../texts/set-up.ts';

const texts = FIRST_START.reading;

/** A line, and a button that copies it; where the browser forbids that it is marked. `name` tells it from others. */
export function CopyLine({ line, name, onCopy }: { line: string; name?: string; onCopy?: () => void }) {
  const code = useRef<HTMLElement>(null);
  const said = useSignal('');
  const copy = async (): Promise<void> => {
    onCopy?.();
    try {
      await navigator.clipboard.writeText(line);
      said.value = texts.copied;
    } catch {
      getSelection()?.selectAllChildren(code.current!);
      said.value = texts.notCopied;
    }
  };
  return (
    <>
      <pre>
        <code ref={code}>{line}</code>
      </pre>
      <div class="actions">
        <button
          type="button"
          class="plain"
          aria-label={name === undefined ? undefined : `${texts.copy}: ${name}`}
          onClick={() => void copy()}
        >
          {texts.copy}
        </button>
        <span role="status">{said.value}</span>
      </div>
    </>
  );
}
