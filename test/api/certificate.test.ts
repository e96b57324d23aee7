import { writeFileSync } from 'node:fs';
import { at, record } from '../support/chain.js';
import { storeFile } from '../support/stored-file.js';
import { newId, PASSWORD, startTestServer, type Client, type TestLab, type TestServer } from '../support/lab.js';
import { characterisedUnit, fillLab, lightReference, sign, unitOfLot, type FilledLab } from '../support/whole-chain.js';
import { jobDone } from '../support/until.js';

let server: TestServer;
let lab: TestLab;
let engineer: Client;
let filled: FilledLab;
let lightReferenceId: string;

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Certificate lab');
  engineer = lab.as('FIELD_ENGINEER');
  filled = await fillLab(lab);
  ({ lightReferenceId } = await one('thresholdCertificate', filled.certificateId, 'lightReference { id }').then((c) => ({ lightReferenceId: c.lightReference.id })));
});

afterAll(() => server.close());

const one = async (query: string, id: string, fields: string): Promise<any> => (await engineer.ask<any>(`query ($id: UUID!) { ${query}(id: $id) { ${fields} } }`, { id }))[query];

async function refusal(mutation: string, inputType: string, input: object, fields = ''): Promise<any> {
  return (await engineer.ask<any>(`mutation ($input: ${inputType}!) { ${mutation}(input: $input) { ${fields} problem { code field message remedy } } }`, { input }))[mutation];
}

const trial = async (more: object = {}, fields = ''): Promise<any> =>
  (await engineer.ask<any>(`query ($input: CertificateTrialInput!) { certificateTrial(input: $input) { possible biasV exactBiasV roundingRwc tripRwc tripRwcLow tripRwcHigh tripRwcSd marginSigma relativeSlope falseTripChance missedTripChance shares { cause sdRwc } objections { code severity message } problem { code field message } ${fields} } }`, {
    input: { deviceUnitId: filled.unitId, calibrationVersionId: filled.versionId, lightReferenceId, targetRwc: 0.8, ...more },
  })).certificateTrial;

const light = (more: object): object => ({ id: newId(), label: `Light ${newId().slice(-6)}`, site: 'South block', observedAt: at(-900), basis: 'MEASURED', ...more });

