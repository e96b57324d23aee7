import { writeFileSync } from 'node:fs';
import { at, record } from '../support/chain.js';
import { newId, startTestServer, type Client, type TestLab, type TestServer } from '../support/lab.js';
import { characterisedUnit } from '../support/whole-chain.js';

let server: TestServer;
let lab: TestLab;
let engineer: Client;
let unitId: string;
let lotId: string;

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Passport lab');
  engineer = lab.as('FIELD_ENGINEER');
  ({ unitId, lotId } = await characterisedUnit(engineer, 'P-01'));
});

afterAll(() => server.close());

const unit = async (fields: string, id = unitId): Promise<any> => (await engineer.ask<any>(`query ($id: UUID!) { deviceUnit(id: $id) { ${fields} } }`, { id })).deviceUnit;

/** The problem of a refused mutation. */
async function refusal(mutation: string, inputType: string, input: object): Promise<any> {
  return (await engineer.ask<any>(`mutation ($input: ${inputType}!) { ${mutation}(input: $input) { problem { code field message remedy } } }`, { input }))[mutation].problem;
}

describe('a passport', () => {
  it('keeps band, chopped light, resets, temperature and cycles, and sums them up', async () => {
    await record(engineer, 'recordAbsorptionBand', 'RecordAbsorptionBandInput', { id: newId(), deviceUnitId: unitId, observedAt: at(-2800), centreNm: '1462', widthNm: '38', peakAbsorptance: '0.81', method: 'Fourier-transform spectrometer, reflected' });
    for (const [i, powers] of [[100, 102, 98, 101, null], [103, 105, 104, 102]].entries()) {
      await record(engineer, 'recordChoppedRun', 'RecordChoppedRunInput', { id: newId(), deviceUnitId: unitId, observedAt: at(-2700 + i), biasV: '9', chopHz: '0.5', tripPowersNw: powers });
    }
    await record(engineer, 'recordTemperatureRun', 'RecordTemperatureRunInput', {
      id: newId(), deviceUnitId: unitId, observedAt: at(-2600), biasV: '9', steps: [-10, 10, 30, 50].map((t) => [t, 100 * Math.exp(-0.004 * t)]),
    });
    for (const [i, [cycles, pullInV]] of ([[1, '11.88'], [10, '11.89'], [100, '11.88'], [1000, '11.9']] as const).entries()) {
      await record(engineer, 'recordCycleCount', 'RecordCycleCountInput', { id: newId(), deviceUnitId: unitId, observedAt: at(-2500 + i), cycles, switching: 'HOT', pullInV, contactResistanceOhm: '180' });
    }
    const passport = await unit(`
      absorptionBands { centreNm widthNm peakAbsorptance method }
      choppedRuns { openings missed meanNw relativeSd }
      choppedRepeatability { withinSd betweenSd groups observations pValue }
      temperatureRuns { relativePerK uRelativePerK }
      cycleDrift { perDecadeV limitV verdict }
      sweepSummary { pullIn { polarity sweeps meanV uMeanV } hysteresisV }
      curve { scatter exponents { reading exponent deltaAicc } }
      passportRemarks { code message }
      retirement { cause }`);
    expect(passport.absorptionBands).toEqual([{ centreNm: '1462', widthNm: '38', peakAbsorptance: '0.81', method: 'Fourier-transform spectrometer, reflected' }]);
    expect(passport.choppedRuns[0]).toMatchObject({ openings: 5, missed: 1, meanNw: 100.25 });
    // Within: pooled SD of ln P; worked with a pocket calculator: 0.0152 (0.0171 and 0.0125 with 3 degrees of freedom each).
    expect(passport.choppedRepeatability.withinSd).toBeCloseTo(0.0152, 3);
    expect(passport.choppedRepeatability).toMatchObject({ groups: 2, observations: 8 });
    expect(passport.choppedRepeatability.betweenSd).toBeGreaterThan(0.01);
    expect(passport.temperatureRuns[0].relativePerK).toBeCloseTo(-0.004, 10);
    expect(passport.cycleDrift.verdict).toBe('WITHIN');
    expect(passport.sweepSummary.pullIn[0]).toMatchObject({ polarity: 'POSITIVE', sweeps: 1, meanV: 11.875 });
    expect(passport.curve.exponents.map((e: any) => e.reading)).toEqual(['PARALLEL_PLATE', 'CONTACT_LIMITED', 'FREE']);
    expect(passport.curve.exponents.find((e: any) => e.reading === 'CONTACT_LIMITED').deltaAicc).toBeGreaterThan(10);
    expect(passport.passportRemarks.map((r: any) => r.code).sort()).toEqual(['HOT_CYCLES', 'MISSED_TRIPS', 'TEMPERATURE']);
    expect(passport.retirement).toBeNull();
  });

  it('tells currents in decades and how the light was raised', async () => {
    const { tripTest } = await record(engineer, 'recordTripTest', 'RecordTripTestInput', {
      id: newId(), deviceUnitId: unitId, observedAt: at(-2400), biasV: '9', tripPowerText: '50.1', tripPowerUnit: 'nW', rawLine: '9 V 50.1 nW', onCurrentA: '1e-6', offCurrentA: '2e-12', lightCourse: 'RAMPED', temperatureC: '23.5',
    }, 'tripTest { decades lightCourse temperatureC }');
    expect(tripTest).toMatchObject({ lightCourse: 'RAMPED', temperatureC: '23.5' });
    expect(tripTest.decades).toBeCloseTo(5.699, 3);
  });

  it('keeps the instrument’s own file beside a sweep, in its thread', async () => {
    const file = newId();
    const sent = await engineer.request(`/files?id=${file}&name=sweep.csv&purpose=INSTRUMENT_FILE&type=text/csv`, {
      method: 'POST', headers: { 'content-type': 'application/octet-stream', 'x-threadleaf': '1' }, body: 'V,A\n1,2e-12\n2,1e-7\n',
    });
    expect(sent.status).toBe(201);
    const { biasSweep } = await record(engineer, 'recordBiasSweep', 'RecordBiasSweepInput', {
      id: newId(), deviceUnitId: unitId, observedAt: at(-2350), direction: 'UP', polarity: 'POSITIVE', steps: Array.from({ length: 12 }, (_, i) => [i + 1, 2e-12]), storedFileId: file, voltsPerS: '0.5',
    }, 'biasSweep { id voltsPerS file { name sha256 } }');
    expect(biasSweep).toMatchObject({ voltsPerS: '0.5', file: { name: 'sweep.csv' } });
    const { thread } = await engineer.ask<any>('query ($id: UUID!) { thread(kind: "bias_sweep", id: $id, direction: DOWN) { nodes { kind } } }', { id: biasSweep.id });
    expect(thread.nodes.map((node: any) => node.kind)).toContain('stored_file');
  });

  it('refuses what is no measurement, and says what to do', async () => {
    const base = { id: newId(), deviceUnitId: unitId, observedAt: at(-2300) };
    expect(await refusal('recordAbsorptionBand', 'RecordAbsorptionBandInput', { ...base, centreNm: '1462', widthNm: '38', peakAbsorptance: '81', method: 'x' })).toMatchObject({ code: 'INPUT', field: 'peakAbsorptance' });
    expect(await refusal('recordAbsorptionBand', 'RecordAbsorptionBandInput', { ...base, centreNm: '1462', method: 'x' })).toMatchObject({ code: 'INPUT', field: 'widthNm' });
    expect(await refusal('recordAbsorptionBand', 'RecordAbsorptionBandInput', { ...base, spectrumId: newId(), centreNm: '1462', method: 'x' })).toMatchObject({ code: 'INPUT', field: 'centreNm' });
    expect(await refusal('recordAbsorptionBand', 'RecordAbsorptionBandInput', { ...base, deviceLotId: newId(), centreNm: '1462', widthNm: '38', method: 'x' })).toMatchObject({ code: 'INPUT', field: 'deviceUnitId' });
    expect(await refusal('recordChoppedRun', 'RecordChoppedRunInput', { ...base, biasV: '9', chopHz: '1', tripPowersNw: [100, -1] })).toMatchObject({ field: 'tripPowersNw[1]' });
    expect(await refusal('recordTemperatureRun', 'RecordTemperatureRunInput', { ...base, biasV: '9', steps: [[20, 1], [20, 1], [20, 1]] })).toMatchObject({ field: 'steps' });
    expect(await refusal('recordResetPulse', 'RecordResetPulseInput', { ...base, pulseV: '0', pulseMs: '5', succeeded: true })).toMatchObject({ field: 'pulseV' });
    expect(await refusal('recordCycleCount', 'RecordCycleCountInput', { ...base, cycles: -1, switching: 'COLD' })).toMatchObject({ field: 'cycles' });
  });

  it('asks to retire a unit that no longer resets, retires it once, and takes it back when that was a mistake', async () => {
    const other = await characterisedUnit(engineer, 'P-02');
    for (const minute of [1, 2]) await record(engineer, 'recordResetPulse', 'RecordResetPulseInput', { id: newId(), deviceUnitId: other.unitId, observedAt: at(-2000 + minute), pulseV: '22', pulseMs: '5', succeeded: false });
    expect((await unit('passportRemarks { code }', other.unitId)).passportRemarks).toEqual([{ code: 'RESET_FAILS' }]);
    const retirement = { id: newId(), deviceUnitId: other.unitId, observedAt: at(-1900), cause: 'RESET_FAILS', reason: 'Two pulses of 22 V did not release it.' };
    await record(engineer, 'retireDeviceUnit', 'RetireDeviceUnitInput', retirement);
    expect((await record(engineer, 'retireDeviceUnit', 'RetireDeviceUnitInput', retirement)).replayed).toBe(true);
    expect(await unit('state retirement { cause reason }', other.unitId)).toEqual({ state: 'RETIRED', retirement: { cause: 'RESET_FAILS', reason: 'Two pulses of 22 V did not release it.' } });
    expect(await refusal('retireDeviceUnit', 'RetireDeviceUnitInput', { ...retirement, id: newId() })).toMatchObject({ code: 'STATE', field: 'deviceUnitId' });
    await record(engineer, 'retract', 'RetractInput', { id: newId(), targetKind: 'unit_retirement', targetId: retirement.id, reasonCode: 'OTHER', reason: 'The pulse generator was not connected.' });
    expect(await unit('state retirement { cause }', other.unitId)).toEqual({ state: 'CHARACTERISED', retirement: null });
    const { thread } = await engineer.ask<any>('query ($kind: String!, $id: UUID!) { thread(kind: $kind, id: $id, direction: UP) { nodes { kind summary } } }', { kind: 'device_unit', id: other.unitId });
    expect(thread.nodes.find((node: any) => node.kind === 'unit_retirement').summary).toBe('reset fails: Two pulses of 22 V did not release it.');
  });
});

