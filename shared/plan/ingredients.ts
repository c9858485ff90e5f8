import { catalystPercentOfOilMass, massKg, methanolL, methanolToOilMolar } from '../chemistry/amounts.ts';
import {
  contradictsAltitude,
  PRESSURE_SPREAD_HPA,
  SEA_LEVEL_HPA,
  standardPressureHPa,
} from '../chemistry/atmosphere.ts';
import { BASES } from '../chemistry/bases.ts';
import {
  esterificationAcidKg,
  esterificationBaseMol,
  esterificationLeftMgKOHPerG,
  esterificationMethanolKg,
  esterificationWaterKg,
} from '../chemistry/esterification.ts';
import { OutOfRange } from '../chemistry/formula.ts';
import {
  METHANOL_PRESSURE_RANGE_HPA,
  methanolBoilingC,
  methanolDensityKgPerM3,
} from '../chemistry/methanol.ts';
import { methoxidePeakC, methoxidePortionG, NEXT_PORTION_BELOW_C } from '../chemistry/methoxide.ts';
import { oilDensityKgPerM3, oilMolarMassGPerMol } from '../chemistry/oils.ts';
import { soapG, soapWaterG } from '../chemistry/soap.ts';
import {
  acidNumberMgKOHPerG,
  catalystG,
  freeFattyAcidPercent,
  MOL_PER_L,
  oilVerdict,
  runsOf,
  titratedMolPerL,
} from '../chemistry/titration.ts';
import { waterBoilingC } from '../chemistry/water.ts';
import { bounded } from './bounded.ts';
import type { ResolvedRequest } from './resolve.ts';
import type { Workings } from './workings.ts';

/** What goes in: the air above it, the oil and its acid, methanol, catalyst, and the two of them mixed. */

/** Sulphuric acid as it is sold, % by mass. Common practice, no source. */
const SULPHURIC_PURITY_PERCENT = 96;
/** A portion is worked out for methoxide that may rise by so much at least, °C. */
const LEAST_RISE_C = 10;

export function airOf({ site }: ResolvedRequest, workings: Workings) {
  const { altitudeM, pressureHPa: read } = site;
  const standard = altitudeM === null ? null : standardPressureHPa({ altitudeM });
  // Where the two contradict each other the lower counts: a boiling point that is too high is the
  // dangerous mistake, and a pressure reduced to sea level the usual one.
  const isRead =
    read !== null && (altitudeM === null || read < standard! || !contradictsAltitude(read, altitudeM));
  const pressureHPa = isRead ? read : (standard ?? SEA_LEVEL_HPA);
  if (altitudeM !== null && !isRead) workings.by('pressureHPa', standardPressureHPa, { altitudeM });
  // A pressure that was read is the day's; one from the altitude is a mean.
  const spread = isRead ? 0 : PRESSURE_SPREAD_HPA;
  const { least, most } = METHANOL_PRESSURE_RANGE_HPA;
  const low = Math.max(least, pressureHPa - spread);
  const high = Math.min(most, pressureHPa + spread);
  return {
    pressureHPa,
    pressureAssumed: read === null && altitudeM === null,
    methanolBoilingC: workings.by('methanolBoilingC', methanolBoilingC, { pressureHPa }),
    methanolBoilingCLow: workings.by('methanolBoilingCLow', methanolBoilingC, { pressureHPa: low }),
    methanolBoilingCHigh: workings.by('methanolBoilingCHigh', methanolBoilingC, { pressureHPa: high }),
    waterBoilingC: workings.by('waterBoilingC', waterBoilingC, { pressureHPa }),
    waterBoilingCLow: workings.by('waterBoilingCLow', waterBoilingC, { pressureHPa: low }),
    waterBoilingCHigh: workings.by('waterBoilingCHigh', waterBoilingC, { pressureHPa: high }),
  };
}

