import { record } from '../support/chain.js';
import { newId, startTestServer, type Client, type TestLab, type TestServer } from '../support/lab.js';
import { PIXEL, storeFile } from '../support/stored-file.js';
import { fillLab, longitudeByDay, sign, type FilledLab } from '../support/whole-chain.js';

let server: TestServer;
let lab: TestLab;
let stranger: TestLab;
let filled: FilledLab;
let engineer: Client;

const RULE = {
  zone: 'N2', latitude: '48.2', longitude: longitudeByDay(), needed: 1, windows: 1, hoursAroundNoon: '12', maxAgeHours: '8760', silentAfterHours: '6', minHealthy: 1,
  lockoutHours: '24', rainHoldMm: '5', rainHoldHours: '24', basis: 'Invented for this test.',
};
const ago = (minutes: number): string => new Date(Date.now() - minutes * 60_000).toISOString();
const PROBLEM = 'problem { code field message remedy }';
const report = (observedAt: string, latched: boolean, more: object = {}): any => ({ id: newId(), installationId: filled.installationId, observedAt, latched, source: 'LOGGER', rawLine: `U-701;${latched ? 1 : 0}`, ...more });

const sendReports = async (inputs: readonly object[], client = engineer): Promise<any[]> =>
  (await client.ask<any>(`mutation ($inputs: [RecordFieldReportInput!]!) { recordFieldReports(inputs: $inputs) { fieldReport { id latched } replayed ${PROBLEM} } }`, { inputs })).recordFieldReports;

const zone = async (client = engineer): Promise<any> =>
  (await client.ask<any>('{ zone(name: "N2") { installed tripped silent rule { id version state } rules { version } standing { advice votes healthy reasons units { tripped votes silent remark installation { id state } } } } }')).zone;

beforeAll(async () => {
  server = await startTestServer();
  lab = await server.openLab('Field lab');
  stranger = await server.openLab('Stranger lab');
  filled = await fillLab(lab);
  engineer = lab.as('FIELD_ENGINEER');
});

afterAll(() => server.close());

describe('a rule of a zone', () => {
  it('speaks only once two others have signed it', async () => {
    const id = newId();
    await record(engineer, 'recordZoneRule', 'RecordZoneRuleInput', { id, ...RULE });
    expect(await zone()).toMatchObject({ installed: 1, rule: null, rules: [{ version: 1 }], standing: null });
    await expect(sign(engineer, 'zone_rule', id, 'REVIEWED')).rejects.toThrow('SEPARATION_OF_DUTIES');
    await sign(lab.as('RESEARCHER'), 'zone_rule', id, 'REVIEWED');
    expect((await zone()).rule).toBeNull();
    await sign(lab.as('MANAGER'), 'zone_rule', id, 'APPROVED');
    expect((await zone()).rule).toMatchObject({ id, version: 1, state: 'APPROVED' });
  });

  it('that cannot be is refused by field', async () => {
    const refused = (changes: object) => record(engineer, 'recordZoneRule', 'RecordZoneRuleInput', { id: newId(), ...RULE, ...changes });
    await expect(refused({ windows: 0 })).rejects.toThrow('INPUT windows');
    await expect(refused({ windows: 3, maxAgeHours: '24' })).rejects.toThrow('INPUT maxAgeHours');
    await expect(refused({ latitude: '91' })).rejects.toThrow('INPUT latitude');
    await expect(refused({ basis: ' ' })).rejects.toThrow('INPUT basis');
    await expect(refused({ rainHoldMm: '-1' })).rejects.toThrow('INPUT rainHoldMm');
  });
});

