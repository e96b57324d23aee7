import { at, record, type Bench } from './chain.js';
import { newId, PASSWORD, type TestLab } from './lab.js';

/** A protocol as a lab might write it; the numbers are the house's own unless a test changes them. */
export const protocolInput = (id: string, name: string, parameters: object = {}): object => ({
  id,
  name,
  parameters: {
    discDiameterMm: 10, discsPerLeaf: 1, hydrationLeastMin: 180, hydrationMostMin: 240, hydrationLeastC: 18, hydrationMostC: 22,
    blottingPaper: 'filter paper', blottingCount: 2, blottingSeconds: 2, ovenTemperatureC: 70, coolingMin: 30,
    constantMassFraction: 0.005, constantMassSteps: 2, constantMassIntervalMin: 60, rhythmMin: 5, bracketMin: 30, lampWarmUpMin: 20, clockOffsetMostS: 5,
    scanFirst: false, outOfCheck: 'ASK', minimumMassMg: null, rwcWarn: 1, rwcAsk: 1.03, rwcLeast: 0, risingSteps: 2, fallingTimes: 3,
    ratioRobustSd: 3, ratioLeastDiscs: 8, turgidGainPerHour: 0.01, cutToWeighingS: 60, blotToWeighingS: 60,
    asks: ['FRESH_ABOVE_TURGID', 'RWC_FAR_ABOVE_ONE', 'RWC_BELOW_ZERO', 'MASS_RISING', 'MASS_FELL_FAR', 'LINE_REPEATED', 'READING_UNSTABLE'],
    uBlotting: 0.01, uResidualMoisture: 0.01, evaporationMg: 0.15,
    ...parameters,
  },
});

/** A protocol written by the researcher and approved by the manager; its id. */
export async function approvedProtocol(lab: TestLab, name: string, parameters: object = {}): Promise<string> {
  const id = newId();
  await record(lab.as('RESEARCHER'), 'recordProtocol', 'RecordProtocolInput', protocolInput(id, name, parameters));
  await record(lab.as('MANAGER'), 'sign', 'SignInput', { id: newId(), subjectKind: 'protocol', subjectId: id, meaning: 'APPROVED', password: PASSWORD });
  return id;
}

/** An open run under a protocol, with its pre-flight. */
export async function openedUnderProtocol(lab: TestLab, bench: Bench): Promise<{ protocolId: string; runId: string; discId: string; preflightId: string }> {
  const technician = lab.as('TECHNICIAN');
  const protocolId = await approvedProtocol(lab, 'Discs of 10 mm');
  const [runId, discId, preflightId] = [newId(), newId(), newId()];
  await record(technician, 'recordDisc', 'RecordDiscInput', { id: discId, leafId: bench.leafId, label: `P-${runId.slice(-6)}`, diameterMm: '10' });
  await record(technician, 'openDryingRun', 'OpenDryingRunInput', { id: runId, label: `RP-${runId.slice(-6)}`, rigId: bench.rigId, balanceId: bench.balanceId, discIds: [discId], openedAt: at(0), protocolId });
  for (const [lightPath, powerText] of [['DARK', '1.0'], ['REFERENCE', '1001.0']]) {
    await record(technician, 'recordMeterReading', 'RecordMeterReadingInput', {
      id: newId(), lightPath, observedAt: at(1), powerText, powerUnit: 'nW', discId: null, dryingRunId: runId, entryMode: 'TYPED', rawLine: powerText, clockOffsetMs: 120,
    });
  }
  await record(technician, 'recordPreflight', 'RecordPreflightInput', {
    id: preflightId, dryingRunId: runId, observedAt: at(2), lampOnSince: at(-3), clockOffsetMs: 120, clockRoundTripMs: 8, skipped: [{ point: 'LAMP', reason: 'Warm since the run before.' }],
  });
  return { protocolId, runId, discId, preflightId };
}
