import {
  belowBoilingC,
  catalystPercentOfOilMass,
  massKg,
  methanolL,
  methanolToOilMolar,
  usualHeightM,
} from './amounts.ts';
import { standardAltitudeM, standardPressureHPa } from './atmosphere.ts';
import { mixedC } from './dosing.ts';
import { waterSolubilityPpm } from './drying.ts';
import { esterDensityKgPerM3, esterViscosityMPaS } from './ester.ts';
import {
  esterificationAcidKg,
  esterificationBaseMol,
  esterificationLeftMgKOHPerG,
  esterificationMethanolKg,
  esterificationWaterKg,
} from './esterification.ts';
import type { FormulaText } from './formula.ts';
import { glycerolDensityKgPerM3, glycerolViscosityMPaS } from './glycerol.ts';
import { conversionPercent, reactionMinutes, reactionRate } from './kinetics.ts';
import { settledLayers } from './layers.ts';
import {
  methanolBoilingC,
  methanolDensityKgPerM3,
  methanolHeatCapacityJPerKgK,
  methanolVapourPressureHPa,
} from './methanol.ts';
import { methoxidePeakC, methoxidePortionG } from './methoxide.ts';
import { oilDensityKgPerM3, oilHeatCapacityJPerKgK, oilMolarMassGPerMol } from './oils.ts';
import { dropoutPercent, waterByWeightPercent } from './practice.ts';
import { hotMethanolVapourPressureHPa, methanolLeftMassPercent, methanolRecoveredKg } from './recovery.ts';
import { settlingHours, stokesVelocityMPerS } from './settling.ts';
import { soapG, soapTitrationPpm, soapWaterG } from './soap.ts';
import {
  acidNumberMgKOHPerG,
  catalystG,
  freeFattyAcidPercent,
  sameMolesG,
  titratedMolPerL,
} from './titration.ts';
import { waterBoilingC, waterVapourPressureHPa } from './water.ts';

/** Every formula of this folder by its name, under headings, both in the order in which a batch needs them. */
export const FORMULAS = {
  'Pressure and boiling': {
    standardPressureHPa,
    standardAltitudeM,
    methanolBoilingC,
    methanolVapourPressureHPa,
    belowBoilingC,
    waterBoilingC,
    waterVapourPressureHPa,
  },
  Oil: { oilMolarMassGPerMol, oilDensityKgPerM3, oilHeatCapacityJPerKgK, massKg },
  'Titration and catalyst': {
    titratedMolPerL,
    acidNumberMgKOHPerG,
    freeFattyAcidPercent,
    catalystG,
    sameMolesG,
    catalystPercentOfOilMass,
    soapG,
    soapWaterG,
  },
  'Acid esterification': {
    esterificationMethanolKg,
    esterificationAcidKg,
    esterificationWaterKg,
    esterificationLeftMgKOHPerG,
    esterificationBaseMol,
  },
  'Methanol, methoxide and dosing': {
    methanolL,
    methanolDensityKgPerM3,
    methanolHeatCapacityJPerKgK,
    methanolToOilMolar,
    methoxidePeakC,
    methoxidePortionG,
    mixedC,
  },
  Reaction: { conversionPercent, reactionMinutes, reactionRate },
  'Settling and what comes out': {
    usualHeightM,
    settlingHours,
    stokesVelocityMPerS,
    settledLayers,
    esterDensityKgPerM3,
    esterViscosityMPaS,
    glycerolDensityKgPerM3,
    glycerolViscosityMPaS,
  },
  'Methanol recovery': { methanolRecoveredKg, methanolLeftMassPercent, hotMethanolVapourPressureHPa },
  'Washing, drying and field tests': {
    soapTitrationPpm,
    waterSolubilityPpm,
    dropoutPercent,
    waterByWeightPercent,
  },
} as const satisfies Readonly<Record<string, Readonly<Record<string, FormulaText>>>>;
