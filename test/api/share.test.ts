import { createHash } from 'node:crypto';
import { unzipPack, zipPack } from '#libs/ledger';
import { storeFile } from '../support/stored-file.js';
import { at, furnish, record } from '../support/chain.js';
import { newId, startTestServer, type Client, type TestLab, type TestServer } from '../support/lab.js';
import { characterisedUnit, driedLeaves, lightReference, sign, type FilledLab } from '../support/whole-chain.js';
import { until } from '../support/until.js';

/** The giver has figs, the taker olives; the third has nothing to do with either. */
let server: TestServer;
let giver: TestLab;
let taker: TestLab;
let third: TestLab;
let dried: Pick<FilledLab, 'bench' | 'plantId' | 'run'>;
let versionId: string;
let summaryId: string;
let rawId: string;
let own: { calibrationId: string; rigId: string; unitId: string; lightReferenceId: string };
let adoptedId: string;
let summaryGrantId: string;

const SHARE = 'mutation ($input: ShareCalibrationInput!) { shareCalibration(input: $input) { share { id packBytes statement { leafCount } } problem { code field message } } }';
const share = async (more: object = {}): Promise<any> => (await giver.as('RESEARCHER').ask<any>(SHARE, {
  input: { id: newId(), calibrationVersionId: versionId, depth: 'SUMMARY', permits: 'REUSE', licence: 'CC BY 4.0', citation: 'Fig lab: calibration of fig, 2026', ...more },
})).shareCalibration;
const grant = async (shareId: string, more: object): Promise<any> => (await giver.as('RESEARCHER').ask<any>(
  'mutation ($input: GrantShareInput!) { grantShare(input: $input) { grant { id stands labs { name } } problem { code field message } } }', { input: { id: newId(), shareId, audience: 'LABS', ...more } },
)).grantShare;
const LIST = `{ sharedCalibrations { id giver { name } depth permits licence citation until standing { state stale reason } adopted { id }
  statement { label version cropName leafCount readingCount rwcMin rwcMax parameters { name value } covariance curve { rwc newLeafLow } validation { newLeafHalfWidthPoints leaveOneLeafOutPoints } signatures { meaning by } } } }`;
const sharedWith = async (lab: TestLab): Promise<any[]> => (await lab.as('RESEARCHER').ask<any>(LIST)).sharedCalibrations;
const adopt = async (lab: TestLab, more: object): Promise<any> => (await lab.as('RESEARCHER').ask<any>(
  `mutation ($input: AdoptCalibrationInput!) { adoptCalibration(input: $input) { replayed problem { code field message remedy } calibrationVersion { id state leafCount points { rwc }
    findings { code severity message } rwcAt(transmittance: 0.18) { rwc newLeafLow newLeafHigh } origin { labName versionId depth keys ledger licence pack { sha256 sizeBytes } standing { state } statement { cropName } } } } }`,
  { input: { id: newId(), versionId: newId(), calibrationId: own.calibrationId, rigId: own.rigId, reason: 'Olive leaves look alike in the first five readings', ...more } },
)).adoptCalibration;
const issue = async (client: Client, more: object = {}): Promise<any> => (await client.ask<any>(
  'mutation ($input: IssueCertificateInput!) { issueCertificate(input: $input) { certificate { id tripRwcLow tripRwcHigh } problem { code message } objections { code message } } }',
  { input: { id: newId(), deviceUnitId: own.unitId, calibrationVersionId: adoptedId, lightReferenceId: own.lightReferenceId, targetRwc: 0.8, targetBasis: 'Test target', validUntil: at(5_000_000), ...more } },
)).issueCertificate;

const notices = async (client: Client): Promise<string[]> => (await client.ask<any>('{ notices { text } }')).notices.map(({ text }: any) => text);
/** Labs fetch each other's news shortly after a write. */
const noticeLike = (client: Client, words: string): Promise<string> => until(`a notice says "${words}"`, async () => (await notices(client)).find((text) => text.includes(words)));