export function oilOf({ oil: { kind, volumeL, volumeAtC } }: ResolvedRequest, workings: Workings) {
  const densityKgPerM3 = workings.by('oilDensityKgPerM3', oilDensityKgPerM3, {
    kind,
    temperatureC: volumeAtC,
  });
  return {
    oilDensityKgPerM3: densityKgPerM3,
    oilKg: workings.by('oilKg', massKg, { litres: volumeL, densityKgPerM3 }),
    oilMolarMassGPerMol: workings.by('oilMolarMassGPerMol', oilMolarMassGPerMol, { kind }),
  };
}

export function acidOf({ oil, catalyst }: ResolvedRequest, oilKg: number, workings: Workings) {
  const { titration, volumeL: oilL } = oil;
  const runs = titration && runsOf(titration.mL);
  const molPerL =
    titration === null || runs === null
      ? 0
      : workings.by('titration.molPerL', titratedMolPerL, {
          titrantMl: runs.mean,
          blankMl: titration.blankMl,
          titrant: titration.titrant,
          gPerL: titration.gPerL,
          purityPercent: titration.purityPercent,
          sampleMl: titration.sampleMl,
        });
  if (molPerL > MOL_PER_L.most) {
    const most = `what comes to at most ${MOL_PER_L.most} mol of base for a litre of oil, and no fatty acid has more`;
    throw new OutOfRange('oil.titration.mL', titration?.mL, most);
  }
  const number = workings.by('acidNumberMgKOHPerG', acidNumberMgKOHPerG, {
    molPerL,
    oilKgPerL: oilKg / oilL,
  });
  const percent = workings.by('freeFattyAcidPercent', freeFattyAcidPercent, { acidNumberMgKOHPerG: number });
  return {
    molPerL,
    titration: runs && { meanMl: runs.mean, spreadMl: runs.spread, runs: runs.count, molPerL },
    acidNumberMgKOHPerG: number,
    freeFattyAcidPercent: percent,
    acidSoapG: workings.by('soapG', soapG, { oilL, molPerL, catalyst: catalyst.kind }),
    soapWaterG: workings.by('soapWaterG', soapWaterG, { oilL, molPerL }),
    verdict: titration === null ? ('not-titrated' as const) : oilVerdict(percent),
    esterification:
      oilVerdict(percent) === 'too-acid' ? esterificationOf(oilKg, number, catalyst, workings) : null,
  };
}

function esterificationOf(
  oilKg: number,
  number: number,
  { kind, purityPercent }: ResolvedRequest['catalyst'],
  workings: Workings,
) {
  const of = { oilKg, acidNumberMgKOHPerG: number };
  const methanolKg = workings.by('esterification.methanolKg', esterificationMethanolKg, of);
  const acidKg = workings.by('esterification.sulphuricAcidKg', esterificationAcidKg, {
    ...of,
    purityPercent: SULPHURIC_PURITY_PERCENT,
  });
  const baseMol = workings.by('esterification.baseForSulphuricAcidMol', esterificationBaseMol, {
    acidKg,
    purityPercent: SULPHURIC_PURITY_PERCENT,
  });
  return {
    methanolKg,
    methanolL: (methanolKg / methanolDensityKgPerM3({ temperatureC: 20 })) * 1000,
    sulphuricAcidKg: acidKg,
    baseForSulphuricAcidMol: baseMol,
    baseForSulphuricAcidG: (baseMol * BASES[kind].gPerMol) / (purityPercent / 100),
    sulphuricAcidPurityPercent: SULPHURIC_PURITY_PERCENT,
    waterKg: workings.by('esterification.waterKg', esterificationWaterKg, of),
    ...bounded(
      'acidNumberLeftMgKOHPerG',
      workings.by('esterification.acidNumberLeftMgKOHPerG', esterificationLeftMgKOHPerG, {
        acidNumberMgKOHPerG: number,
      }),
    ),
  };
}

