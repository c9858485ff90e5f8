import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { z } from 'zod';
import { type Amount, type batchBalanceSchema, PRICES } from '../../../shared/wire/balance.ts';
import type { Batch } from '../../../shared/wire/batch.ts';
import { kept } from '../../settings.ts';
import { BATCH } from '../../texts/batch.ts';
import { parseNumber } from '../../units.ts';
import { useNewest } from '../../views/answer.ts';
import { Field, Problem } from '../../views/form.tsx';
import { Part } from '../../views/part.tsx';
import { inTheirWords, litres } from '../../views/words.ts';
import { getBalance } from './calls.ts';

const prices = {
  oilPerL: kept<string>('esterwatch.price.oil', ''),
  methanolPerL: kept<string>('esterwatch.price.methanol', ''),
  catalystPerKg: kept<string>('esterwatch.price.lye', ''),
};

/** As the daemon takes prices: what is no number is left out. */
const priceQuery = (): Record<string, string> =>
  Object.fromEntries(
    PRICES.flatMap((name) => {
      const number = parseNumber(prices[name].value);
      return number === undefined || number < 0 ? [] : [[name, String(number)]];
    }),
  );

/** How long typing has to rest before it is asked anew, ms. */
const REST_MS = 400;

const kgOf = (kg: number | null): string =>
  kg === null
    ? BATCH.figures.unknown
    : kg.toFixed(kg === 0 ? 0 : Math.abs(kg) < 1 ? 3 : Math.abs(kg) < 10 ? 2 : 1);
const litresOf = (volume: number | null): string => (volume === null ? '' : litres(volume));

/** Nobody noted it: what the recipe says stands for it. */
const isPlanned = ({ from }: Amount): boolean => from === 'planned';

/** What went in and came out, the yield, and what a litre cost. */
export function Figures({ batch }: { batch: Batch }) {
  const texts = BATCH.figures;
  const found = useSignal<z.infer<typeof batchBalanceSchema> | undefined>(undefined);
  const { problem, ask } = useNewest();
  const asked = JSON.stringify(priceQuery());
  useEffect(() => {
    const timer = setTimeout(
      () =>
        void ask(
          () => getBalance(batch.id, JSON.parse(asked)),
          (answer) => {
            found.value = answer;
          },
        ),
      found.peek() === undefined ? 0 : REST_MS,
    );
    return () => clearTimeout(timer);
  }, [batch, asked]);

  const { balance, yield: gave, cost } = found.value ?? {};
  const into = Object.values(balance?.in ?? {});
  const noted = into.filter((one) => one.kg !== null && one.kg > 0 && !isPlanned(one));
  return (
    <Part title={texts.title} class="figures">
      <Problem problem={problem} />
      {balance === undefined && problem === undefined && <p class="quiet">{texts.fetch}</p>}
      {balance !== undefined && (
        <>
          <div class="two">
            <Amounts
              title={noted.length === 0 ? texts.inPlanned : texts.in}
              amounts={balance.in}
              sumKg={balance.inKg}
            />
            <Amounts title={texts.out} amounts={balance.out} sumKg={balance.outKg} />
          </div>
          <dl>
            {balance.unaccountedKg !== null && balance.unaccountedPercent !== null && (
              <>
                <dt>{texts.unaccounted}</dt>
                <dd>
                  {texts.unaccountedOf(
                    kgOf(balance.unaccountedKg),
                    balance.unaccountedPercent.toFixed(1),
                    into.some(isPlanned),
                  )}
                </dd>
              </>
            )}
            {balance.missing.length > 0 && (
              <>
                <dt>{texts.missing}</dt>
                <dd>
                  <ul>
                    {balance.missing.map(({ what, says }) => (
                      <li key={what}>{inTheirWords(says)}</li>
                    ))}
                  </ul>
                </dd>
              </>
            )}
            <dt>{inTheirWords(texts.methanol)}</dt>
            <dd>
              {inTheirWords(
                texts.methanolParts(
                  kgOf(balance.methanol.inKg),
                  isPlanned(balance.in.methanol),
                  kgOf(balance.methanol.reactedKg),
                  kgOf(balance.methanol.recoveredKg),
                  kgOf(balance.methanol.notRecoveredKg),
                ),
              )}
            </dd>
            {balance.notes.length > 0 && (
              <>
                <dt>{texts.notes}</dt>
                <dd>
                  <ul>
                    {balance.notes.map((note) => (
                      <li key={note}>{inTheirWords(note)}</li>
                    ))}
                  </ul>
                </dd>
              </>
            )}
            {gave !== undefined && <YieldSaid gave={gave} />}
            {cost !== undefined && (
              <>
                <dt>{texts.cost}</dt>
                <dd>
                  {cost.perL !== null
                    ? texts.perLitre(cost.perL.toFixed(2))
                    : texts.costMissing(cost.missing.map((what) => texts.costNames[what]).join(', '))}
                  {cost.says.length > 0 && (
                    <details>
                      <summary>{BATCH.plan.formula}</summary>
                      <ul>
                        {cost.says.map((line) => (
                          <li key={line}>{line}</li>
                        ))}
                      </ul>
                    </details>
                  )}
                </dd>
              </>
            )}
          </dl>
        </>
      )}
      <div class="grid prices">
        {PRICES.map((name) => (
          <Field
            key={name}
            label={texts.prices[name]}
            value={prices[name].value}
            numeric
            onValue={(text) => {
              prices[name].value = text;
            }}
          />
        ))}
      </div>
      <p class="quiet">{texts.pricesHelp}</p>
    </Part>
  );
}