describe('what a logger sends', () => {
  it('stands or falls one by one: good, doubled, too early, from the future, out of order, of another lab', async () => {
    const good = report(ago(30), false);
    const answers = await sendReports([
      good, good, report('2020-01-01T00:00:00Z', true), report(ago(-60), true), report(ago(90), false), report(ago(20), true, { installationId: newId() }), { ...good, latched: true }, report(ago(25), false, { lightPowerNw: '-3' }),
    ]);
    expect(answers.map(({ fieldReport, replayed, problem }) => problem?.field ?? (replayed ? 'replayed' : fieldReport.latched))).toEqual([
      false, 'replayed', 'observedAt', 'observedAt', false, 'installationId', 'latched', 'lightPowerNw',
    ]);
    expect((await zone()).tripped).toBe(0); // the newest word of the unit counts, not the last to arrive
  });

  it('trips in bulk are kept once, late ones too', async () => {
    const trip = { id: newId(), installationId: filled.installationId, trippedAt: ago(15), seenAt: ago(14), source: 'LOGGER', lightPowerNw: '480', rawLine: 'U-701;TRIP;480' };
    const ask = async (inputs: object[]): Promise<any[]> => (await engineer.ask<any>(`mutation ($inputs: [RecordTripInput!]!) { recordTrips(inputs: $inputs) { trip { id rawLine inferredRwc } replayed ${PROBLEM} } }`, { inputs })).recordTrips;
    const [first, again, wrong] = await ask([trip, trip, { ...trip, id: newId(), trippedAt: ago(10), seenAt: ago(12) }]);
    expect(first).toMatchObject({ trip: { rawLine: 'U-701;TRIP;480' }, replayed: false, problem: null });
    expect(again.replayed).toBe(true);
    expect(wrong.problem.field).toBe('trippedAt');
    const standing = (await zone()).standing;
    // The decision of the chain irrigated half a year ago; the lockout is long over.
    expect(standing).toMatchObject({ advice: 'IRRIGATE', votes: 1, healthy: 1, units: [{ tripped: true, votes: true, silent: false, installation: { id: filled.installationId, state: 'TRIPPED' } }] });
  });

  it('more than the cap at once is refused whole', async () => {
    const { errors } = await engineer.answer<any>(`mutation ($inputs: [RecordFieldReportInput!]!) { recordFieldReports(inputs: $inputs) { replayed } }`, { inputs: Array.from({ length: 501 }, () => report(ago(3), false)) });
    expect(errors?.[0]?.message).toContain('at most 500');
  });
});

describe('advice and decision', () => {
  let adviceId: string;

  it('is frozen with what it looked at, and follows again from it', async () => {
    adviceId = newId();
    const { zoneAdvice } = await record(engineer, 'adviseZone', 'AdviseZoneInput', { id: adviceId, zone: 'N2' }, 'zoneAdvice { id standing { advice } rule { version } stale }');
    expect(zoneAdvice).toMatchObject({ standing: { advice: 'IRRIGATE' }, rule: { version: 1 }, stale: false });
    const { recompute } = await lab.as('AUDITOR').ask<any>('query ($id: UUID!) { recompute(kind: "zone_advice", id: $id) { same steps { kind same differences { path } } } }', { id: adviceId });
    expect(recompute.steps.find(({ kind }: any) => kind === 'zone_advice')).toMatchObject({ same: true, differences: [] });
  });

  it('is not for a zone without an approved rule', async () => {
    await expect(record(engineer, 'adviseZone', 'AdviseZoneInput', { id: newId(), zone: 'Nowhere' })).rejects.toThrow('STATE zone');
  });

  it('who goes against it says why, and the Thread shows it', async () => {
    const decision = { id: newId(), decidedAt: ago(1), zone: 'N2', action: 'HOLD', reason: 'Harvest is tomorrow.', tripIds: [], zoneAdviceId: adviceId };
    await expect(record(engineer, 'recordDecision', 'RecordDecisionInput', decision)).rejects.toThrow('INPUT overrode');
    await expect(record(engineer, 'recordDecision', 'RecordDecisionInput', { ...decision, zone: 'N3' })).rejects.toThrow('INPUT zoneAdviceId');
    await record(engineer, 'recordDecision', 'RecordDecisionInput', { ...decision, overrode: 'The rule asked for water.' });
    const { thread } = await lab.as('AUDITOR').ask<any>('query ($id: UUID!) { thread(kind: "decision", id: $id, direction: DOWN) { root { remarks { code message } } nodes { kind } } }', { id: decision.id });
    expect(thread.root.remarks).toEqual([expect.objectContaining({ code: 'OVERRODE', message: 'Decided against: The rule asked for water.' })]);
    const kinds = new Set(thread.nodes.map(({ kind }: any) => kind));
    for (const kind of ['zone_advice', 'zone_rule', 'trip', 'field_report', 'installation', 'threshold_certificate', 'weighing']) expect(kinds).toContain(kind);
    await record(engineer, 'recordDecisionOutcome', 'RecordDecisionOutcomeInput', { id: newId(), decisionId: decision.id, observedAt: ago(0), verdict: 'RIGHT', seen: 'Turgid at noon.' });
    await expect(record(engineer, 'recordDecisionOutcome', 'RecordDecisionOutcomeInput', { id: newId(), decisionId: decision.id, observedAt: ago(100), verdict: 'RIGHT', seen: 'x' })).rejects.toThrow('INPUT observedAt');
  });

  it('goes stale when a trip that it counted is retracted', async () => {
    const { installation } = await engineer.ask<any>('query ($id: UUID!) { installation(id: $id) { trips { id source } } }', { id: filled.installationId });
    const trip = installation.trips.find(({ source }: any) => source === 'LOGGER');
    await record(engineer, 'retract', 'RetractInput', { id: newId(), targetKind: 'trip', targetId: trip.id, reasonCode: 'OTHER', reason: 'The logger was being tested.' });
    const { zoneAdvice } = await engineer.ask<any>('query ($id: UUID!) { zoneAdvice(id: $id) { stale } }', { id: adviceId });
    expect(zoneAdvice.stale).toBe(true);
    expect((await zone()).standing).toMatchObject({ advice: 'NONE', votes: 0 });
  });
});

