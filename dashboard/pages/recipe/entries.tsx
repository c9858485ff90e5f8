import type { ComponentChildren } from 'preact';
import { BASE_KINDS } from '../../../shared/chemistry/bases.ts';
import { OIL_KINDS } from '../../../shared/chemistry/oil-kinds.ts';
import type { Caution } from '../../../shared/plan/answer.ts';
import {
  HELP,
  LABELS,
  LIMIT_LABELS,
  OIL_NAMES,
  RECIPE_TEXTS as TEXTS,
  UNIT_WORDS,
} from '../../texts/recipe.ts';
import { ENTRY_TEXTS } from '../../texts/workings.ts';
import { Entry, entryId, OneOf } from '../../views/entry.tsx';
import { Folded } from '../../views/folded.tsx';
import { degrees, litres } from '../../views/words.ts';
import { CautionNote } from './caution-note.tsx';
import { FIRST_RUN, fieldAt, HAVE, HAVE_WAYS, LIMIT_FIELDS, runAt } from './fields.ts';
import {
  defaultOf,
  entryOf,
  isTicked,
  NO_STIRRER,
  PLACE,
  runsOf,
  shownText,
  textOf,
  type Wrong,
  wayOf,
} from './form.ts';
import { asTyped, fromSI, height, type Quantity, unitOf } from './quantities.ts';
import { form, recipe, sites, type, units } from './state.ts';

/** What a maker types in, group by group; the rarer entries are folded away. */

/** Fields whose cautions stand at another entry than their own. */
const STANDS_AT: Readonly<Record<string, string>> = {
  site: 'site.altitudeM',
  catalyst: 'catalyst.kind',
  'oil.titration': FIRST_RUN,
};
/** Where the cursor goes for an entry that is not shown. */
const GOES_TO: Readonly<Record<string, string>> = {
  'watch.limits': LIMIT_FIELDS[0]!.path,
  'watch.lowestStirrerSpeed': NO_STIRRER,
};
export const cautionEntry = ({ field }: Caution): string | undefined =>
  field === null ? undefined : (STANDS_AT[field] ?? entryOf(field));

export const labelOf = (name: string): string => {
  const run = runAt(name);
  if (run !== undefined) return TEXTS.run(run);
  return name === HAVE
    ? TEXTS.have
    : (LABELS[name] ??
        LIMIT_LABELS[name.replace('watch.limits.', '') as keyof typeof LIMIT_LABELS] ??
        TEXTS.rarer.limits);
};

function wrongText(wrong: Wrong | undefined): string | undefined {
  if (wrong === undefined) return undefined;
  switch (wrong.kind) {
    case 'not-a-number':
      return ENTRY_TEXTS.notANumber;
    case 'titrant':
      return TEXTS.wrong.titrant;
    case 'passes':
      return TEXTS.wrong.passes;
    case 'together':
      return TEXTS.wrong.together(wrong.allowed);
    case 'range': {
      const inUnit = (value: number) => asTyped(fromSI(wrong.quantity, value, units.value));
      const sign = wrong.quantity === 'plain' ? wrong.unit : unitOf(wrong.quantity, units.value);
      const most = `${inUnit(wrong.most)} ${UNIT_WORDS[sign] ?? sign}`;
      return (wrong.isOver ? ENTRY_TEXTS.over : ENTRY_TEXTS.range)(inUnit(wrong.least), most);
    }
  }
}

/** What was typed and cautioned at an entry. */
function CautionsAt({ name }: { name: string }) {
  const found = recipe.value.answer.cautions.filter((caution) => cautionEntry(caution) === name);
  return (
    <>
      {found.map((caution) => (
        <CautionNote key={caution.code} caution={caution} />
      ))}
    </>
  );
}

function TextEntry({
  name,
  quantity = 'plain',
  unit,
  help,
  numeric = true,
  bare,
}: {
  name: string;
  quantity?: Quantity;
  unit?: string | undefined;
  help?: string | undefined;
  numeric?: boolean;
  /** Its cautions stand elsewhere. */
  bare?: boolean;
}) {
  const sign = quantity === 'plain' ? (unit ?? '') : unitOf(quantity, units.value);
  return (
    <Entry
      name={name}
      label={labelOf(name)}
      unit={UNIT_WORDS[sign] ?? sign}
      value={shownText(form.value, name, quantity, units.value)}
      onValue={(text) => type(name, text)}
      numeric={numeric}
      help={help}
      wrong={wrongText(recipe.value.wrong.get(name))}
    >
      {!bare && <CautionsAt name={name} />}
    </Entry>
  );
}