it('a passport is printed for members', async () => {
  const paper = await engineer.request(`/papers/passport/${unitId}`);
  expect([paper.status, paper.headers.get('content-type')]).toEqual([200, 'application/pdf']);
  const bytes = Buffer.from(await paper.arrayBuffer());
  expect(bytes.subarray(0, 5).toString()).toBe('%PDF-');
  if (process.env['KEEP_PAPERS']) writeFileSync(`${process.env['KEEP_PAPERS']}/passport.pdf`, bytes);
  expect((await engineer.request(`/papers/passport/${newId()}`)).status).toBe(404);
  expect((await server.stranger().request(`/papers/passport/${unitId}`)).status).toBe(401);
});

describe('a lot', () => {
  it('knows the plan: 59 units for 95 % at 95 %, 29 for 90 % at 95 %', async () => {
    const plan = async (reliability: number, allowedFailures = 0): Promise<number> =>
      (await engineer.ask<any>('query ($r: Float!, $f: Int!) { acceptancePlan(reliability: $r, confidence: 0.95, allowedFailures: $f) { neededUnits } }', { r: reliability, f: allowedFailures })).acceptancePlan.neededUnits;
    // The usual figures of zero-failure acceptance; 93 with one failure is of the same binomial tables (from memory).
    expect([await plan(0.95), await plan(0.9), await plan(0.95, 1)]).toEqual([59, 29, 93]);
  });

  it('is accepted only by enough units with few enough failures, and tells what was shown', async () => {
    const claim = { deviceLotId: lotId, observedAt: at(-1000), criterion: 'Trips and resets 20 times at 9 V', reliability: '0.9', confidence: '0.95' };
    const fields = 'lotAcceptance { neededUnits accepted shownReliability }';
    const of = async (testedUnits: number, failedUnits: number): Promise<any> => (await record(engineer, 'recordLotAcceptance', 'RecordLotAcceptanceInput', { id: newId(), ...claim, testedUnits, failedUnits }, fields)).lotAcceptance;
    expect(await of(29, 0)).toMatchObject({ neededUnits: 29, accepted: true });
    expect(await of(28, 0)).toMatchObject({ accepted: false });
    const failed = await of(40, 1);
    expect(failed.accepted).toBe(false);
    expect(failed.shownReliability).toBeGreaterThan(0.88);
    expect(await refusal('recordLotAcceptance', 'RecordLotAcceptanceInput', { id: newId(), ...claim, testedUnits: 3, failedUnits: 4 })).toMatchObject({ field: 'failed' });
  });

  it('shows units and repeats apart, and the unit that stands out', async () => {
    const id = newId();
    await record(engineer, 'registerDeviceLot', 'RegisterDeviceLotInput', { id, label: 'Lot of five' });
    for (const [i, pullInV] of [12, 12.2, 12, 12.2, 12, 12.2, 12, 12.2, 15].entries()) {
      const one = newId();
      await record(engineer, 'registerDeviceUnit', 'RegisterDeviceUnitInput', { id: one, lotId: id, label: `F-${i + 1}` });
      for (const repeat of [0, 1]) {
        const steps = Array.from({ length: 200 }, (_, k) => [0.1 * (k + 1), 0.1 * (k + 1) < pullInV + 0.1 * repeat ? 2e-12 : 1e-7]);
        await record(engineer, 'recordBiasSweep', 'RecordBiasSweepInput', { id: newId(), deviceUnitId: one, observedAt: at(-900 + repeat), direction: 'UP', polarity: 'POSITIVE', steps });
      }
    }
    const { deviceLot } = await engineer.ask<any>('query ($id: UUID!) { deviceLot(id: $id) { statistics { units characterised pullIn { withinSd betweenSd groups pValue } threshold { withinSd } pullInChart { centre low high points { label outside } } p0Chart { centre } } acceptances { id } } }', { id });
    const { statistics } = deviceLot;
    expect(statistics).toMatchObject({ units: 9, characterised: 0, threshold: null, p0Chart: null });
    // Two sweeps 0.1 V apart: SD of a pair is 0.1/√2 of about 12.4 V.
    expect(statistics.pullIn.withinSd).toBeCloseTo(0.1 / Math.SQRT2 / 12.4, 3);
    expect(statistics.pullIn.betweenSd).toBeGreaterThan(5 * statistics.pullIn.withinSd);
    expect(statistics.pullInChart.points.filter((p: any) => p.outside).map((p: any) => p.label)).toEqual(['F-9']);
  });
});