describe('the state of a unit', () => {
  it('opens with a reset, not with one that failed', async () => {
    await sendReports([report(ago(5), true)]);
    const reset = (opened: boolean, minutes: number) => record(engineer, 'recordLatchReset', 'RecordLatchResetInput', { id: newId(), installationId: filled.installationId, observedAt: ago(minutes), opened });
    await reset(false, 4);
    expect((await zone()).tripped).toBe(1);
    expect((await engineer.ask<any>('{ fieldMarks { unitLabel zone state silent } }')).fieldMarks).toEqual([{ unitLabel: 'U-701', zone: 'N2', state: 'TRIPPED', silent: false }]);
    await reset(true, 3);
    expect(await zone()).toMatchObject({ tripped: 0, standing: { units: [{ tripped: false, installation: { state: 'ARMED' } }] } });
  });

  it('silence is told and never read as wet', async () => {
    const second = newId();
    await record(engineer, 'recordZoneRule', 'RecordZoneRuleInput', { id: second, ...RULE, silentAfterHours: '0.01' });
    await sign(lab.as('RESEARCHER'), 'zone_rule', second, 'REVIEWED');
    await sign(lab.as('MANAGER'), 'zone_rule', second, 'APPROVED');
    expect(await zone()).toMatchObject({ silent: 1, rule: { version: 2 }, standing: { advice: 'LOOK', healthy: 0 } });
  });

  it('ends once, with a reason', async () => {
    const end = () => record(engineer, 'endInstallation', 'EndInstallationInput', { id: newId(), installationId: filled.installationId, observedAt: ago(1), reason: 'Leaf shed.' });
    await end();
    await expect(end()).rejects.toThrow('STATE installationId');
    expect(await zone()).toMatchObject({ installed: 0, tripped: 0, silent: 0 });
    const { installation } = await engineer.ask<any>('query ($id: UUID!) { installation(id: $id) { state ended { reason } resets { opened } reports { latched } } }', { id: filled.installationId });
    expect(installation).toMatchObject({ state: 'REMOVED', ended: { reason: 'Leaf shed.' }, resets: [{ opened: true }, { opened: false }] });
  });
});

describe('a replay', () => {
  it('knows at each moment only what was known then', async () => {
    const { zone: found } = await engineer.ask<any>('{ zone(name: "N2") { rules { id version } } }');
    const first = found.rules.find(({ version }: any) => version === 1).id;
    const ask = async (known: string): Promise<any> => (await engineer.ask<any>(
      `query ($id: UUID!, $from: Moment!, $until: Moment!, $known: KnownBy) { replayZoneRule(zoneRuleId: $id, from: $from, until: $until, everyMinutes: 60, known: $known) { irrigate wait look none changes { advice at } decisions { action } } }`,
      { id: first, from: '2026-06-08T00:00:00Z', until: '2026-06-12T00:00:00Z', known },
    )).replayZoneRule;
    // Seen on 9 June, written down today: by the record the rule was blind then.
    expect(await ask('SEEN')).toMatchObject({ decisions: [{ action: 'IRRIGATE' }], changes: expect.arrayContaining([expect.objectContaining({ advice: 'IRRIGATE' })]) });
    expect(await ask('RECORDED')).toMatchObject({ irrigate: 0 });
    const { errors } = await engineer.answer<any>('query ($id: UUID!) { replayZoneRule(zoneRuleId: $id, from: "2026-06-08T00:00:00Z", until: "2026-07-08T00:00:00Z", everyMinutes: 1) { none } }', { id: first });
    expect(errors?.[0]).toMatchObject({ message: expect.stringContaining('at most 5000'), extensions: { problem: { code: 'INPUT', field: 'everyMinutes' } } });
  });
});

