import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import { cautionsOf } from '../../../shared/batch/stage-cautions.ts';
import { readPlanRequest } from '../../../shared/plan/read-request.ts';
import type { PlanRequest } from '../../../shared/plan/request.ts';
import { hrefOf } from '../../route.ts';
import { now, synced } from '../../store.ts';
import { RECIPE_TEXTS as TEXTS } from '../../texts/recipe.ts';
import { dayAndMonth } from '../../units.ts';
import { Cautions } from '../../views/cautions.tsx';
import { clock, inTheirWords } from '../../views/words.ts';
import type { PageOf } from '../pages.ts';
import { Answer, Strip } from './answer.tsx';
import { Begin } from './begin.tsx';
import { getSites } from './calls.ts';
import { ElsewhereView } from './elsewhere-view.tsx';
import { AsEntered, Entries } from './entries.tsx';
import { formOf } from './form.ts';
import { fetchTemplates, Keep } from './keep.tsx';
import { form, goByOnlyPlace, sites, templates } from './state.ts';
import './recipe.css';

/** What a link brought: a template's id, or entries as the oil page makes them. */
async function broughtBy(query: URLSearchParams): Promise<{ plan: PlanRequest; said: string } | undefined> {
  const id = query.get('template');
  if (id !== null) {
    if (templates.peek() === undefined) await fetchTemplates();
    const found = templates.peek()?.find((template) => template.id === id);
    return found && { plan: found.plan, said: TEXTS.keep.loaded(found.name) };
  }
  return { plan: readPlanRequest(JSON.parse(query.get('oil') ?? '{}')), said: TEXTS.linked };
}

export const RecipePage: PageOf<'recipe'> = ({ route }) => {
  const said = useSignal('');
  void synced.value;
  useEffect(() => {
    // Without an answer the form does without known places and usual recipes.
    getSites().then(
      (found) => {
        sites.value = found;
        goByOnlyPlace(found);
      },
      () => {},
    );
    fetchTemplates().catch(() => {});
  }, [synced.value]);

  useEffect(() => {
    const { query } = route;
    if (!query.has('template') && !query.has('oil')) return;
    broughtBy(query)
      .then(
        (brought) => {
          if (brought === undefined) said.value = TEXTS.keep.gone;
          else {
            form.value = formOf(brought.plan);
            said.value = brought.said;
          }
        },
        () => {
          said.value = query.has('oil') ? TEXTS.linkWrong : TEXTS.keep.offline;
        },
      )
      // A reload must not undo what is typed from here on.
      .finally(() => history.replaceState(null, '', hrefOf('recipe')));
  }, [route]);

  return (
    <div class="recipe">
      <header class="recipe-head">
        <h1>{TEXTS.title}</h1>
        <p class="quiet screen-only">{TEXTS.lead}</p>
        <p class="paper-only">
          {TEXTS.print.made(
            `${dayAndMonth(now.value)} ${new Date(now.value).getFullYear()}, ${clock(now.value)}`,
          )}
        </p>
        <p role="status" class="screen-only">
          {said}
        </p>
      </header>
      <div class="recipe-columns">
        <Entries />
        <div class="recipe-side">
          <Answer />
          <AsEntered />
          <div class="actions screen-only">
            <button type="button" onClick={() => print()}>
              {TEXTS.print.button}
            </button>
          </div>
          <section class="paper-only">
            <h2>{TEXTS.usual}</h2>
            <ul>
              {cautionsOf(['methoxide', 'dose'], true).map(({ text }) => (
                <li key={text}>{inTheirWords(text)}</li>
              ))}
            </ul>
          </section>
          <p class="strong">{TEXTS.first}</p>
        </div>
      </div>
      <Strip />
      <ElsewhereView />
      <Begin />
      <Keep />
      <Cautions stages={['methoxide', 'dose']} withMethanol />
    </div>
  );
};
