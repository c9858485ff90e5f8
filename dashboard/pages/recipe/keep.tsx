import { useSignal } from '@preact/signals';
import type { Template } from '../../../shared/wire/templates.ts';
import { may } from '../../session.ts';
import { RECIPE_TEXTS } from '../../texts/recipe.ts';
import { by, Field, NameField, Problem, useAction } from '../../views/form.tsx';
import { when } from '../../views/words.ts';
import { getTemplates, keepTemplate, retireTemplate } from './calls.ts';
import { formOf } from './form.ts';
import { form, recipe, sites, templates } from './state.ts';

/** Usual recipes: loaded, kept, and used no more. */

const TEXTS = RECIPE_TEXTS.keep;

export async function fetchTemplates(): Promise<void> {
  templates.value = (await getTemplates()).filter(({ retired }) => retired === null);
}

function Listed({ template, said }: { template: Template; said: (text: string) => void }) {
  const { busy, problem, run } = useAction();
  const { id, name, site, by: who, at } = template;
  const retire = async (): Promise<void> => {
    const done = await run(async () => {
      await retireTemplate(id, by());
      await fetchTemplates();
    });
    if (done) said(TEXTS.retired(name));
  };
  return (
    <li>
      <p>
        <b>
          <bdi>{name}</bdi>
        </b>{' '}
        <span class="quiet">{TEXTS.from(site, who, when(at))}</span>
      </p>
      <div class="actions">
        <button
          type="button"
          class="plain"
          aria-label={`${TEXTS.load}: ${name}`}
          onClick={() => {
            form.value = formOf(template.plan);
            said(TEXTS.loaded(name));
          }}
        >
          {TEXTS.load}
        </button>
        {may('work') && (
          <button
            type="button"
            class="plain"
            aria-label={`${TEXTS.retire}: ${name}`}
            disabled={busy}
            onClick={retire}
          >
            {TEXTS.retire}
          </button>
        )}
      </div>
      <Problem problem={problem} />
    </li>
  );
}

export function Keep() {
  const name = useSignal('');
  const site = useSignal('');
  const said = useSignal('');
  const { busy, problem, run, complain } = useAction();
  const known = sites.value.map((one) => one.site);
  const chosen = site.value || recipe.value.place?.site || known[0] || '';

  const save = async (event: Event): Promise<void> => {
    event.preventDefault();
    said.value = '';
    if (recipe.peek().wrong.size > 0) {
      complain(TEXTS.wrongFirst);
      return;
    }
    const title = name.value.trim();
    const done = await run(async () => {
      await keepTemplate({ site: chosen, name: title, plan: recipe.peek().request, ...by() });
      await fetchTemplates();
    });
    if (!done) return;
    said.value = TEXTS.saved(title);
    name.value = '';
  };

  return (
    <section class="keep">
      <h2>{TEXTS.title}</h2>
      {templates.value === undefined ? (
        <p class="quiet">{TEXTS.offline}</p>
      ) : templates.value.length === 0 ? (
        <p class="quiet">{TEXTS.none}</p>
      ) : (
        <ul>
          {templates.value.map((template) => (
            <Listed
              key={template.id}
              template={template}
              said={(text) => {
                said.value = text;
              }}
            />
          ))}
        </ul>
      )}
      {!may('work') ? null : known.length === 0 ? (
        <p class="quiet">{TEXTS.noSites}</p>
      ) : (
        <form class="inline" onSubmit={save}>
          <Field
            label={TEXTS.name}
            value={name.value}
            required
            onValue={(text) => {
              name.value = text;
            }}
          />
          <div class="field">
            <label for="keep-site">{TEXTS.site}</label>
            <select
              id="keep-site"
              value={chosen}
              onChange={(event) => {
                site.value = event.currentTarget.value;
              }}
            >
              {known.map((each) => (
                <option key={each} value={each}>
                  {each}
                </option>
              ))}
            </select>
          </div>
          <NameField label={TEXTS.by} />
          <button type="submit" disabled={busy}>
            {TEXTS.save}
          </button>
          <Problem problem={problem} />
        </form>
      )}
      <p role="status">{said}</p>
    </section>
  );
}
