import type { LabEvent } from './events.js';
import type { Calendar } from './moment.js';
import type { Scenario } from './scenario.js';

export const PROTOCOL = 'protocol/discs';

/** How the simulated lab works: written by a researcher, approved by the manager, before the first leaf is cut. */
export function protocolEvents(scenario: Scenario, calendar: Calendar): readonly LabEvent[] {
  const at = (clock: number): string => calendar.text(calendar.moment(27, clock));
  return [
    {
      kind: 'protocol', key: PROTOCOL, at: at(10.6), by: 'researcher-1', name: `Discs of ${scenario.discDiameterMm} mm, three hours of water`,
      parameters: {
        discDiameterMm: scenario.discDiameterMm, discsPerLeaf: 2,
        hydrationLeastMin: 180, hydrationMostMin: 240, hydrationLeastC: 18, hydrationMostC: 22,
        blottingPaper: 'filter paper, medium fast', blottingCount: 2, blottingSeconds: 2,
        ovenTemperatureC: 70, coolingMin: 30, constantMassFraction: 0.005, constantMassSteps: 2, constantMassIntervalMin: 60,
        rhythmMin: scenario.rhythmMin, bracketMin: 20, lampWarmUpMin: 30, clockOffsetMostS: 5, scanFirst: true, outOfCheck: 'ASK', minimumMassMg: null,
        rwcWarn: 1, rwcAsk: 1.03, rwcLeast: 0, risingSteps: 2, fallingTimes: 3, ratioRobustSd: 3, ratioLeastDiscs: 8,
        turgidGainPerHour: 0.01, cutToWeighingS: 60, blotToWeighingS: 60,
        asks: ['FRESH_ABOVE_TURGID', 'RWC_FAR_ABOVE_ONE', 'RWC_BELOW_ZERO', 'DRY_NOT_BELOW_FRESH', 'DRY_NOT_BELOW_TURGID', 'MASS_RISING', 'MASS_FELL_FAR', 'LINE_REPEATED', 'STILL_TAKING_UP_WATER', 'TARE_CHANGED', 'READING_UNSTABLE'],
        uBlotting: 0.01, uResidualMoisture: 0.01, evaporationMg: 0.15,
      },
    },
    {
      kind: 'signature', key: `${PROTOCOL}/approved`, at: at(14), by: 'manager-1', subjectKey: PROTOCOL, subjectKind: 'protocol', meaning: 'approved',
      statement: 'As we work; blotting as in the trial of last month.',
    },
  ];
}