describe('a light reference', () => {
  // Five days, readings at 10, 12 and 14 o'clock; the brightest armed one of each day is that of noon.
  const noon = [1000, 1100, 900, 1050, 950];
  const series = noon.flatMap((power, day) => [[10, 0.7], [12, 1], [14, 0.8], [18, 1.5]].map(([hour, part]) => ({ at: `2026-06-0${day + 1}T${hour}:00:00+02:00`, powerText: (power * part!).toFixed(1) })));

  it('is computed from a series by the brightest armed reading of each day', async () => {
    const { lightReference: told } = await record(engineer, 'recordLightReference', 'RecordLightReferenceInput', light({ series, armedFromMin: 9 * 60, armedUntilMin: 15 * 60, bandCentreNm: '1470', bandWidthNm: '12', diffuser: 'opal glass' }),
      'lightReference { powerNw relativeSd days dailyMaxima { at powerNw } series { powerText powerUnit } }');
    // Geometric mean and SD of ln P of the five noons: worked apart in a spreadsheet, 997.49 nW and 0.07932.
    expect(Number(told.powerNw)).toBeCloseTo(997.49, 1);
    expect(Number(told.relativeSd)).toBeCloseTo(0.07932, 4);
    expect(told).toMatchObject({ days: 5 });
    expect(told.dailyMaxima.map((r: any) => r.powerNw)).toEqual(noon);
    expect(told.series).toHaveLength(20);
  });

  it('asks for the spread where one day cannot tell it, and adds up its parts', async () => {
    const oneDay = series.slice(0, 3);
    expect((await refusal('recordLightReference', 'RecordLightReferenceInput', light({ series: oneDay }))).problem).toMatchObject({ code: 'INPUT', field: 'relativeSd' });
    const spreadParts = [{ cause: 'CLOUD', relativeSd: 0.08, reason: 'Thin cloud of last summer' }, { cause: 'TILT', relativeSd: 0.06, reason: 'Leaves within 20°' }];
    const { lightReference: told } = await record(engineer, 'recordLightReference', 'RecordLightReferenceInput', light({ series: oneDay, spreadParts }), 'lightReference { relativeSd days spreadParts { cause } }');
    expect(told).toMatchObject({ relativeSd: '0.1', days: 1, spreadParts: [{ cause: 'CLOUD' }, { cause: 'TILT' }] });
  });

  it('is refused with two answers to one question, or none', async () => {
    const field = async (more: object): Promise<string> => (await refusal('recordLightReference', 'RecordLightReferenceInput', light(more))).problem.field;
    expect(await field({ series, powerText: '1000' })).toBe('powerText');
    expect(await field({ series, relativeSd: '0.1' })).toBe('relativeSd');
    expect(await field({ relativeSd: '0.1' })).toBe('powerText');
    expect(await field({ powerText: '1000', powerUnit: 'nW' })).toBe('relativeSd');
    expect(await field({ series, armedFromMin: 0, armedUntilMin: 60 })).toBe('series');
    expect(await field({ basis: 'ASSUMED', powerText: '1000', relativeSd: '0.2' })).toBe('note');
    expect(await field({ powerText: '1000', relativeSd: '0.2', latitude: '91' })).toBe('latitude');
  });

  it('widens a certificate by the days it was measured on', async () => {
    const id = newId();
    // The same power and spread as the stated reference of this lab (480 nW ± 10 %), but known from three days.
    const days = [-1, 0, 1].map((z, day) => ({ at: `2026-06-0${day + 1}T12:00:00Z`, powerText: (480 * Math.exp(0.1 * z)).toFixed(4) }));
    await record(engineer, 'recordLightReference', 'RecordLightReferenceInput', { ...light({ series: days }), id });
    const [stated, known] = [await trial(), await trial({ lightReferenceId: id })];
    const sd = (told: any): number => told.shares.find((s: any) => s.cause === 'irradiance').sdRwc;
    expect(sd(known) / sd(stated)).toBeCloseTo(Math.sqrt(1 + 1 / 3), 3);
    expect(known.tripRwcHigh - known.tripRwcLow).toBeGreaterThan(stated.tripRwcHigh - stated.tripRwcLow);
    expect(known.objections.map((o: any) => o.code)).toContain('LIGHT_FEW_DAYS');
  });
});

describe('a certificate before it is issued', () => {
  it('says what it would say, and writes nothing', async () => {
    const told = await trial({ falseTripRwc: 0.95, missedTripRwc: 0.65 });
    expect(told).toMatchObject({ possible: true, problem: null });
    expect(Math.abs(told.biasV - told.exactBiasV)).toBeLessThanOrEqual(0.005);
    expect(told.marginSigma).toBeGreaterThan(5);
    expect(told.falseTripChance).toBeGreaterThan(0);
    expect(told.falseTripChance).toBeLessThan(0.5);
    expect(told.missedTripChance).toBeLessThan(0.5);
    // b of the test's leaves is 1: the shift by ten per cent of light is 0.1 within the fit's own error.
    expect(told.relativeSlope).toBeCloseTo(1, 1);
  });

  it('tells what a coarse bias source costs in points', async () => {
    const [fine, coarse] = [await trial({ biasStepV: 0.001 }), await trial({ biasStepV: 0.5 })];
    expect(Math.abs(fine.roundingRwc)).toBeLessThan(0.001);
    expect(Math.abs(coarse.roundingRwc)).toBeGreaterThan(0.005);
    expect(coarse.biasV % 0.5).toBeCloseTo(0, 9);
  });

  it('names the target that keeps a risk, and the risk there is that one', async () => {
    const ask = async (rwc: number, risk: number): Promise<any> => (await engineer.ask<any>('query ($input: GuardBandTargetInput!) { guardBandTarget(input: $input) { targetRwc biasV tripRwcSd problem { code message } } }', {
      input: { deviceUnitId: filled.unitId, calibrationVersionId: filled.versionId, lightReferenceId, kind: 'FALSE_TRIP', rwc, risk, biasStepV: 0.001 },
    })).guardBandTarget;
    const chosen = await ask(0.95, 0.1);
    // R_wet − 1.2816·σ: the standard normal quantile of 0.9.
    expect(chosen.targetRwc).toBeCloseTo(0.95 - 1.2816 * chosen.tripRwcSd, 3);
    const there = await trial({ targetRwc: chosen.targetRwc, falseTripRwc: 0.95, biasStepV: 0.001 });
    // The Monte Carlo knows few leaves by Student's t, so its tails are a little longer than the first-order ones.
    expect(there.falseTripChance).toBeGreaterThan(0.07);
    expect(there.falseTripChance).toBeLessThan(0.16);
    expect((await ask(0.65, 0.000001)).problem).toMatchObject({ code: 'INPUT' });
  });

  it('tells of a bias source that is out of check, and takes its step', async () => {
    const biasSourceId = newId();
    await record(lab.as('MANAGER'), 'registerInstrument', 'RegisterInstrumentInput', { id: biasSourceId, kind: 'BIAS_SOURCE', label: 'Bias 1', resolution: '0.05', repeatability: '0.002', unit: 'V', checkEveryHours: 24 });
    const told = await trial({ biasSourceId });
    expect(told.objections.map((o: any) => o.code)).toContain('BIAS_SOURCE_NOT_IN_CHECK');
    expect(told.biasV * 20).toBeCloseTo(Math.round(told.biasV * 20), 6);
    expect((await trial({ biasSourceId: filled.bench.balanceId })).problem).toMatchObject({ field: 'biasSourceId' });
  });
});