beforeAll(async () => {
  server = await startTestServer();
  [giver, taker, third] = [await server.openLab('Fig lab'), await server.openLab('Olive lab'), await server.openLab('Vine lab')];
  dried = await driedLeaves(giver);
  const calibrationId = newId();
  versionId = newId();
  await record(giver.as('RESEARCHER'), 'recordCalibration', 'RecordCalibrationInput', { id: calibrationId, label: 'Fig on rig A', cropId: dried.bench.cropId });
  await record(giver.as('RESEARCHER'), 'fitCalibration', 'FitCalibrationInput', { id: versionId, calibrationId, dryingRunIds: [dried.run.dryingRunId] });
  const [cropId, meterId, rigId, ownCalibrationId] = [newId(), newId(), newId(), newId()];
  const manager = taker.as('MANAGER');
  await record(manager, 'recordCrop', 'RecordCropInput', { id: cropId, name: 'Olive', scientificName: 'Olea europaea' });
  await record(manager, 'registerInstrument', 'RegisterInstrumentInput', { id: meterId, kind: 'POWER_METER', label: 'Meter', resolution: '0.1', repeatability: '0.5', unit: 'nW', checkEveryHours: 720 });
  await record(manager, 'registerRig', 'RegisterRigInput', { id: rigId, label: 'Our rig', version: 1, source: 'halogen lamp', bandCentreNm: '1471', bandWidthNm: '12', meterId });
  await record(manager, 'recordCalibration', 'RecordCalibrationInput', { id: ownCalibrationId, label: 'Olive, from the fig lab', cropId });
  const { unitId } = await characterisedUnit(taker.as('FIELD_ENGINEER'));
  own = { calibrationId: ownCalibrationId, rigId, unitId, lightReferenceId: await lightReference(taker.as('FIELD_ENGINEER')) };
});

afterAll(() => server.close());

it('shares only what is approved', async () => {
  expect(await share()).toMatchObject({ share: null, problem: { code: 'STATE', field: 'calibrationVersionId' } });
  await sign(giver.as('FIELD_ENGINEER'), 'calibration_version', versionId, 'REVIEWED');
  await sign(giver.as('MANAGER'), 'calibration_version', versionId, 'APPROVED');
  expect(await share({ licence: ' ' })).toMatchObject({ problem: { code: 'INPUT', field: 'licence' } });
  const summary = await share();
  expect(summary).toMatchObject({ problem: null, share: { packBytes: expect.any(Number), statement: { leafCount: 6 } } });
  summaryId = summary.share.id;
});

it('reaches nobody before it is granted, and then only those named', async () => {
  expect(await sharedWith(taker)).toEqual([]);
  expect(await grant(summaryId, { labIds: [] })).toMatchObject({ problem: { field: 'labIds' } });
  expect(await grant(summaryId, { labIds: [giver.labId] })).toMatchObject({ problem: { field: 'labIds' } });
  expect(await grant(summaryId, { labIds: [newId()] })).toMatchObject({ problem: { code: 'NOT_FOUND', field: 'labIds' } });
  const granted = await grant(summaryId, { labIds: [taker.labId] });
  expect(granted).toMatchObject({ problem: null, grant: { stands: true, labs: [{ name: 'Olive lab' }] } });
  summaryGrantId = granted.grant.id;
  const [shared] = await sharedWith(taker);
  expect(shared).toMatchObject({
    id: summaryId, giver: { name: 'Fig lab' }, depth: 'SUMMARY', permits: 'REUSE', licence: 'CC BY 4.0', standing: { state: 'APPROVED', stale: false }, adopted: [],
    statement: { label: 'Fig on rig A', version: 1, cropName: 'Fig', leafCount: 6, signatures: [{ meaning: 'REVIEWED' }, { meaning: 'APPROVED' }] },
  });
  expect(shared.statement.validation.newLeafHalfWidthPoints).toBeGreaterThan(5);
  expect(await sharedWith(third)).toEqual([]);
});

