import pg from 'pg';
import { at, record } from '../support/chain.js';
import { newId, PASSWORD, type TestLab, type TestServer } from '../support/lab.js';
import { openedUnderProtocol } from '../support/protocol.js';
import { PIXEL, storeFile } from '../support/stored-file.js';
import { driedLeaves, fillField, fillLab, otherCropDried, sign } from '../support/whole-chain.js';

/** A lab with a record of every kind that an operation may ask for. */
export interface Side {
  readonly lab: TestLab;
  /** The newest record of each kind, and those that `places.ts` names more closely: `balance`, `released_run`, `fig_leaf` ... */
  readonly byKind: ReadonlyMap<string, string>;
}

export const STOCK = { pageWidthMm: 30, pageHeightMm: 15, columns: 1, rows: 1, marginLeftMm: 0, marginTopMm: 0, pitchXMm: 30, pitchYMm: 15, labelWidthMm: 30, labelHeightMm: 15 };
const SPECTRA = { LEAF: 'nm,leaf\n1380,0.4\n1450,0.1\n1620,0.4\n', LAMP: 'nm,lamp\n1380,2\n1620,2\n', FILTER: 'nm,filter\n1380,0\n1430,0\n1470,1\n1510,0\n1620,0\n', ABSORBER: 'nm,taken up\n1380,0\n1430,0\n1470,0.8\n1510,0\n1620,0\n', SUN: 'nm,sun\n1380,1\n1620,1\n' };

export async function fillSide(server: TestServer, lab: TestLab, grantee: TestLab): Promise<Side> {
  const [technician, researcher, manager, engineer] = [lab.as('TECHNICIAN'), lab.as('RESEARCHER'), lab.as('MANAGER'), lab.as('FIELD_ENGINEER')];
  const filled = await fillLab(lab);
  await fillField(lab, filled);
  const { bench, versionId, unitId, run } = filled;
  const olive = await otherCropDried(lab, bench, 'Olive', { heights: [-0.08, 0.05, 0.02, -0.01] });
  const named = new Map<string, string>();
  const make = async (kind: string, mutation: string, input: object, client = researcher, type = `${mutation[0]!.toUpperCase()}${mutation.slice(1)}Input`): Promise<string> => {
    const id = newId();
    await record(client, mutation, type, { id, ...input });
    named.set(kind, id);
    return id;
  };
  await storeFile(researcher, 'leaf.png', PIXEL);
  const shareId = await make('calibration_share', 'shareCalibration', { calibrationVersionId: versionId, depth: 'SUMMARY', permits: 'REUSE', licence: 'ours', citation: 'us' });
  await make('share_grant', 'grantShare', { shareId, audience: 'LABS', labIds: [grantee.labId] });
  await make('calibration_comment', 'recordCalibrationComment', { shareId, question: true, text: 'Any questions?' });
  await make('place', 'recordPlace', { placeKind: 'TRAY', label: 'Tray' }, manager);
  await make('bias_source', 'registerInstrument', { kind: 'BIAS_SOURCE', label: 'Bias 1', resolution: '0.05', repeatability: '0.002', unit: 'V', checkEveryHours: 24 }, manager);
  await make('line_format', 'setLineFormat', { instrumentId: bench.balanceId, pattern: '{mark},{value} {unit}', stableMarks: ['ST'], movingMarks: ['US'], unit: 'mg' }, manager);
  await make('heard_line', 'hearLine', { instrumentId: bench.balanceId, rawLine: 'ST,1.00 mg', heardAt: new Date().toISOString() }, technician);
  for (const [of, text] of Object.entries(SPECTRA)) {
    const file = await storeFile(researcher, `${of}.csv`, Buffer.from(text), 'SPECTRUM');
    named.set('spectrum', await make(`${of.toLowerCase()}_spectrum`, 'recordSpectrum', { label: of, observedAt: at(0), storedFileId: file.id, fileKind: 'TABLE', spectrumOf: of }));
  }
  await make('transfer_study', 'studyTransfer', { calibrationVersionId: versionId, cropId: olive.cropId, dryingRunIds: [olive.runId], marginPoints: 6 });
  await make('certificate_batch', 'issueCertificates', {
    deviceUnitIds: [unitId], calibrationVersionId: versionId, lightReferenceId: await idOf(server, lab, 'light_reference'), targetRwc: 0.8, targetBasis: 'Test', validUntil: at(5_000_000),
  }, engineer);
  const opened = await openedUnderProtocol(lab, bench);
  const onWater = newId();
  await record(technician, 'recordDisc', 'RecordDiscInput', { id: onWater, leafId: bench.leafId, label: 'On water', diameterMm: '10' });
  await make('hydration', 'startHydration', { label: 'H1', discIds: [onWater], startedAt: at(10) }, technician);
  const inOven = newId();
  await record(technician, 'recordDisc', 'RecordDiscInput', { id: inOven, leafId: bench.leafId, label: 'In the oven', diameterMm: '10' });
  await make('oven_cycle', 'startOvenCycle', { label: 'O-open', ovenId: bench.ovenId, setTemperatureC: '70', discIds: [inOven], startedAt: at(30) }, technician);
  await make('label_print', 'printLabels', { subjectKind: 'DISC', subjectIds: [opened.discId], symbology: 'DATA_MATRIX', stock: STOCK }, technician);
  await record(technician, 'recordCustody', 'RecordCustodyInput', { moves: [{ id: newId(), subjectKind: 'DISC', subjectId: opened.discId }], placeId: named.get('place'), movedAt: at(40) });
  const jobId = newId();
  await manager.ask('mutation ($id: UUID!) { recomputeAll(id: $id) { problem { message } } }', { id: jobId });
  const { createAccessToken: { accessToken } } = await researcher.ask<any>(
    'mutation ($input: CreateAccessTokenInput!) { createAccessToken(input: $input) { accessToken { id } problem { message } } }',
    { input: { id: newId(), label: 'script', scopes: ['READ'], expiresAt: new Date(Date.now() + 86_400_000).toISOString(), password: PASSWORD } },
  );
  const more: Record<string, string> = {
    job: jobId, access_token: accessToken.id, lab: lab.labId, balance: bench.balanceId, meter: bench.meterId, oven: bench.ovenId, instrument: bench.balanceId, protocol: opened.protocolId,
    drying_run: opened.runId, released_run: run.dryingRunId, olive_run: olive.runId, disc: opened.discId, dried_disc: run.discIds[0]!, oven_disc: inOven, olive_disc: olive.discIds[0]!,
    leaf: bench.leafId, olive_leaf: olive.leafIds[0]!, crop: bench.cropId, olive: olive.cropId, plant: filled.plantId,
  };
  return { lab, byKind: new Map([...(await inLedger(server, lab)), ...named, ...Object.entries(more)]) };
}