describe('the plan of a site', () => {
  it('is a picture between its edges', async () => {
    const { id: file } = await storeFile(engineer, 'plan.png', PIXEL, 'PLAN');
    const plan = { id: newId(), site: 'North block', storedFileId: file, northDeg: '48.201', southDeg: '48.199', westDeg: '11.499', eastDeg: '11.501' };
    await record(engineer, 'recordSitePlan', 'RecordSitePlanInput', plan);
    await expect(record(engineer, 'recordSitePlan', 'RecordSitePlanInput', { ...plan, id: newId(), northDeg: '48.1' })).rejects.toThrow('INPUT northDeg');
    const { id: text } = await storeFile(engineer, 'plan.txt', Buffer.from('no picture'), 'PLAN');
    await expect(record(engineer, 'recordSitePlan', 'RecordSitePlanInput', { ...plan, id: newId(), storedFileId: text })).rejects.toThrow('INPUT storedFileId');
    expect((await engineer.ask<any>('{ sitePlans { site file { url } } }')).sitePlans).toEqual([{ site: 'North block', file: { url: expect.stringContaining('/files/') } }]);
  });
});

describe('field checks', () => {
  it('come back as realised against predicted RWC, by group', async () => {
    // The chain's trip at 480 to 500 nW inferred some RWC; the discs of its run began at 97 %.
    await record(engineer, 'recordFieldCheck', 'RecordFieldCheckInput', { id: newId(), installationId: filled.installationId, observedAt: '2026-06-09T17:00:00Z', discIds: filled.run.discIds.slice(0, 2) });
    const ask = async (by: string): Promise<any> => (await engineer.ask<any>(
      'query ($by: AgreementGroup!) { fieldAgreement(by: $by) { subject { kind label } count inside bias tail verdict checks { predictedRwc realisedRwc low high discCount trip { inferredRwc } fieldCheck { id } } } }', { by },
    )).fieldAgreement;
    const [all, ...more] = await ask('ALL');
    expect(more).toEqual([]);
    expect(all).toMatchObject({ subject: null, count: 1, verdict: 'TOO_FEW', checks: [{ discCount: 2 }] });
    const [check] = all.checks;
    expect(check.realisedRwc).toBeCloseTo(0.97, 2);
    expect(check.predictedRwc).toBe(check.trip.inferredRwc);
    expect(all.bias).toBeCloseTo(check.realisedRwc - check.predictedRwc, 12);
    expect(all.inside).toBe(check.realisedRwc >= check.low && check.realisedRwc <= check.high ? 1 : 0);
    expect((await ask('CROP'))[0].subject).toEqual({ kind: 'crop', label: 'Fig' });
    expect((await ask('UNIT'))[0].subject).toMatchObject({ label: 'U-701' });
  });
});

describe('another lab', () => {
  it('sees nothing of it', async () => {
    const other = stranger.as('MANAGER');
    const { zone: found } = await engineer.ask<any>('{ zone(name: "N2") { rules { id } } }');
    expect(await other.ask<any>('query ($id: UUID!) { zones { name } zoneRule(id: $id) { id } sitePlans { site } fieldMarks { zone } fieldAgreement { count } }', { id: found.rules[0].id })).toEqual({ zones: [], zoneRule: null, sitePlans: [], fieldMarks: [], fieldAgreement: [] });
    const { errors } = await other.answer<any>('query ($id: UUID!) { zoneRuleRisk(zoneRuleId: $id, wetRwc: 0.9, dryRwc: 0.6) { falseCall } }', { id: found.rules[0].id });
    expect(errors?.[0]).toMatchObject({ extensions: { problem: { code: 'NOT_FOUND', field: 'zoneRuleId' } } });
  });
});