/** A number of the request. */
function NumberEntry({ path, none }: { path: string; none?: string }) {
  const { quantity, unit } = fieldAt(path) as { quantity: Quantity; unit?: string };
  const value = defaultOf(path, recipe.value);
  const sign = quantity === 'plain' ? unit : unitOf(quantity, units.value);
  const standsIn =
    textOf(form.value, path) !== ''
      ? undefined
      : value === undefined
        ? none === undefined
          ? undefined
          : ENTRY_TEXTS.leftOut(none)
        : ENTRY_TEXTS.leftOut(
            `${asTyped(Number(fromSI(quantity, value, units.value).toPrecision(4)))} ${UNIT_WORDS[sign ?? ''] ?? sign}`,
          );
  const help = [standsIn, HELP[path]]
    .filter((text) => text !== undefined)
    .join('. ')
    .replace('..', '.');
  return <TextEntry name={path} quantity={quantity} unit={unit} help={help === '' ? undefined : help} />;
}

function Tick({ name, disabled }: { name: string; disabled?: boolean }) {
  return (
    <label class="check">
      <input
        id={entryId(name)}
        type="checkbox"
        disabled={disabled}
        checked={isTicked(form.value, name)}
        onChange={(event) => type(name, event.currentTarget.checked ? 'yes' : '')}
      />
      {labelOf(name)}
    </label>
  );
}

function Select({ name, label, children }: { name: string; label: string; children: ComponentChildren }) {
  return (
    <div class="entry">
      <label for={entryId(name)}>{label}</label>
      <select
        id={entryId(name)}
        value={textOf(form.value, name)}
        onChange={(event) => type(name, event.currentTarget.value)}
      >
        {children}
      </select>
      <CautionsAt name={name} />
    </div>
  );
}

/** Folded away, and open where something in it is wrong or cautioned, or was typed. */
function Rarer({
  title,
  names,
  children,
}: {
  title: string;
  names: readonly string[];
  children: ComponentChildren;
}) {
  const { wrong, answer } = recipe.value;
  const stirs = names.some(
    (name) => wrong.has(name) || answer.cautions.some((caution) => cautionEntry(caution) === name),
  );
  return (
    <Folded title={title} stirs={stirs}>
      {children}
    </Folded>
  );
}

function OilGroup() {
  const way = wayOf(form.value);
  const byVolume = way === 'oil-volume' || way === 'methanol';
  const { resolved } = recipe.value;
  return (
    <fieldset>
      <legend>{TEXTS.groups.oil}</legend>
      <div class="entries">
        <TextEntry
          name={HAVE}
          quantity={byVolume ? 'volume' : 'plain'}
          unit={way === 'oil-mass' || way === 'lye' ? TEXTS.haveUnits[way] : undefined}
          help={
            textOf(form.value, HAVE) === ''
              ? ENTRY_TEXTS.leftOut(litres(resolved.oil.volumeL))
              : way === 'oil-volume'
                ? undefined
                : TEXTS.comesTo(litres(resolved.oil.volumeL))
          }
        />
        <Select name="have-what" label={TEXTS.haveWhat}>
          {HAVE_WAYS.map((each, i) => (
            <option key={each} value={i === 0 ? '' : each}>
              {TEXTS.haveWays[each]}
            </option>
          ))}
        </Select>
        <Select name="oil.kind" label={LABELS['oil.kind']!}>
          <option value="">{TEXTS.leftOutKind}</option>
          {OIL_KINDS.map((kind) => (
            <option key={kind} value={kind}>
              {OIL_NAMES[kind]}
            </option>
          ))}
        </Select>
        <NumberEntry path="oil.waterPpm" none={TEXTS.unknown} />
      </div>
    </fieldset>
  );
}

