import { useEffect } from 'preact/hooks';
import { fetchRefused, refused } from '../../store.ts';
import { REFUSED } from '../../texts/refused.ts';
import { Problem, useAction } from '../../views/form.tsx';
import { RefusedTable } from './refused-table.tsx';

/** Readings that could not be taken in, and why. */
export function RefusedPage() {
  const { busy, problem, run } = useAction();
  const fetchAgain = (): void => {
    void run(fetchRefused);
  };
  useEffect(fetchAgain, []);

  const texts = REFUSED;
  const found = refused.value;
  return (
    <section class="refused">
      <h1>{texts.title}</h1>
      <p>{texts.lead}</p>
      <Problem problem={problem} />
      {found !== undefined && <RefusedTable found={found} />}
      <button type="button" class="plain" disabled={busy} onClick={fetchAgain}>
        {texts.again}
      </button>
    </section>
  );
}