it('an adopted summary reads RWC as the original does, without a single reading, and keeps its origin', async () => {
  const { calibrationVersion: made, problem } = await adopt(taker, { shareId: summaryId });
  expect(problem).toEqual(null);
  adoptedId = made.id;
  expect(made).toMatchObject({
    state: 'DRAFT', leafCount: 6, points: [],
    origin: { labName: 'Fig lab', versionId, depth: 'SUMMARY', licence: 'CC BY 4.0', ledger: `threadleaf/ledger/${giver.labId}`, standing: { state: 'APPROVED' }, statement: { cropName: 'Fig' } },
  });
  expect(made.findings).toEqual([expect.objectContaining({ code: 'ORIGIN_CROP', severity: 'WARN' })]);
  const { calibrationVersion: original } = await giver.as('RESEARCHER').ask<any>('query ($id: UUID!) { calibrationVersion(id: $id) { rwcAt(transmittance: 0.18) { rwc newLeafLow newLeafHigh } } }', { id: versionId });
  expect(made.rwcAt).toEqual(original.rwcAt);
  const file = await taker.as('RESEARCHER').ask<any>('query ($id: UUID!) { sharePack(id: $id) { base64 sha256 } }', { id: summaryId });
  expect(createHash('sha256').update(Buffer.from(file.sharePack.base64, 'base64')).digest('hex')).toBe(made.origin.pack.sha256);
});

it('carries a certificate once the own lab has reviewed and approved it', async () => {
  const engineer = taker.as('FIELD_ENGINEER');
  expect((await issue(engineer)).objections.map(({ code }: any) => code)).toContain('CALIBRATION_NOT_APPROVED');
  await sign(engineer, 'calibration_version', adoptedId, 'REVIEWED');
  await sign(taker.as('MANAGER'), 'calibration_version', adoptedId, 'APPROVED');
  const { certificate, problem } = await issue(engineer);
  expect(problem).toEqual(null);
  const { thread } = await taker.as('AUDITOR').ask<any>('query ($id: UUID!) { thread(kind: "threshold_certificate", id: $id, direction: DOWN) { nodes { kind label summary } } }', { id: certificate.id });
  expect(thread.nodes.find(({ kind }: any) => kind === 'calibration_adoption')).toMatchObject({ label: 'taken over from Fig lab: Fig on rig A version 1', summary: expect.stringContaining('CC BY 4.0') });
});

it('shared to be read only, it is not taken over; raw, its readings come along', async () => {
  const read = (await share({ permits: 'READ' })).share.id;
  await grant(read, { audience: 'EVERY_LAB' });
  expect((await sharedWith(third)).map(({ id }) => id)).toEqual([read]);
  expect(await adopt(taker, { shareId: read })).toMatchObject({ calibrationVersion: null, problem: { code: 'OUT_OF_SCOPE' } });
  rawId = (await share({ depth: 'RAW' })).share.id;
  await grant(rawId, { labIds: [taker.labId] });
  const { calibrationVersion: made, problem } = await adopt(taker, { shareId: rawId });
  expect(problem).toEqual(null);
  expect(made.points.length).toBeGreaterThan(20);
  expect(made.origin.depth).toBe('RAW');
});