function Amounts({
  title,
  amounts,
  sumKg,
}: {
  title: string;
  amounts: Readonly<Record<string, Amount>>;
  sumKg: number | null;
}) {
  const { columns, names, from, sum, planned } = BATCH.figures;
  return (
    <table>
      <caption>{title}</caption>
      <thead>
        <tr>
          <th scope="col">{columns.what}</th>
          <th scope="col" class="count">
            {columns.kg}
          </th>
          <th scope="col" class="count">
            {columns.litres}
          </th>
          <th scope="col">{columns.from}</th>
        </tr>
      </thead>
      <tbody>
        {Object.entries(amounts)
          .filter(([, one]) => one.from !== 'none')
          .map(([name, one]) => (
            <tr key={name}>
              <th scope="row">
                {isPlanned(one)
                  ? planned(inTheirWords(names[name as keyof typeof names]))
                  : inTheirWords(names[name as keyof typeof names])}
              </th>
              <td data-name={columns.kg} class="count">
                {kgOf(one.kg)}
              </td>
              <td data-name={columns.litres} class="count">
                {litresOf(one.litres)}
              </td>
              <td data-name={columns.from}>{from[one.from]}</td>
            </tr>
          ))}
        <tr class="sum">
          <th scope="row">{sum}</th>
          <td data-name={columns.kg} class="count">
            {kgOf(sumKg)}
          </td>
          <td />
          <td />
        </tr>
      </tbody>
    </table>
  );
}

function YieldSaid({ gave }: { gave: z.infer<typeof batchBalanceSchema>['yield'] }) {
  const texts = BATCH.figures;
  const { oilL, fuelL, litresPerLitre, planned, earlier } = gave;
  return (
    <>
      <dt>{texts.yield}</dt>
      <dd>
        {litresPerLitre !== null && oilL !== null && fuelL !== null && (
          <p>{texts.yieldOf(litres(fuelL), litres(oilL), litresPerLitre.toFixed(2))}</p>
        )}
        {planned !== null && (
          <p>
            {texts.yieldPlan(
              litres(planned.litres),
              litres(planned.litresLow),
              litres(planned.litresHigh),
              planned.lies === null ? '' : texts.lies[planned.lies],
            )}
          </p>
        )}
        <p>
          {earlier.median !== null && earlier.least !== null && earlier.most !== null
            ? texts.yieldEarlier(
                earlier.known,
                earlier.median.toFixed(2),
                earlier.least.toFixed(2),
                earlier.most.toFixed(2),
              )
            : texts.yieldNoEarlier}
        </p>
      </dd>
    </>
  );
}