describe('a certificate', () => {
  it('is refused for a band the unit does not have, a sweep that lets go, and a unit out of service', async () => {
    const unit = await characterisedUnit(engineer, 'B-1');
    await record(engineer, 'recordAbsorptionBand', 'RecordAbsorptionBandInput', { id: newId(), deviceUnitId: unit.unitId, observedAt: at(-800), centreNm: '1940', widthNm: '30', method: 'spectrometer' });
    expect((await trial({ deviceUnitId: unit.unitId })).objections.map((o: any) => o.code)).toContain('BAND_MISMATCH');
    const held = await characterisedUnit(engineer, 'B-2');
    // On the way down the contact opens at 11.4 V only: below it nothing stays latched.
    const steps = Array.from({ length: 60 }, (_, i) => [0.25 * (60 - i), 0.25 * (60 - i) > 11.4 ? 1e-7 : 2e-12]);
    await record(engineer, 'recordBiasSweep', 'RecordBiasSweepInput', { id: newId(), deviceUnitId: held.unitId, observedAt: at(-790), direction: 'DOWN', polarity: 'POSITIVE', steps });
    await record(engineer, 'fitBiasThresholdCurve', 'FitBiasThresholdCurveInput', { id: newId(), deviceUnitId: held.unitId, exponent: 2 / 3 });
    expect(await trial({ deviceUnitId: held.unitId })).toMatchObject({ possible: false, objections: expect.arrayContaining([expect.objectContaining({ code: 'BIAS_BELOW_HOLD' })]) });
    const gone = await characterisedUnit(engineer, 'B-3');
    await record(engineer, 'retireDeviceUnit', 'RetireDeviceUnitInput', { id: newId(), deviceUnitId: gone.unitId, observedAt: at(-780), cause: 'LOST', reason: 'Not found after the storm.' });
    expect((await trial({ deviceUnitId: gone.unitId })).problem).toMatchObject({ code: 'STATE', field: 'deviceUnitId' });
  });

  it('is judged by the whole spectrum of its unit, or of its lot, which its thread names; retracted, the certificate is stale', async () => {
    const spectrumOf = async (label: string, centreNm: number, widthNm: number): Promise<string> => {
      const rows = Array.from({ length: 241 }, (_, i) => 1380 + i).map((nm) => `${nm};${(0.8 * Math.exp(-4 * Math.LN2 * ((nm - centreNm) / widthNm) ** 2)).toFixed(6)}`);
      const { id: storedFileId } = await storeFile(engineer, `${label}.csv`, Buffer.from(['nm;taken up', ...rows].join('\n')), 'SPECTRUM');
      const id = newId();
      await record(engineer, 'recordSpectrum', 'RecordSpectrumInput', { id, label, spectrumOf: 'ABSORBER', observedAt: at(-850), storedFileId, fileKind: 'TABLE' });
      return id;
    };
    const bandOf = async (of: object, spectrumId: string, minutes: number): Promise<any> => {
      const id = newId();
      await record(engineer, 'recordAbsorptionBand', 'RecordAbsorptionBandInput', { id, ...of, observedAt: at(minutes), spectrumId, method: 'Spectrometer' });
      return id;
    };
    const moved = (told: any): any => told.objections.find((o: any) => o.code === 'BAND_MOVES_TRIP');
    const { unitId, lotId } = await characterisedUnit(engineer, 'S-1');
    const { rig } = await one('calibrationVersion', filled.versionId, 'rig { bandCentreNm bandWidthNm }');
    expect(moved(await trial({ deviceUnitId: unitId }))).toBeUndefined();
    // As the rig sees: nothing to say. Nearer to the peak of water, where less light comes through: drier. Further off: wetter, so far that it asks.
    const lotBand = await bandOf({ deviceLotId: lotId }, await spectrumOf('Witness', Number(rig.bandCentreNm), Number(rig.bandWidthNm)), -800);
    expect(moved(await trial({ deviceUnitId: unitId }))).toBeUndefined();
    await bandOf({ deviceUnitId: unitId }, await spectrumOf('Wide', Number(rig.bandCentreNm), 2.2 * Number(rig.bandWidthNm)), -840);
    const spectrumId = await spectrumOf('Off water', Number(rig.bandCentreNm) + 20, 50);
    // Its own counts, though that of the lot was measured later.
    const own = await bandOf({ deviceUnitId: unitId }, spectrumId, -830);
    const told = await trial({ deviceUnitId: unitId });
    expect(moved(told)).toMatchObject({ severity: 'ASK', message: expect.stringMatching(/Off water.* more light .*wetter than certified\. Its band lies over that of water by \d+ %/) });
    const id = newId();
    const { certificate } = await record(engineer, 'issueCertificate', 'IssueCertificateInput', {
      id, deviceUnitId: unitId, calibrationVersionId: filled.versionId, lightReferenceId, targetRwc: 0.8, targetBasis: 'Test', validUntil: at(5_000_000), overrideReason: 'A trial beside another unit.',
    }, 'certificate { id stale overrides { code } }');
    expect(certificate.overrides.map((o: any) => o.code)).toContain('BAND_MOVES_TRIP');
    const { thread } = await engineer.ask<any>('query ($id: UUID!) { thread(kind: "threshold_certificate", id: $id, direction: DOWN) { nodes { id kind } } }', { id });
    expect(thread.nodes.map((node: any) => node.id)).toEqual(expect.arrayContaining([own, spectrumId]));
    expect(thread.nodes.map((node: any) => node.id)).not.toContain(lotBand);
    await record(engineer, 'retract', 'RetractInput', { id: newId(), targetKind: 'absorption_band', targetId: own, reasonCode: 'OTHER', reason: 'The wrong unit was in the holder.' });
    expect(await one('thresholdCertificate', id, 'stale')).toEqual({ stale: true });
  });

  it('says whether it is valid, and ends with its unit', async () => {
    const read = (id: string): Promise<any> => one('thresholdCertificate', id, 'validity notValidBecause state tripRwc pullInV testedMinV holdV');
    expect(await read(filled.certificateId)).toMatchObject({ validity: 'VALID', notValidBecause: null, state: 'APPROVED', pullInV: 11.875, testedMinV: 4, holdV: null });
    const unit = await characterisedUnit(engineer, 'V-1');
    const issue = async (validUntil: string): Promise<string> => {
      const id = newId();
      await record(engineer, 'issueCertificate', 'IssueCertificateInput', { id, deviceUnitId: unit.unitId, calibrationVersionId: filled.versionId, lightReferenceId, targetRwc: 0.8, targetBasis: 'Test', validUntil, falseTripRwc: 0.95, missedTripRwc: 0.65 });
      return id;
    };
    const id = await issue('2020-01-01T00:00:00Z');
    expect(await read(id)).toMatchObject({ validity: 'NOT_APPROVED', notValidBecause: 'It is a draft, not for use.' });
    await sign(lab.as('RESEARCHER'), 'threshold_certificate', id, 'REVIEWED');
    await sign(lab.as('MANAGER'), 'threshold_certificate', id, 'APPROVED');
    expect(await read(id)).toMatchObject({ validity: 'ENDED', notValidBecause: 'It was valid until 2020-01-01.' });
    await record(engineer, 'retireDeviceUnit', 'RetireDeviceUnitInput', { id: newId(), deviceUnitId: unit.unitId, observedAt: at(-770), cause: 'DAMAGED', reason: 'Cracked.' });
    expect(await read(id)).toMatchObject({ validity: 'UNIT_RETIRED', notValidBecause: 'The unit is retired: Cracked.' });
  });

  it('is recomputed to the same bytes from what it rests on', async () => {
    const { recompute } = await lab.as('AUDITOR').ask<any>('query ($id: UUID!) { recompute(kind: "threshold_certificate", id: $id) { same steps { kind same differences { path then now } } } }', { id: filled.certificateId });
    expect(recompute.steps.filter((step: any) => !step.same)).toEqual([]);
    expect(recompute.same).toBe(true);
  });
});