function TitrationGroup() {
  const { wrong } = recipe.value;
  const runs = runsOf(form.value);
  return (
    <fieldset>
      <legend>{TEXTS.groups.titration}</legend>
      <p class="quiet">{TEXTS.titrationLead}</p>
      <div class="entries">
        <OneOf
          name="oil.titration.titrant"
          legend={LABELS['oil.titration.titrant']!}
          options={TEXTS.titrants}
          value={BASE_KINDS.find((kind) => kind === textOf(form.value, 'oil.titration.titrant')) ?? ''}
          onValue={(text) => type('oil.titration.titrant', text)}
          help={runs.every((run) => textOf(form.value, run) === '') ? TEXTS.notTitrated : undefined}
          wrong={wrongText(wrong.get('oil.titration.titrant'))}
        />
        <div class="runs">
          {runs.map((run) => (
            <TextEntry key={run} name={run} unit="mL" bare />
          ))}
        </div>
        <div class="wide">
          <CautionsAt name={FIRST_RUN} />
        </div>
        <NumberEntry path="oil.titration.blankMl" none="0 mL" />
      </div>
      <Rarer
        title={TEXTS.rarer.oil}
        names={[
          'oil.volumeAtC',
          'oil.titration.gPerL',
          'oil.titration.sampleMl',
          'oil.titration.purityPercent',
        ]}
      >
        <NumberEntry path="oil.titration.gPerL" none="1 g/L" />
        <NumberEntry path="oil.titration.sampleMl" none="1 mL" />
        <NumberEntry path="oil.titration.purityPercent" />
        <NumberEntry path="oil.volumeAtC" />
        <Tick name="oil.methanolInFeed" />
      </Rarer>
    </fieldset>
  );
}

function MethanolGroup() {
  const { resolved } = recipe.value;
  return (
    <fieldset>
      <legend>{TEXTS.groups.methanol}</legend>
      <div class="entries">
        <NumberEntry path="methanol.percentOfOilVolume" />
        <NumberEntry path="methanol.purityPercent" />
        <div class="entry">
          <OneOf
            name="catalyst.kind"
            legend={LABELS['catalyst.kind']!}
            options={TEXTS.titrants}
            value={BASE_KINDS.find((kind) => kind === textOf(form.value, 'catalyst.kind')) ?? ''}
            onValue={(text) => type('catalyst.kind', text)}
            help={
              textOf(form.value, 'catalyst.kind') === ''
                ? ENTRY_TEXTS.leftOut(TEXTS.lyes[resolved.catalyst.kind])
                : TEXTS.lyes[resolved.catalyst.kind]
            }
          />
          <CautionsAt name="catalyst.kind" />
        </div>
        <NumberEntry path="catalyst.purityPercent" />
      </div>
      <Rarer
        title={TEXTS.rarer.methanol}
        names={['methanol.startC', 'catalyst.baseGPerL', 'catalyst.grams', 'passes']}
      >
        <NumberEntry path="methanol.startC" />
        <NumberEntry path="catalyst.baseGPerL" />
        <NumberEntry path="catalyst.grams" />
        <TextEntry name="passes" unit="%" help={HELP.passes} numeric={false} />
      </Rarer>
    </fieldset>
  );
}

function PlaceGroup() {
  const { placeTells } = recipe.value;
  return (
    <fieldset>
      <legend>{TEXTS.groups.place}</legend>
      <div class="entries">
        {sites.value.length > 0 && (
          <Select name={PLACE} label={LABELS.place!}>
            <option value="">{TEXTS.typedPlace}</option>
            {sites.value.map(({ site, altitudeM, pressureHPa, pressureAssumed }) => (
              <option key={site} value={site}>
                {altitudeM !== null
                  ? TEXTS.placeKnown(site, height(altitudeM, units.value))
                  : pressureAssumed
                    ? TEXTS.placeUnknown(site)
                    : TEXTS.placePressure(site, pressureHPa.toFixed(0))}
              </option>
            ))}
          </Select>
        )}
        {!placeTells && <NumberEntry path="site.altitudeM" none={TEXTS.seaLevel} />}
        <NumberEntry path="reaction.temperatureC" />
      </div>
      <Rarer
        title={TEXTS.rarer.place}
        names={[
          'site.pressureHPa',
          'watch.requiredReactionMinutes',
          'watch.requiredSettleHours',
          'vessel.liquidHeightM',
        ]}
      >
        {!placeTells && <NumberEntry path="site.pressureHPa" none={TEXTS.none} />}
        <NumberEntry path="watch.requiredReactionMinutes" />
        <NumberEntry path="watch.requiredSettleHours" />
        <TextEntry
          name="vessel.liquidHeightM"
          quantity="height"
          help={
            textOf(form.value, 'vessel.liquidHeightM') === ''
              ? TEXTS.usualHeight(
                  `${asTyped(Number(fromSI('height', recipe.value.answer.liquidHeightM, units.value).toPrecision(2)))} ${units.value.height}`,
                )
              : undefined
          }
        />
      </Rarer>
    </fieldset>
  );
}