/** A lab whose calibration stands open to another: its share is what that lab may adopt. */
export async function shareWith(lab: TestLab, taker: TestLab): Promise<{ shareId: string; pack: Buffer }> {
  const [researcher, manager, engineer] = [lab.as('RESEARCHER'), lab.as('MANAGER'), lab.as('FIELD_ENGINEER')];
  const { bench, run } = await driedLeaves(lab);
  const [calibrationId, versionId, shareId] = [newId(), newId(), newId()];
  await record(researcher, 'recordCalibration', 'RecordCalibrationInput', { id: calibrationId, label: 'Given', cropId: bench.cropId });
  await record(researcher, 'fitCalibration', 'FitCalibrationInput', { id: versionId, calibrationId, dryingRunIds: [run.dryingRunId] });
  await sign(engineer, 'calibration_version', versionId, 'REVIEWED');
  await sign(manager, 'calibration_version', versionId, 'APPROVED');
  await record(researcher, 'shareCalibration', 'ShareCalibrationInput', { id: shareId, calibrationVersionId: versionId, depth: 'RAW', permits: 'REUSE', licence: 'theirs', citation: 'them' });
  await record(researcher, 'grantShare', 'GrantShareInput', { id: newId(), shareId, audience: 'LABS', labIds: [taker.labId] });
  const { sharePack } = await researcher.ask<any>('query ($id: UUID!) { sharePack(id: $id) { base64 } }', { id: shareId });
  return { shareId, pack: Buffer.from(sharePack.base64, 'base64') };
}

async function inLedger(server: TestServer, lab: TestLab): Promise<[string, string][]> {
  const owner = new pg.Client({ connectionString: server.database.ownerUrl });
  await owner.connect();
  const { rows } = await owner.query<{ kind: string; id: string }>('SELECT subject_kind AS kind, subject_id AS id FROM ledger_entry WHERE lab_id = $1 ORDER BY recorded_at, id', [lab.labId]);
  const { rows: [member] } = await owner.query<{ id: string }>("SELECT account_id AS id FROM membership WHERE lab_id = $1 AND role = 'TECHNICIAN' LIMIT 1", [lab.labId]);
  const { rows: [entry] } = await owner.query<{ id: string }>('SELECT id FROM ledger_entry WHERE lab_id = $1 ORDER BY recorded_at DESC LIMIT 1', [lab.labId]);
  await owner.end();
  return [...rows.map(({ kind, id }): [string, string] => [kind, id]), ['account', member!.id], ['ledger_entry', entry!.id]];
}

const idOf = async (server: TestServer, lab: TestLab, kind: string): Promise<string> => new Map(await inLedger(server, lab)).get(kind)!;

/** A notice to one person of a lab; returns its id. */
export async function tellNotice(server: TestServer, labId: string, accountId: string): Promise<string> {
  const owner = new pg.Client({ connectionString: server.database.ownerUrl });
  await owner.connect();
  const id = newId();
  await owner.query('SELECT set_config($1, $2, false)', ['threadleaf.lab_id', labId]);
  await owner.query("INSERT INTO notice (lab_id, id, account_id, kind, text, subject_kind, subject_id) VALUES ($1, $2, $3, 'RESULT_STALE', 'Look at it.', 'job', $2)", [labId, id, accountId]);
  await owner.end();
  return id;
}