describe('a certificate on paper', () => {
  it('is a PDF for members, and its code is a picture', async () => {
    const paper = await engineer.request(`/papers/certificate/${filled.certificateId}`);
    expect(paper.status).toBe(200);
    expect(paper.headers.get('content-type')).toBe('application/pdf');
    const bytes = Buffer.from(await paper.arrayBuffer());
    expect(bytes.subarray(0, 5).toString()).toBe('%PDF-');
    if (process.env['KEEP_PAPERS']) writeFileSync(`${process.env['KEEP_PAPERS']}/certificate.pdf`, bytes);
    const code = await engineer.request(`/papers/code/threshold_certificate/${filled.certificateId}`);
    expect([code.headers.get('content-type'), (await code.text()).startsWith('<svg')]).toEqual(['image/svg+xml', true]);
    expect((await engineer.request(`/papers/certificate/${newId()}`)).status).toBe(404);
    expect((await server.stranger().request(`/papers/certificate/${filled.certificateId}`)).status).toBe(401);
  });
});

/** Asks for certificates of several units and waits for the job's end. */
async function batchOf(input: { readonly id: string }, fields: string): Promise<any> {
  await record(engineer, 'issueCertificates', 'IssueCertificatesInput', input);
  await jobDone(engineer, input.id);
  return (await record(engineer, 'issueCertificates', 'IssueCertificatesInput', input, fields)).batch;
}