export function methanolOf(
  { oil, methanol: { percentOfOilVolume, purityPercent, startC } }: ResolvedRequest,
  { oilKg, oilMolarMassGPerMol }: { oilKg: number; oilMolarMassGPerMol: number },
  workings: Workings,
) {
  const litres = workings.by('methanolL', methanolL, { oilL: oil.volumeL, percentOfOilVolume });
  const densityKgPerM3 = workings.by('methanolDensityKgPerM3', methanolDensityKgPerM3, {
    temperatureC: startC,
  });
  const methanolKg = workings.by('methanolKg', massKg, { litres, densityKgPerM3 });
  const pureKg = (methanolKg * purityPercent) / 100;
  return {
    methanolL: litres,
    methanolDensityKgPerM3: densityKgPerM3,
    methanolKg,
    methanolToOilMolar: workings.by('methanolToOilMolar', methanolToOilMolar, {
      methanolKg: pureKg,
      oilKg,
      oilMolarMassGPerMol,
    }),
  };
}

export function catalystOf(
  { oil, catalyst }: ResolvedRequest,
  oilKg: number,
  molPerL: number,
  workings: Workings,
) {
  const { kind, purityPercent, baseGPerL, grams } = catalyst;
  const needed = workings.by(
    grams === null ? ['catalystNeededG', 'catalystG'] : 'catalystNeededG',
    catalystG,
    {
      oilL: oil.volumeL,
      molPerL,
      baseGPerL,
      catalyst: kind,
      purityPercent,
    },
  );
  const weighed = grams ?? needed;
  const percent = workings.by('catalystPercentOfOilMass', catalystPercentOfOilMass, {
    catalystG: weighed,
    purityPercent,
    oilKg,
  });
  if (percent > 100) {
    const most = Math.floor(oilKg * 1000);
    throw new OutOfRange('catalyst.grams', grams, `at most the mass of the oil, ${most} g, of pure catalyst`);
  }
  return {
    catalystG: weighed,
    catalystNeededG: needed,
    catalystForAcidG: (oil.volumeL * molPerL * BASES[kind].gPerMol) / (purityPercent / 100),
    pureG: (weighed * purityPercent) / 100,
    catalystPercentOfOilMass: percent,
  };
}

export function methoxideOf(
  { methanol: { startC }, catalyst: { kind, purityPercent }, passes }: ResolvedRequest,
  { methanolBoilingCLow }: { methanolBoilingCLow: number },
  { methanolKg }: { methanolKg: number },
  { pureG, catalystG: weighed }: { pureG: number; catalystG: number },
  marginC: number,
  workings: Workings,
) {
  // The largest charge; the peak is the same in all, since they share methanol and catalyst alike.
  const share = Math.max(...passes.map(({ sharePercent }) => sharePercent)) / 100;
  const peakC = workings.by('methoxidePeakC', methoxidePeakC, {
    startC,
    methanolKg,
    base: kind,
    baseG: pureG,
  });
  const { least, most } = methoxidePortionG.inputs.peakC;
  const allowedC = Math.min(most, Math.max(least, methanolBoilingCLow - marginC));
  const nextBelowC = Math.max(least, Math.min(NEXT_PORTION_BELOW_C, allowedC - LEAST_RISE_C));
  const purePortionG = workings.by('methoxidePurePortionG', methoxidePortionG, {
    startC: nextBelowC,
    peakC: allowedC,
    methanolKg: methanolKg * share,
    base: kind,
  });
  const portionG = purePortionG / (purityPercent / 100);
  const charge = weighed * share;
  const atOnce = peakC <= allowedC;
  return {
    methoxidePeakC: peakC,
    methoxideAllowedC: allowedC,
    methoxidePurePortionG: purePortionG,
    methoxidePortionG: atOnce ? charge : Math.min(portionG, charge),
    methoxidePortions: atOnce ? 1 : portionG > 0 ? Math.max(1, Math.ceil(charge / portionG)) : null,
    methoxideNextBelowC: nextBelowC,
  };
}