it('labs that share a version talk about it, and those concerned are told', async () => {
  const SAY = 'mutation ($input: RecordCalibrationCommentInput!) { recordCalibrationComment(input: $input) { comment { id labName own question } problem { code field message } } }';
  const say = async (client: Client, input: object): Promise<any> => (await client.ask<any>(SAY, { input: { id: newId(), ...input } })).recordCalibrationComment;
  const asked = await say(taker.as('TECHNICIAN'), { shareId: summaryId, question: true, text: 'Which side of the leaf was up?' });
  expect(asked).toMatchObject({ problem: null, comment: { labName: 'Olive lab', own: true, question: true } });
  expect(await say(third.as('RESEARCHER'), { shareId: summaryId, text: 'And we?' })).toMatchObject({ comment: null, problem: { code: 'NOT_FOUND', field: 'shareId' } });
  await say(giver.as('MANAGER'), { shareId: summaryId, answersId: asked.comment.id, text: 'The upper one.' });
  await say(giver.as('MANAGER'), { calibrationVersionId: versionId, text: 'Between us: mind the lamp.' });
  const { sharedCalibration } = await taker.as('RESEARCHER').ask<any>('query ($id: UUID!) { sharedCalibration(id: $id) { comments { text own labName answersId } } }', { id: summaryId });
  expect(sharedCalibration.comments).toEqual([
    { text: 'Which side of the leaf was up?', own: true, labName: 'Olive lab', answersId: null },
    { text: 'The upper one.', own: false, labName: 'Fig lab', answersId: asked.comment.id },
  ]);
  const { calibrationVersion } = await giver.as('AUDITOR').ask<any>('query ($id: UUID!) { calibrationVersion(id: $id) { comments { text } } }', { id: versionId });
  expect(calibrationVersion.comments.map(({ text }: any) => text)).toEqual(['Which side of the leaf was up?', 'The upper one.', 'Between us: mind the lamp.']);
  expect(await noticeLike(giver.as('RESEARCHER'), 'asks about Fig on rig A version 1')).toContain('Which side of the leaf was up?');
  expect(await noticeLike(taker.as('TECHNICIAN'), 'The upper one.')).toContain('manager of Fig lab of Fig lab says');
  expect(await noticeLike(taker.as('MANAGER'), 'Fig lab shares Fig on rig A version 1 with your lab')).toBeTruthy();
  expect((await notices(third.as('MANAGER'))).join()).not.toContain('Which side');
});

it('whoever follows a share is told of its changes', async () => {
  const FOLLOW = 'mutation ($id: UUID!, $follow: Boolean!) { followShare(shareId: $id, follow: $follow) { followed problem { code } } }';
  expect(await taker.as('AUDITOR').ask(FOLLOW, { id: rawId, follow: true })).toEqual({ followShare: { followed: true, problem: null } });
  expect(await third.as('AUDITOR').ask(FOLLOW, { id: rawId, follow: true })).toEqual({ followShare: { followed: null, problem: { code: 'NOT_FOUND' } } });
});

