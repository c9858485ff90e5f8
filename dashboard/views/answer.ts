import { type ReadonlySignal, useSignal } from '@preact/signals';
import { useEffect, useRef } from 'preact/hooks';
import { ApiProblem } from '../api.ts';
import { synced } from '../store.ts';

/**
 * What a page asks the daemon for besides what it hears live: asked at once, after every new connection, and every
 * `everyMs` while somebody can see it. An old answer stays until the next; `problem` says why there is none.
 */
export function useAnswer<T>(
  ask: () => Promise<T>,
  everyMs: number,
): { value: ReadonlySignal<T | undefined>; problem: ApiProblem | undefined; again: () => Promise<void> } {
  const value = useSignal<T | undefined>(undefined);
  const problem = useSignal<ApiProblem | undefined>(undefined);
  const gone = useRef(false);
  const again = async (): Promise<void> => {
    try {
      const answer = await ask();
      if (gone.current) return;
      value.value = answer;
      problem.value = undefined;
    } catch (error) {
      if (!(error instanceof ApiProblem)) throw error;
      if (!gone.current) problem.value = error;
    }
  };
  useEffect(() => {
    gone.current = false;
    const timer = setInterval(() => {
      if (!document.hidden) void again();
    }, everyMs);
    return () => {
      gone.current = true;
      clearInterval(timer);
    };
  }, []);
  const connection = synced.value;
  useEffect(() => {
    void again();
  }, [connection]);
  return { value, problem: problem.value, again };
}

/**
 * What may be asked for anew before the answer has come (another choice, another price): only the newest question
 * counts, and what is answered to one before it is dropped. `ask` is true where its answer was taken.
 */
export function useNewest(): {
  problem: ApiProblem | undefined;
  ask: <T>(question: () => Promise<T>, take?: (answer: T) => void) => Promise<boolean>;
} {
  const problem = useSignal<ApiProblem | undefined>(undefined);
  const newest = useRef(0);
  return {
    problem: problem.value,
    ask: async (question, take) => {
      newest.current += 1;
      const own = newest.current;
      problem.value = undefined;
      try {
        const answer = await question();
        if (own !== newest.current) return false;
        take?.(answer);
        return true;
      } catch (error) {
        if (!(error instanceof ApiProblem)) throw error;
        if (own === newest.current) problem.value = error;
        return false;
      }
    },
  };
}
