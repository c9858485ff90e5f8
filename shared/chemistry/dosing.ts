import { formula } from './formula.ts';
import { methanolHeatCapacityJPerKgK } from './methanol.ts';
import { oilHeatCapacityJPerKgK } from './oils.ts';

/**
 * Temperature, °C, of oil (−20 to 150 °C) and methoxide (−40 to 65 °C) just mixed, before they react. Not
 * the highest that the batch will reach, and no reason to dose into oil above the highest temperature for
 * dosing: until it is mixed in, methoxide meets the oil at the oil's own temperature.
 * @throws OutOfRange
 */
export const mixedC = formula(
  {
    gives: 'Temperature after mixing in the methoxide',
    unit: '°C',
    formula:
      't = oilC + (methoxideC − oilC) · methoxideKg · cm / (oilKg · co + methoxideKg · cm), co the heat capacity ' +
      'of the oil at oilC, cm that of methanol at methoxideC',
    inputs: {
      oilKg: { what: 'oil', unit: 'kg', least: 1e-6, most: 100_000 },
      oilC: { what: 'oil before', unit: '°C', least: -20, most: 150 },
      methoxideKg: { what: 'methoxide', unit: 'kg', least: 0, most: 500_000 },
      methoxideC: { what: 'methoxide before', unit: '°C', least: -40, most: 65 },
    },
    source: 'Heat balance without losses; the methoxide counts as methanol',
    uncertainty:
      'Without the heats of mixing and of reaction. The latter is uncertain: control papers use 18.5 kJ/mol of ' +
      'ester, up to 23 °C for a whole batch at once, or a third of that if it is meant for a mole of oil; makers ' +
      'see a few degrees (common practice, no source), and no measurement was found. Watch it while dosing.',
  },
  ({ oilKg, oilC, methoxideKg, methoxideC }) => {
    const oilJPerK = oilKg * oilHeatCapacityJPerKgK({ temperatureC: oilC });
    const methoxideJPerK = methoxideKg * methanolHeatCapacityJPerKgK({ temperatureC: methoxideC });
    return oilC + ((methoxideC - oilC) * methoxideJPerK) / (oilJPerK + methoxideJPerK);
  },
);