describe('a pack that goes to another server', () => {
  let elsewhere: TestServer;
  let far: TestLab;
  let target: { calibrationId: string; rigId: string };
  let zip: Buffer;

  beforeAll(async () => {
    elsewhere = await startTestServer();
    far = await elsewhere.openLab('Far lab');
    const bench = await furnish(far.as('MANAGER'));
    target = { calibrationId: newId(), rigId: bench.rigId };
    await record(far.as('RESEARCHER'), 'recordCalibration', 'RecordCalibrationInput', { id: target.calibrationId, label: 'From far', cropId: bench.cropId });
    const { sharePack } = await giver.as('MANAGER').ask<any>('query ($id: UUID!) { sharePack(id: $id) { base64 } }', { id: rawId });
    zip = Buffer.from(sharePack.base64, 'base64');
  });
  afterAll(() => elsewhere.close());

  const read = async (storedFileId: string): Promise<any> => (await far.as('RESEARCHER').ask<any>(
    'query ($id: UUID!) { readSharedPack(storedFileId: $id) { pack { keys ledger depth permits statement { labName leafCount } findings { check status says } } problem { code message remedy } } }', { id: storedFileId },
  )).readSharedPack;
  const importing = async (storedFileId: string): Promise<any> => (await far.as('RESEARCHER').ask<any>(
    `mutation ($input: ImportCalibrationInput!) { importCalibration(input: $input) { calibrationVersion { id points { rwc } rwcAt(transmittance: 0.18) { rwc newLeafLow } origin { source labName keyComparedWith standing { state } } } problem { code field message } } }`,
    { input: { id: newId(), versionId: newId(), storedFileId, ...target, keyComparedWith: 'The key on the fig lab’s door', reason: 'Same crop, same lamp' } },
  )).importCalibration;

  it('is verified there, shows its key to be compared, and reads RWC as at home', async () => {
    const { id: file } = await storeFile(far.as('RESEARCHER'), 'fig.zip', zip, 'EVIDENCE_PACK');
    const { pack, problem } = await read(file);
    expect(problem).toEqual(null);
    expect(pack).toMatchObject({ ledger: `threadleaf/ledger/${giver.labId}`, depth: 'RAW', statement: { labName: 'Fig lab', leafCount: 6 } });
    expect(pack.findings).toContainEqual(expect.objectContaining({ check: 'key', status: 'unproven', says: expect.stringContaining(pack.keys[0]) }));
    const { calibrationVersion } = await importing(file);
    expect(calibrationVersion).toMatchObject({ origin: { source: 'FILE', labName: 'Fig lab', keyComparedWith: 'The key on the fig lab’s door', standing: null } });
    const { calibrationVersion: home } = await giver.as('RESEARCHER').ask<any>('query ($id: UUID!) { calibrationVersion(id: $id) { rwcAt(transmittance: 0.18) { rwc newLeafLow } } }', { id: versionId });
    expect(calibrationVersion.rwcAt).toEqual(home.rwcAt);
  });

  it('altered on its way, it is refused in plain words and nothing of it stays', async () => {
    const files = new Map(unzipPack(zip));
    const records = Buffer.from(files.get('records.jsonl')!).toString().replace('"licence":"CC BY 4.0"', '"licence":"Public domain"');
    const altered = Buffer.from(zipPack(new Map(files).set('records.jsonl', Buffer.from(records))));
    const { id: file } = await storeFile(far.as('RESEARCHER'), 'fig2.zip', altered, 'EVIDENCE_PACK');
    expect((await read(file)).problem).toMatchObject({ code: 'INPUT', message: expect.stringContaining('The pack does not hold, so nothing in it is believed') });
    expect(await importing(file)).toMatchObject({ calibrationVersion: null, problem: { code: 'INPUT', message: expect.stringContaining('was changed') } });
    const { id: noPack } = await storeFile(far.as('RESEARCHER'), 'note.txt', Buffer.from('no pack at all'), 'DOCUMENT');
    expect((await importing(noPack)).problem).toMatchObject({ code: 'INPUT' });
  });
});

it('a curve with leaf effects reads elsewhere as at home, with its promise for a new leaf', async () => {
  // Of a lineage of its own: a newer version of the other would supersede it.
  const [calibrationId, curveId] = [newId(), newId()];
  await record(giver.as('RESEARCHER'), 'recordCalibration', 'RecordCalibrationInput', { id: calibrationId, label: 'Fig, a curve', cropId: dried.bench.cropId });
  await record(giver.as('RESEARCHER'), 'fitCalibration', 'FitCalibrationInput', { id: curveId, calibrationId, family: 'EXPONENTIAL', dryingRunIds: [dried.run.dryingRunId] });
  await sign(giver.as('FIELD_ENGINEER'), 'calibration_version', curveId, 'REVIEWED');
  await sign(giver.as('MANAGER'), 'calibration_version', curveId, 'APPROVED');
  const { share: { id: shareId } } = await share({ calibrationVersionId: curveId });
  await grant(shareId, { labIds: [taker.labId] });
  const { statement } = (await sharedWith(taker)).find(({ id }) => id === shareId);
  expect(statement.validation.newLeafHalfWidthPoints).toBeGreaterThan(5);
  expect(statement.validation.leaveOneLeafOutPoints).toBeGreaterThan(1);
  const { calibrationVersion: made, problem } = await adopt(taker, { shareId });
  expect(problem).toBeNull();
  const asked = 'query ($id: UUID!) { calibrationVersion(id: $id) { hasLeafEffects rwcAt(transmittance: 0.18) { rwc newLeafLow newLeafHigh } } }';
  const [there, home] = [await taker.as('RESEARCHER').ask<any>(asked, { id: made.id }), await giver.as('RESEARCHER').ask<any>(asked, { id: curveId })];
  expect(there.calibrationVersion).toEqual(home.calibrationVersion);
  expect(there.calibrationVersion).toMatchObject({ hasLeafEffects: true, rwcAt: { newLeafLow: expect.any(Number) } });
  const { recompute } = await taker.as('AUDITOR').ask<any>('query ($id: UUID!) { recompute(kind: "calibration_version", id: $id) { same } }', { id: made.id });
  expect(recompute.same).toBe(true);
});