function StirringGroup() {
  return (
    <fieldset>
      <legend>{TEXTS.groups.stirring}</legend>
      <div class="entries">
        {!isTicked(form.value, NO_STIRRER) && <NumberEntry path="watch.lowestStirrerSpeed" />}
        <Tick name={NO_STIRRER} />
      </div>
      <Rarer
        title={TEXTS.rarer.stirring}
        names={['watch.lowestPumpFlow', 'watch.readingEverySeconds', 'watch.requiredReactionMinutes']}
      >
        <NumberEntry path="watch.lowestPumpFlow" none={TEXTS.notAsked} />
        <NumberEntry path="watch.readingEverySeconds" />
        <Tick name="watch.mixingStated" />
      </Rarer>
      <Rarer title={TEXTS.rarer.limits} names={['watch.limits', ...LIMIT_FIELDS.map(({ path }) => path)]}>
        <p class="quiet wide">{TEXTS.limitsLead}</p>
        <CautionsAt name="watch.limits" />
        {LIMIT_FIELDS.map(({ path }) => (
          <NumberEntry key={path} path={path} />
        ))}
      </Rarer>
    </fieldset>
  );
}

export function Entries() {
  const { wrong } = recipe.value;
  return (
    <form class="recipe-form" onSubmit={(event) => event.preventDefault()}>
      <h2>{TEXTS.entries}</h2>
      <OilGroup />
      <TitrationGroup />
      <MethanolGroup />
      <PlaceGroup />
      <StirringGroup />
      <p class="problem" role="status">
        {wrong.size > 0 && TEXTS.fieldsWrong(wrong.size)}
      </p>
      <button
        type="button"
        class="plain"
        onClick={() => {
          form.value = {};
        }}
      >
        {TEXTS.clear}
      </button>
    </form>
  );
}

/** For paper: what was typed, and what stood in for the rest. */
export function AsEntered() {
  const { resolved, place } = recipe.value;
  const { oil, methanol, catalyst, reaction, site } = resolved;
  const rows: [string, string][] = [
    [LABELS['oil.kind']!, `${litres(oil.volumeL)} ${OIL_NAMES[oil.kind]}`],
    [LABELS['oil.volumeAtC']!, degrees(oil.volumeAtC)],
    [
      TEXTS.groups.titration,
      oil.titration === null
        ? TEXTS.none
        : TEXTS.print.titration(
            [oil.titration.mL].flat().map(asTyped).join(', '),
            oil.titration.titrant,
            oil.titration.blankMl,
            oil.titration.gPerL,
            oil.titration.purityPercent,
            oil.titration.sampleMl,
          ),
    ],
    [LABELS['oil.waterPpm']!, oil.waterPpm === null ? TEXTS.unknown : `${oil.waterPpm} ppm`],
    [
      LABELS['methanol.percentOfOilVolume']!,
      TEXTS.print.methanol(methanol.percentOfOilVolume, methanol.purityPercent, degrees(methanol.startC)),
    ],
    [
      LABELS['catalyst.kind']!,
      TEXTS.print.lye(catalyst.kind, catalyst.purityPercent, asTyped(catalyst.baseGPerL)),
    ],
    [
      LABELS.place!,
      [
        place?.site,
        site.altitudeM === null ? undefined : height(site.altitudeM, units.value),
        site.pressureHPa === null ? undefined : `${site.pressureHPa} hPa`,
      ]
        .filter((part) => part !== undefined)
        .join(', ') || TEXTS.none,
    ],
    [LABELS['reaction.temperatureC']!, degrees(reaction.temperatureC)],
  ];
  return (
    <section class="paper-only">
      <h2>{TEXTS.print.entered}</h2>
      <dl class="pairs">
        {rows.map(([what, value]) => (
          <div key={what}>
            <dt>{what}</dt>
            <dd>{value}</dd>
          </div>
        ))}
      </dl>
    </section>
  );
}

/** Puts the cursor where a caution comes from, unfolding what it lies in. */
export function goToEntry(name: string): void {
  const input =
    document.getElementById(entryId(name)) ?? document.getElementById(entryId(GOES_TO[name] ?? PLACE));
  if (input === null) return;
  const folded = input.closest('details');
  if (folded !== null) folded.open = true;
  input.focus();
  input.scrollIntoView({ block: 'center' });
}