describe('certificates for a whole lot', () => {
  it('give each unit its own bias or its own refusal, once, however often they are sent', async () => {
    const good = await characterisedUnit(engineer, 'L-1');
    const bare = newId();
    await record(engineer, 'registerDeviceUnit', 'RegisterDeviceUnitInput', { id: bare, lotId: good.lotId, label: 'L-2' });
    const input = {
      id: newId(), deviceUnitIds: [good.unitId, bare, filled.unitId], calibrationVersionId: filled.versionId, lightReferenceId, targetRwc: 0.8, targetBasis: 'Wilting seen below 78 %', validUntil: at(5_000_000), falseTripRwc: 0.95, missedTripRwc: 0.65,
    };
    const fields = 'batch { id outcomes { deviceUnit { label } certificate { id biasV state targetRwc } refusal { code message objections { code } } } }';
    const batch = await batchOf(input, fields);
    expect(batch.outcomes.map((o: any) => [o.deviceUnit.label, o.certificate?.state ?? null, o.refusal?.code ?? null])).toEqual([['L-1', 'DRAFT', null], ['L-2', null, 'STATE'], ['U-701', 'DRAFT', null]]);
    expect(batch.outcomes[1].refusal.message).toContain('no bias-threshold curve');
    const again = await record(engineer, 'issueCertificates', 'IssueCertificatesInput', input, fields);
    expect(again.replayed).toBe(true);
    expect(again.batch).toEqual(batch);
    const { thread } = await engineer.ask<any>('query ($id: UUID!) { thread(kind: "threshold_certificate", id: $id, direction: DOWN) { nodes { kind label } } }', { id: batch.outcomes[0].certificate.id });
    expect(thread.nodes).toContainEqual({ kind: 'certificate_batch', label: 'certificates for 3 units' });
  });

  it('are reviewed and approved together, a signature on each, and left where it is not their turn', async () => {
    const { lotId } = await characterisedUnit(engineer, 'B-10');
    const unitIds = [await unitOfLot(engineer, lotId, 'B-11'), await unitOfLot(engineer, lotId, 'B-12', 320)];
    const id = newId();
    const { outcomes } = await batchOf({ id, deviceUnitIds: unitIds, calibrationVersionId: filled.versionId, lightReferenceId, targetRwc: 0.8, targetBasis: 'Test', validUntil: at(5_000_000) } as any, 'batch { outcomes { certificate { id } } }');
    const certificateIds = outcomes.map(({ certificate }: any) => certificate.id);
    const signAll = async (client: Client, meaning: string, more: object = {}): Promise<any> => (await client.ask<any>(
      'mutation ($input: SignCertificateBatchInput!) { signCertificateBatch(input: $input) { signed left { certificate { id } message } problem { code field } } }', { input: { id: newId(), certificateBatchId: id, meaning, password: PASSWORD, ...more } })).signCertificateBatch;
    const states = async (): Promise<string[]> => Promise.all(certificateIds.map(async (each: string) => (await one('thresholdCertificate', each, 'state')).state));
    expect((await signAll(lab.as('RESEARCHER'), 'REVIEWED', { password: 'another' })).problem).toMatchObject({ code: 'CREDENTIALS', field: 'password' });
    // Nobody reviews what they asked for themselves; nothing is approved before its review.
    expect(await signAll(engineer, 'REVIEWED')).toMatchObject({ signed: 0, left: certificateIds.map((each: string) => ({ certificate: { id: each }, message: expect.stringContaining('You made this') })) });
    expect(await signAll(lab.as('MANAGER'), 'APPROVED')).toMatchObject({ signed: 0, left: [{ message: expect.stringContaining('not been reviewed') }, {}] });
    expect(await states()).toEqual(['DRAFT', 'DRAFT']);
    const input = { id: newId() };
    expect(await signAll(lab.as('RESEARCHER'), 'REVIEWED', input)).toMatchObject({ signed: 2, left: [], problem: null });
    expect(await signAll(lab.as('RESEARCHER'), 'REVIEWED', input)).toMatchObject({ signed: 2, left: [] });
    expect((await signAll(lab.as('RESEARCHER'), 'APPROVED')).left).toMatchObject([{ message: expect.stringContaining('You reviewed this') }, {}]);
    await sign(lab.as('MANAGER'), 'threshold_certificate', certificateIds[0], 'WITHDRAWN', 'Wrong lot.');
    expect(await signAll(lab.as('MANAGER'), 'APPROVED')).toMatchObject({ signed: 1, left: [{ certificate: { id: certificateIds[0] }, message: expect.stringContaining('withdrawn') }] });
    expect(await states()).toEqual(['WITHDRAWN', 'APPROVED']);
    expect((await one('thresholdCertificate', certificateIds[1], 'signatures { meaning }')).signatures.map((s: any) => s.meaning)).toEqual(['REVIEWED', 'APPROVED']);
  });

  it('keep the objections of a refused unit, and an override answers them for all', async () => {
    const stale = { deviceUnitIds: [filled.unitId], calibrationVersionId: filled.versionId, lightReferenceId, targetRwc: 0.55, targetBasis: 'Below what was calibrated', validUntil: at(5_000_000) };
    const outcome = async (more: object): Promise<any> => (await batchOf({ id: newId(), ...stale, ...more }, 'batch { outcomes { certificate { id overrideReason } refusal { code objections { code } } } }')).outcomes[0];
    expect(await outcome({})).toMatchObject({ certificate: null, refusal: { code: 'OUT_OF_SCOPE', objections: expect.arrayContaining([{ code: 'TARGET_OUTSIDE_CALIBRATION' }]) } });
    expect(await outcome({ overrideReason: 'Trial of the north block only.' })).toMatchObject({ certificate: { overrideReason: 'Trial of the north block only.' }, refusal: null });
  });
});

it('the light reference of another lab is not found', async () => {
  const other = await server.openLab('Other certificate lab');
  const foreign = await lightReference(other.as('FIELD_ENGINEER'));
  expect((await trial({ lightReferenceId: foreign })).problem).toMatchObject({ code: 'NOT_FOUND', field: 'lightReferenceId' });
});