it('a fact amended by the giver asks at the taker, a grant taken back asks too, and both need a reason', async () => {
  const [weighingId] = dried.run.weighingIds[0]!.slice(2);
  await record(giver.as('TECHNICIAN'), 'retract', 'RetractInput', { id: newId(), targetKind: 'weighing', targetId: weighingId, reasonCode: 'WRONG_DISC', reason: 'The neighbour was on the pan' });
  expect((await sharedWith(taker)).find(({ id }) => id === summaryId).standing).toMatchObject({ state: 'APPROVED', stale: true, reason: 'The neighbour was on the pan' });
  await record(giver.as('MANAGER'), 'withdrawGrant', 'WithdrawGrantInput', { id: newId(), grantId: summaryGrantId, reason: 'Licence under review' });
  expect((await sharedWith(taker)).map(({ id }) => id)).not.toContain(summaryId);
  const { certificate, objections } = await issue(taker.as('FIELD_ENGINEER'));
  expect(certificate).toBeNull();
  expect(objections.map(({ code }: any) => code)).toEqual(expect.arrayContaining(['ORIGIN_STALE', 'ORIGIN_GRANT_ENDED']));
  expect((await issue(taker.as('FIELD_ENGINEER'), { overrideReason: 'Trial on one tree, both labs know' })).certificate).not.toBeNull();
});

it('withdrawn by the giver, it carries no new certificate at the taker, whatever the reason', async () => {
  await sign(giver.as('MANAGER'), 'calibration_version', versionId, 'WITHDRAWN', 'The lamp had aged');
  const { calibrationVersion } = await taker.as('RESEARCHER').ask<any>('query ($id: UUID!) { calibrationVersion(id: $id) { state origin { standing { state reason } } } }', { id: adoptedId });
  expect(calibrationVersion).toEqual({ state: 'WITHDRAWN', origin: { standing: { state: 'WITHDRAWN', reason: 'The lamp had aged' } } });
  expect((await issue(taker.as('FIELD_ENGINEER'), { overrideReason: 'All the same' })).problem).toMatchObject({ code: 'STATE' });
  expect(await noticeLike(taker.as('RESEARCHER'), 'Fig lab withdrew Fig on rig A version 1')).toContain('The lamp had aged');
  expect(await noticeLike(taker.as('AUDITOR'), 'Fig lab withdrew')).toContain('No new certificate can rest on it');
  expect((await notices(third.as('RESEARCHER'))).join()).not.toContain('withdrew');
  expect((await adopt(taker, { shareId: rawId })).problem).toMatchObject({ code: 'STATE', message: 'Fig lab withdrew this version: The lamp had aged.' });
});

it('is the same again from the pack that was kept', async () => {
  const { recompute } = await taker.as('AUDITOR').ask<any>('query ($id: UUID!) { recompute(kind: "calibration_version", id: $id) { same steps { kind same } } }', { id: adoptedId });
  expect(recompute).toEqual({ same: true, steps: [{ kind: 'calibration_version', same: true }] });
});

it('stands in both ledgers, each entry in its place', async () => {
  for (const lab of [giver, taker]) {
    await server.served.settleLedger(lab.labId);
    const { ledger } = await lab.as('AUDITOR').ask<any>('{ ledger(first: 5) { nodes { place } } }');
    expect(ledger.nodes.every(({ place }: any) => place !== null)).toBe(true);
  }
});
